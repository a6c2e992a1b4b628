"""Heaters, mist makers and pumps that are not under water: they burn out, or draw air."""

from __future__ import annotations

from layout3d.checks.base import CURRENT, Finding, Findings, rule
from layout3d.checks.in_water import levels_at_stops, water_around
from layout3d.checks.measure import farthest, judged, length, worded
from layout3d.model.model import Model
from layout3d.parts.base import Body, Built, Part, vector


@rule(
    "under-water",
    asks="Heaters, mist makers and the inlets of pumps stay under water, mist makers near its surface.",
    caution=CURRENT,
    limits=("water_cover", "mist_cover_most"),
)
def under_water(model: Model) -> Findings:
    """Find equipment that works under water and stands out of it, or is left dry as pumps or drains stop."""
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
                if built not in pumps:
                    yield from _left_dry(model, built.part.name, body, *water)


def _left_dry(model: Model, part: str, body: Body, level: float, words: str, water: str) -> Findings:
    """Find a heater or mist maker that is left dry as the pumps stop, or as they run with a drain blocked.

    By the first of these. What a stop of a pump by itself saves is the pump: the level falls to its inlet all
    the same. A pump may stop by itself, while the current stays on.
    """
    top = farthest(body.solid.vertices, (0.0, 0.0, 1.0))
    if top[2] > level:
        return
    for stops, name, (least, _) in levels_at_stops(model, all_drains=True):
        if name == water and least < top[2]:
            yield Finding(
                severity="warning",
                parts=(part,),
                measured=least - top[2],
                limit=0.0,
                at=top,
                message=f"{stops} {words} falls by {length(level - least)}: {part} then stands up to "
                f"{length(top[2] - least)} out of the water, and works on",
                remedy=f"set {part} lower, in a compartment that keeps its level behind a baffle, or let a "
                "float switch cut its current",
            )
            return


def _judge(
    model: Model, built: Built[Part, object], body: Body, level: float, water: str, _name: str
) -> Findings:
    what, place = "the top", farthest(body.solid.vertices, (0.0, 0.0, 1.0))
    if built.part.kind == "pump":
        what, place = "the inlet", built.anchors["inlet"]
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
    if built.part.kind == "mist_maker":
        yield from judged(
            model,
            cover,
            "mist_cover_most",
            most=True,
            parts=(built.part.name,),
            at=place,
            says=f"{what} of {built.part.name} {how} {water}: so deep it makes no mist",
            remedy=f"set {built.part.name} {{short}} higher",
        )
