"""Lights and air pumps that hang into the water, or that it rises to, splashes at or comes down on."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from layout3d.checks.base import Finding, rule
from layout3d.checks.flow_words import blocked
from layout3d.checks.in_water import CURRENT, water_around
from layout3d.checks.measure import farthest, judged, length, worded
from layout3d.checks.thrown import falls_on, jets
from layout3d.model.model import Model
from layout3d.outage.outages import outages
from layout3d.parts.base import Body

__all__ = ["stays_dry"]


@rule(
    "stays-dry",
    asks="Lights and air pumps stay above the water, also with a drain blocked, and nothing drips on them.",
    caution=CURRENT,
    limits=("light_over_water",),
)
def stays_dry(model: Model) -> Iterator[Finding]:
    """Find lights and air pumps in or near the water, also with a drain blocked, or under falling water."""
    dry = (*model.lights, *(pump for pump in model.pumps if pump.part.air))
    if dry:
        yield from _rained_on(model, tuple(body for built in dry for body in built.bodies))
        yield from _drowned(model, tuple(body for built in dry for body in built.bodies))
    for built in dry:
        for body in built.bodies:
            # a light counts as of the room, yet hangs over the tank
            hangs = body.where == "room" and _over_tank(model, body)
            water = (model.waterline, "the waterline") if hangs else water_around(model, body)
            if water is None:
                continue
            lowest = farthest(body.solid.vertices, (0.0, 0.0, -1.0))
            over = lowest[2] - water[0]
            how = worded(over, "hangs {} over", "reaches {} below")
            yield from judged(
                model,
                over,
                "light_over_water",
                0.0,
                parts=(built.part.name,),
                at=lowest,
                says=f"{built.part.name} {how} {water[1]}",
                remedy=f"raise {built.part.name} by {{short}}",
            )


def _rained_on(model: Model, bodies: tuple[Body, ...]) -> Iterator[Finding]:
    """Find what a jet or a drop comes down on, each once."""
    told = set()
    for jet in jets(model):
        hit = falls_on(model, jet, bodies)
        if hit is None or hit.part in told:
            continue
        told.add(hit.part)
        yield Finding(
            parts=(hit.part, jet.part),
            at=jet.start,
            message=f"water from {'the ' if jet.of > 1 else ''}{jet.words} comes down on {hit.part}",
            remedy=f"move {hit.part} out from under it, or lead {jet.part} elsewhere",
        )


def _drowned(model: Model, bodies: tuple[Body, ...]) -> Iterator[Finding]:
    """Find what a blocked drain lets the tank's water rise to, each once."""
    found = outages(model)
    if found is None or not found.circuit.drains:
        return
    event = max(found.blocked[:-1] or found.blocked, key=lambda event: event.tank_level.high)
    level = event.tank_level.high
    for part in dict.fromkeys(body.part for body in bodies if _over_tank(model, body)):
        lowest = farthest(
            np.vstack([body.solid.vertices for body in bodies if body.part == part]), (0.0, 0.0, -1.0)
        )
        if not model.waterline <= lowest[2] < level:
            continue
        yield Finding(
            parts=(part,),
            measured=lowest[2] - level,
            limit=0.0,
            at=lowest,
            message=f"with {blocked(event.subject)} blocked the water rises to {length(level)} over the "
            f"floor of {model.tank_name}, and {length(level - lowest[2])} over the lower edge of {part}",
            remedy=f"raise {part} by {length(level - lowest[2])} or more, or fill the return chamber less",
        )


def _over_tank(model: Model, body: Body) -> bool:
    """Tell whether any corner of a body is over the tank's inside, above its floor."""
    points = body.solid.vertices
    return bool(((model.tank.room(points) >= 0) & (points[:, 2] >= 0)).any())
