"""Lights and air pumps that hang into the water, or so low that it splashes on them."""

from __future__ import annotations

from collections.abc import Iterator

from layout3d.checks.base import Finding, rule
from layout3d.checks.in_water import CURRENT, water_around
from layout3d.checks.measure import farthest, judged, worded
from layout3d.model.model import Model

__all__ = ["stays_dry"]


@rule(
    "stays-dry",
    asks="Lights and air pumps stay above the water.",
    caution=CURRENT,
    limits=("light_over_water",),
)
def stays_dry(model: Model) -> Iterator[Finding]:
    """Find lights and air pumps in the water or too near above it."""
    for built in (*model.lights, *(pump for pump in model.pumps if pump.part.air)):
        for body in built.bodies:
            # a light counts as of the room, yet hangs over the tank
            points = body.solid.vertices
            over_tank = (model.tank.room(points) >= 0) & (points[:, 2] >= 0)
            hangs = body.where == "room" and bool(over_tank.any())
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
