"""The tank's walls under water for years: their stress, that of holes and braces, and how far they bow."""

from __future__ import annotations

import math

from layout3d.checks.base import Findings, rule
from layout3d.checks.measure import ROUNDING, judged, length, limit
from layout3d.errors import LayoutError
from layout3d.glass.panes import GLASS_CAUTION, Stressed, least_thickness, next_sheet, stressed
from layout3d.model.model import Model
from layout3d.outage.outages import outages
from layout3d.parts.base import Vector
from layout3d.units import show


@rule(
    "wall-stress",
    asks="No wall, drilled hole or brace of the tank is stressed more than its glass bears for years.",
    caution=GLASS_CAUTION,
    limits=("glass_stress", "glass_stress_most", "glass_stress_tempered", "acrylic_stress", "wall_bow"),
)
def wall_stress(model: Model) -> Findings:
    """Find walls that bend too much under the bed and the water, as high as it gets where something fails."""
    level = math.ceil(
        1000.0 * (_highest(model) - ROUNDING)
    )  # whole millimetres, so that little hangs on others
    water = f"under {length(level / 1000.0)} of water"
    for one in stressed(model, str(level)):
        name = f"{model.tank_name}.{one.wall.name}"
        thicker = _thicker(model, one)
        yield from _judged(model, one, one.stress, (name,), one.at, f"{name} bends {water}", thicker)
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
        most = limit(model, "wall_bow") * one.wall.length
        yield from judged(
            model,
            one.bow,
            most,
            0.1,
            most=True,
            parts=(name,),
            at=one.at,
            says=f"{name} bows {length(one.bow)} {water}",
            told=" (limit wall_bow)",
            remedy=f"brace its top edge, or {thicker}",
        )


def _highest(model: Model) -> float:
    """Return how high water gets in the tank, also where something fails, z [m]."""
    levels = [model.waterline]
    try:
        found = outages(model)
    except LayoutError:  # which other rules tell: here the waterline is judged all the same
        found = None
    if found is not None:
        levels += [max(event.tank_levels) for event in found.events]
    return min(max(levels), model.tank.rim)


def _judged(
    model: Model, one: Stressed, stress: float, parts: tuple[str, ...], at: Vector, says: str, remedy: str
) -> Findings:
    """Tell a stress past what this wall's material bears."""
    if one.acrylic:
        wanted, least = "acrylic_stress", "acrylic_stress"
    elif one.wall.tempered:
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
    if one.acrylic or one.wall.tempered:
        return "make the wall thicker"
    worst = max(one.stress, *one.holes.values(), 0.0)
    least = least_thickness(one.wall.thickness) * (worst / limit(model, "glass_stress")) ** 0.5
    sheet = next_sheet(least)
    return "lower the water" if sheet is None else f"take glass of {length(sheet)}"
