"""Heaters, mist makers and pumps that are not under water: they burn out, or draw air."""

from __future__ import annotations

from collections.abc import Iterator

from layout3d.checks.base import Finding, rule
from layout3d.checks.in_water import CURRENT, water_around
from layout3d.checks.measure import farthest, judged, worded
from layout3d.model.model import Model
from layout3d.parts.base import Body, Built, Part, Vector, vector

__all__ = ["under_water"]


@rule(
    "under-water",
    asks="Heaters, mist makers and the inlets of pumps stay under water.",
    caution=CURRENT,
    limits=("water_cover",),
)
def under_water(model: Model) -> Iterator[Finding]:
    """Find equipment that works under water and stands out of it, or in none."""
    pumps = [pump for pump in model.pumps if not pump.part.air]
    for built in (*model.heaters, *model.mist_makers, *pumps):
        for body in built.bodies:
            water = water_around(model, body)
            if water is None:
                yield Finding(
                    parts=(built.part.name,),
                    at=vector(body.solid.centroid),
                    message=f"{built.part.name} stands in no water: neither in the tank nor in a sump",
                    remedy=f"put {built.part.name} into the tank or a compartment (`in: sump.name`)",
                )
            else:
                yield from _judge(model, built, body, *water)


def _judge(
    model: Model, built: Built[Part, object], body: Body, level: float, water: str
) -> Iterator[Finding]:
    what, place = _to_cover(built, body)
    cover = level - place[2]
    how = worded(cover, "is {} under", "is {} above", "is at")
    yield from judged(
        model,
        cover,
        "water_cover",
        0.0,
        parts=(built.part.name,),
        at=place,
        says=f"{what} of {built.part.name} {how} {water}",
        remedy=f"set {built.part.name} {{short}} lower, or raise the water",
    )


def _to_cover(built: Built[Part, object], body: Body) -> tuple[str, Vector]:
    """Return what has to be under water: a pump's inlet, else the highest point of the body."""
    if built.part.kind == "pump":
        return "the inlet", built.anchors["inlet"]
    return "the top", farthest(body.solid.vertices, (0.0, 0.0, 1.0))
