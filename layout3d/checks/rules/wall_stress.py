"""Walls under water for years, tank and sump: their stress, that of holes and braces, how far they bow."""

from __future__ import annotations

import math
from collections.abc import Iterable

from layout3d.checks.base import Finding, Findings, rule
from layout3d.checks.measure import ROUNDING, judged, length, limit
from layout3d.errors import LayoutError, OutOfRange
from layout3d.glass.panes import (
    GLASS_CAUTION,
    Stressed,
    least_thickness,
    next_sheet,
    stressed,
    stressed_box,
    stressed_sump,
)
from layout3d.model.model import Model
from layout3d.outage.outages import outages
from layout3d.parts.base import Vector
from layout3d.parts.vessel import SumpData
from layout3d.units import show


@rule(
    "wall-stress",
    asks="No wall, drilled hole or brace of the tank, no wall of a sump or an overflow box and no baffle is "
    "stressed more than its glass bears for years; the tank's bottom is no thinner than its walls.",
    caution=GLASS_CAUTION,
    limits=(
        *("glass_stress", "glass_stress_most", "glass_stress_tempered", "acrylic_stress"),
        *("wall_bow", "wall_bow_most", "bottom_to_wall"),
    ),
)
def wall_stress(model: Model) -> Findings:
    """Find walls that bend too much under the bed and the water, as high as it gets where something fails."""
    tank, sumps = _highest(model)
    yield from _bottom(model)
    yield from _walls(model, stressed(model, _whole(tank)))
    for built in (*model.sumps, *model.overflow_boxes):
        name, told = built.part.name, ""
        try:
            if isinstance(built.data, SumpData):
                known, rim = sumps.get(name), built.data.rim
                level = min(rim if known is None else known, rim) - built.data.floor
                told = ", full to its rim, as it isn't known how high it gets" if known is None else ""
                walls = stressed_sump(model, name, _whole(level))
            else:
                walls = stressed_box(model, name, _whole(tank))
        except OutOfRange as error:  # the others are judged all the same
            yield Finding(
                parts=(name,),
                message=f"the walls of {name} could not be judged: {error.found}",
                remedy=str(error.remedy),
            )
        else:
            yield from _walls(model, walls, told)


def _bottom(model: Model) -> Findings:
    """Find a bottom that is thinner than every wall: how it bends hangs on what it lies on."""
    bottom, name = model.tank.panels["bottom"], f"{model.tank_name}.bottom"
    thinnest = min(wall.thickness for wall in model.tank.walls)
    yield from judged(
        model,
        bottom.thickness,
        limit(model, "bottom_to_wall") * thinnest,
        0.0,
        parts=(name,),
        at=bottom.at(bottom.length / 2.0, bottom.height / 2.0),
        says=f"{name}, which isn't computed, is of {length(bottom.thickness)} under walls of "
        f"{length(thinnest)} and more",
        told=" (limit bottom_to_wall)",
        remedy="take a bottom as thick as the walls, or ask the glass maker",
    )


def _whole(level: float) -> str:
    """Return a level in whole millimetres, so that little hangs on others."""
    return str(math.ceil(1000.0 * (level - ROUNDING)))


def _walls(model: Model, walls: Iterable[Stressed], told: str = "") -> Findings:
    for one in walls:
        name, parts = one.name, (one.body,)
        side = " on one side, with none on the other" if one.between else told
        water = f"under {length(one.water)} of water{side}"
        thicker = _thicker(model, one)
        yield from _judged(model, one, one.stress, parts, one.at, f"{name} bends {water}", thicker)
        for hole, stress in one.holes.items():
            at = model.tank.holes[hole].at
            says = f"{hole} weakens {name}, which bends {water}: at its edge"
            yield from _judged(
                model, one, stress, (hole, name), at, says, f"drill {hole} elsewhere, or {thicker}"
            )
        brace = f"{model.tank_name}.perimeter_brace"
        says = f"{brace} holds {name} {water}, and is bent itself"
        yield from _judged(
            model, one, one.strip, (brace, name), one.at, says, "make the brace wider, or tie it across"
        )
        if not one.between:  # one that bows within the water breaks no seam of the outside
            yield from judged(
                model,
                one.bow,
                limit(model, "wall_bow") * one.length,
                limit(model, "wall_bow_most") * one.length,
                most=True,
                parts=parts,
                at=one.at,
                says=f"{name} bows {length(one.bow)} {water}",
                told=" (limit wall_bow)",
                remedy=f"brace its top edge, or {thicker}",
            )


def _highest(model: Model) -> tuple[float, dict[str, float]]:
    """Return how high water gets in the tank and in sumps by name, also where something fails, z [m].

    A sump is left out where it isn't known.
    """
    levels, sumps = [model.waterline], {}
    try:
        found = outages(model)
    except LayoutError:  # which other rules tell: here the waterline is judged all the same
        found = None
    if found is not None:
        levels += [max(event.tank_levels) for event in found.events]
        sump = found.circuit.sump
        rooms = [*(room.water_z for room in sump.data.compartments)]
        rooms += [room.level.high for room in found.circuit.compartments]
        sumps[sump.name] = max(*rooms, *(max(event.chamber_levels) for event in found.events))
    return min(max(levels), model.tank.rim), sumps


def _judged(
    model: Model, one: Stressed, stress: float, parts: tuple[str, ...], at: Vector, says: str, remedy: str
) -> Findings:
    """Tell a stress past what this wall's material bears."""
    if one.acrylic:
        wanted, least = "acrylic_stress", "acrylic_stress"
    elif one.tempered:
        wanted, least = "glass_stress_tempered", "glass_stress_tempered"
    else:
        wanted, least = "glass_stress", "glass_stress_most"
    return judged(
        model,
        stress,
        wanted,
        least,
        kind="pressure",
        most=True,
        digits=3,
        parts=parts,
        at=at,
        says=f"{says} by {show(stress, 'pressure', digits=3)}",
        remedy=remedy,
    )


def _thicker(model: Model, one: Stressed) -> str:
    """Return in words how thick the wall would have to be: stress goes by the thickness squared."""
    if one.acrylic or one.tempered:
        return "make the wall thicker"
    worst = max(one.stress, *one.holes.values(), 0.0)
    least = least_thickness(one.thickness) * (worst / limit(model, "glass_stress")) ** 0.5
    sheet = next_sheet(least)
    return "lower the water" if sheet is None else f"take glass of {length(sheet)}"
