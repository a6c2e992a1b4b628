"""What several rules about drilled holes share: the holes with their panes, and limits."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from layout3d.checks.measure import limit
from layout3d.model.model import Model
from layout3d.parts.tank_data import DrilledHole, Wall

__all__ = ["DRILLING", "OF_THE_TANK", "HoleOnPanel", "holes", "wanted"]

DRILLING = (
    "Drilled glass under load can crack. The limits are rules of thumb and fabricators' figures for "
    "annealed glass; ask the glass maker, and never drill toughened glass."
)


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


@dataclass(frozen=True, slots=True)
class HoleOnPanel:
    """A hole with the pane it is drilled in."""

    hole: DrilledHole
    panel: Wall


def holes(model: Model) -> Iterator[HoleOnPanel]:
    """Return the tank's holes with their panes."""
    for hole in model.tank.holes.values():
        yield HoleOnPanel(hole, model.tank.panels[hole.panel])


def wanted(
    model: Model, names: tuple[str, str, str], *, diameter: float, thickness: float
) -> tuple[float, float, str]:
    """Return the warning and the fault limit, [m], and the name of the limit that rules the warning.

    ``names`` are those of the limits in hole diameters, in glass thicknesses (the fault) and in metres.
    """
    diameters, thicknesses, least = names
    found = {
        diameters: limit(model, diameters) * diameter,
        thicknesses: limit(model, thicknesses) * thickness,
        least: limit(model, least),
    }
    ruling = max(found, key=lambda name: found[name])
    return found[ruling], found[thicknesses], ruling
