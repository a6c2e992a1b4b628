"""Drip holes with no way out: turned into solid foam, glass, sand or a clip."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator

import numpy as np

from layout3d.checks.base import Findings, rule
from layout3d.checks.measure import judged, limit, missing, runs, worded
from layout3d.model.model import Model
from layout3d.parts.base import Body, Vector, vector
from layout3d.parts.run_data import DripHole, Element
from layout3d.solid.contain import inside

FACETS = 2e-4
"""What a round channel drawn with flat sides may take of the way, [m]."""


@rule("drip-hole-blocked", asks="Each drip hole has a free way straight out.", limits=("drip_hole_way",))
def drip_holes_blocked(model: Model) -> Findings:
    """Find drip holes that face something too near, told together for each pipe and what blocks it."""
    wanted = limit(model, "drip_hole_way")
    for name, run in runs(model):
        for element in run.elements:
            blocked: dict[str, list[tuple[float, Vector]]] = defaultdict(list)
            for hole, way, body in _ways(model, element, wanted):
                if missing(way, wanted - FACETS):
                    blocked[body].append((way, hole.at))
            for body, found in sorted(blocked.items()):
                way, where = min(found)
                holes = f"{len(found)} of {len(element.holes)} drip holes"
                verb = "face" if len(found) > 1 else "faces"
                free = worded(way, "{} from the pipe", "that lies right on the pipe")
                yield from judged(
                    model,
                    way,
                    "drip_hole_way",
                    parts=(element.body, body),
                    at=where,
                    says=f"{holes if len(element.holes) > 1 else 'the drip hole'} of {element.body} {verb} "
                    f"{body}, {free}",
                    remedy=f"turn the holes of {name} (`angles:`), or cut {body} away in front of them",
                )


def _ways(model: Model, element: Element, reach: float) -> Iterator[tuple[DripHole, float, str]]:
    """Return each hole whose way is blocked within ``reach``, its free way, [m], and what blocks it."""
    if not element.holes:
        return
    ends = np.array([np.add(hole.at, np.multiply(reach, hole.direction)) for hole in element.holes])
    starts = np.array([hole.at for hole in element.holes])
    low = np.minimum(starts, ends).min(axis=0)
    high = np.maximum(starts, ends).max(axis=0)
    near = [
        body
        for body in model.near(vector(low), vector(high))
        if body.name != element.body and body.kind != "foliage"
    ]
    for hole in element.holes:
        found = [(free_way(body, hole, reach), body.name) for body in near]
        way, name = min(found, default=(reach, ""))
        if way < reach:
            yield hole, way, name


def free_way(body: Body, hole: DripHole, reach: float) -> float:
    """Return how far a straight way out of a hole is free of a body, at most ``reach``, [m].

    The way begins a hair off the pipe: what is cut around the pipe touches it.
    """
    start = np.array(hole.at) + 1e-5 * np.array(hole.direction)
    if inside(body.solid, start[None])[0]:
        return 0.0
    end = np.array(hole.at) + reach * np.array(hole.direction)
    hits = body.solid.manifold.ray_cast(vector(start), vector(end))
    return float(np.linalg.norm(np.array(hits[0].position) - hole.at)) if hits else reach
