"""Drilled holes of the tank: which rules judge them, and glass beside them that is too narrow."""

from __future__ import annotations

from collections.abc import Iterator

from layout3d.checks.base import Findings
from layout3d.checks.measure import judged, length, limit, missing
from layout3d.model.model import Model
from layout3d.parts.base import Vector
from layout3d.parts.tank_data import DrilledHole, Wall

__all__ = ["OF_THE_TANK", "holes", "judged_by_glass"]

OF_THE_TANK = (
    "bulkhead-to-seam",
    "flange-on-bend",
    "hole-edge-distance",
    "hole-in-tempered",
    "hole-size",
    "hole-to-hole",
    "hole-under-brace",
)
"""Rules that judge the tank by itself, whatever else can't be built: glass is drilled before all that."""


def holes(model: Model) -> Iterator[tuple[DrilledHole, Wall]]:
    """Return the tank's holes with their panes."""
    return ((hole, model.tank.panels[hole.panel]) for hole in model.tank.holes.values())


def judged_by_glass(
    model: Model,
    measured: float,
    names: tuple[str, str, str],
    *,
    diameter: float,
    thickness: float,
    parts: tuple[str, ...],
    at: Vector,
    says: str,
    remedy: str,
) -> Findings:
    """Return the finding that the glass beside a hole is too narrow, as ``judged``; nothing where it is not.

    ``names`` are those of the limits in hole diameters, in glass thicknesses (the fault) and in metres: the
    widest rules the warning.
    """
    diameters, thicknesses, least = names
    found = {
        diameters: limit(model, diameters) * diameter,
        thicknesses: limit(model, thicknesses) * thickness,
        least: limit(model, least),
    }
    ruling = max(found, key=lambda name: found[name])
    wanted, fault = found[ruling], found[thicknesses]
    also = ""
    if wanted != fault and missing(measured, fault):
        also = f"; a fault below {length(fault)}, limit {thicknesses}"
    told = f" (limit {ruling}{also})"
    yield from judged(model, measured, wanted, fault, parts=parts, at=at, says=says, told=told, remedy=remedy)
