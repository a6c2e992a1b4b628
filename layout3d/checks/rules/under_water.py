"""Heaters, mist makers and pumps that are not under water: they burn out, or draw air."""

from __future__ import annotations

from collections.abc import Iterator

from layout3d.checks.base import Finding, rule
from layout3d.checks.flow_words import blocked
from layout3d.checks.in_water import CURRENT, water_around
from layout3d.checks.measure import farthest, judged, length, worded
from layout3d.model.model import Model
from layout3d.outage.outages import outages
from layout3d.outage.run_down import chamber_devices
from layout3d.parts.base import Body, Built, Part, vector

__all__ = ["under_water"]


@rule(
    "under-water",
    asks="Heaters, mist makers and the inlets of pumps stay under water, mist makers near its surface.",
    caution=CURRENT,
    limits=("water_cover", "mist_cover_most"),
)
def under_water(model: Model) -> Iterator[Finding]:
    """Find equipment that works under water and stands out of it, or is left dry by a blocked drain."""
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
    yield from _left_dry(model)


def _left_dry(model: Model) -> Iterator[Finding]:
    """Find heaters and mist makers that the pumps leave dry in the return chamber while a drain is blocked.

    Each once, by the first of the drains whose water does it, or all of them. What a stop of the pump by
    itself saves is the pump: the level falls to its inlet all the same.
    """
    found = outages(model)
    if found is None or not found.circuit.drains:
        return
    circuit = found.circuit
    chamber = circuit.sump.chamber_name
    for name, top in chamber_devices(model, circuit):
        for event in found.blocked:
            level = event.chamber_level.low
            if level >= top[2]:
                continue
            yield Finding(
                severity="warning",
                parts=(name,),
                measured=level - top[2],
                limit=0.0,
                at=top,
                message=f"with {blocked(event.subject)} blocked the pumps draw {chamber} down to "
                f"{length(level - circuit.sump.floor)} over its floor: {name} then stands up to "
                f"{length(top[2] - level)} out of the water, and works on",
                remedy=f"set {name} in a compartment that keeps its level behind a baffle, or let a float "
                "switch cut its current",
            )
            break


def _judge(
    model: Model, built: Built[Part, object], body: Body, level: float, water: str
) -> Iterator[Finding]:
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
