"""Figures of drilled holes that several rules share: distances to edges, to each other, and the limits for them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from layout3d.checks.measure import limit
from layout3d.model.model import Model
from layout3d.parts.tank_data import DrilledHole, Panel

__all__ = ["DRILLING", "HoleOnPanel", "edge_distance", "holes", "wanted"]

DRILLING = (
    "Drilled glass under load can crack. The limits are rules of thumb and fabricators' figures for "
    "annealed glass; ask the glass maker, and never drill toughened glass."
)


@dataclass(frozen=True, slots=True)
class HoleOnPanel:
    """A hole with the pane it is drilled in."""

    hole: DrilledHole
    panel: Panel


def holes(model: Model) -> Iterator[HoleOnPanel]:
    """Return the tank's holes with their panes."""
    for hole in model.tank.holes.values():
        yield HoleOnPanel(hole, model.tank.panels[hole.panel])


def edge_distance(item: HoleOnPanel) -> tuple[float, str]:
    """Return the distance from the hole's edge to the nearest edge of the pane, [m], and where that lies."""
    corners = np.array(item.panel.glass)
    centre = np.array(item.hole.centre)
    found = []
    for a, b in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        way = (b - a) / np.linalg.norm(b - a)
        normal = np.array([-way[1], way[0]])
        found.append((abs(float(np.dot(centre - a, normal))), normal))
    distance, normal = min(found, key=lambda pair: pair[0])
    low_u, high_u, low_v, high_v = item.panel.edges
    side = (
        (low_u if centre[0] < corners[:, 0].mean() else high_u)
        if abs(normal[0]) > 0.7
        else (low_v if centre[1] < corners[:, 1].mean() else high_v)
    )
    return distance - item.hole.diameter / 2, side


def wanted(model: Model, what: str, *, diameter: float, thickness: float) -> tuple[float, float]:
    """Return the warning and the fault limit of 'glass_hole_edge' or 'glass_hole_hole', [m]."""
    warning = max(
        limit(model, f"{what}_diameters") * diameter,
        limit(model, f"{what}_thicknesses") * thickness,
        limit(model, what),
    )
    return warning, limit(model, f"{what}_thicknesses") * thickness
