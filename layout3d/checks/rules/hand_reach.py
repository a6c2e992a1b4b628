"""Nuts, valves and unions that no hand gets to in the finished tank."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from layout3d.checks.base import Findings, rule
from layout3d.checks.measure import judged, length, limit, runs
from layout3d.fittings.registry import fittings
from layout3d.model.around import around_body
from layout3d.model.model import Model
from layout3d.parts.base import Body, vector
from layout3d.shop.access import WAYS, arm_reaches, hidden_by
from layout3d.shop.task import SOFT

STEPS = 6  # widths that are tried between the two limits
LATER = ("light",)
"""Kinds that are taken off before somebody reaches into the tank."""


@rule(
    "hand-reach",
    asks="A hand and its forearm get to each valve, union and bulkhead nut in the finished tank.",
    limits=("buried_share_least", "grip_to_wrist", "hand_access", "hand_access_least"),
    follows=("buried-valve",),
)
def hand_reach(model: Model) -> Findings:
    """Find what no hand gets to, by a straight way up to its wrist and another for the arm behind it.

    What is foamed in or hidden behind a slab is left to ``buried-valve``, a nut there to the build order.
    """
    wrist = limit(model, "grip_to_wrist")
    wide, least = limit(model, "hand_access"), limit(model, "hand_access_least")
    hidden = {name for built in model.backgrounds for name in hidden_by(model, built)}
    hard = [body for body in model.bodies if body.kind not in (*SOFT, *LATER)]
    for body, does, ends in _for_hands(model):
        covered = around_body(model, body).share > limit(model, "buried_share_least")
        if body.name in hidden or covered:
            continue
        others = [other.solid for other in hard if other is not body]
        widths = np.linspace(wide, least, STEPS).tolist()
        found = next(
            (
                width
                for width in widths
                if any(arm_reaches(centre, size, others, width=width, wrist=wrist) for centre, size in ends)
            ),
            0.0,
        )
        says = f"the way for a hand to {does} {body.name} is {length(found)} wide: {{miss}}"
        none = f"no way for a flat hand to {does} {body.name} was found in {WAYS} directions: {{miss}}"
        yield from judged(
            model,
            found,
            "hand_access",
            "hand_access_least",
            parts=(body.name,),
            at=vector(ends[0][0]),
            says=says if found else none,
            remedy=f"move {body.name} to where a hand gets, or what stands around it away",
        )


def _for_hands(model: Model) -> Iterator[tuple[Body, str, list[tuple[np.ndarray, float]]]]:
    """Yield what a hand has to get to: a body, what is done there, and where, with half its width, [m]."""
    for _, run in runs(model):
        for element in run.elements:
            made = fittings().get(element.kind)
            if made is not None and made.hand:
                body = model.body(element.body)
                middle = (body.solid.bounds[0] + body.solid.bounds[1]) / 2.0
                ends = [(middle, float(np.ptp(body.solid.bounds, axis=0).min()) / 2.0)]
                if made.hand == "turn":  # by the lever or wheel: what stands out farthest from the pipe
                    start, end = (np.array(place) for place in (element.path[0], element.path[-1]))
                    along = (end - start) / np.linalg.norm(end - start)
                    out = body.solid.vertices - start
                    out = np.linalg.norm(out - np.outer(out @ along, along), axis=1)
                    ends.append((body.solid.vertices[out >= out.max() - 0.005].mean(axis=0), 0.0))
                yield body, made.hand, ends
    for hole in model.tank.holes.values():
        if hole.bulkhead:
            body = model.body(f"{model.tank_name}.{hole.name}")
            side = "outside" if hole.flange == "inside" else "inside"
            port = model.ports[f"{body.name}.{side}"]
            # the nut lies between the pane and the port's face
            nut = np.array(port.at) - 0.5 * port.depth * np.array(port.direction)
            across = float(np.sort(np.ptp(body.solid.bounds, axis=0))[1]) / 2.0
            yield body, "tighten", [(nut, across)]
