"""Figures of drilled holes that several rules share: edges of the glass, inside corners, and limits."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from layout3d.checks.measure import limit
from layout3d.model.model import Model
from layout3d.parts.tank_data import DrilledHole, Panel

__all__ = ["DRILLING", "HoleOnPanel", "Side", "corner_sides", "glass_sides", "holes", "outline", "wanted"]

DRILLING = (
    "Drilled glass under load can crack. The limits are rules of thumb and fabricators' figures for "
    "annealed glass; ask the glass maker, and never drill toughened glass."
)


@dataclass(frozen=True, slots=True)
class HoleOnPanel:
    """A hole with the pane it is drilled in."""

    hole: DrilledHole
    panel: Panel


@dataclass(frozen=True, slots=True, kw_only=True)
class Side:
    """A side of a pane: its name, and how far a hole's centre is from it, [m].

    ``angle`` is that between the two panes at an inside corner, [rad].
    """

    name: str
    distance: float
    angle: float = math.pi / 2


def holes(model: Model) -> Iterator[HoleOnPanel]:
    """Return the tank's holes with their panes."""
    for hole in model.tank.holes.values():
        yield HoleOnPanel(hole, model.tank.panels[hole.panel])


def outline(model: Model, panel: Panel) -> tuple[NDArray[np.float64], tuple[str, ...]]:
    """Return a pane's corners in its own axes, (k, 2) [m], and the names of the sides that start at each.

    The sides of the bottom are called after the walls. A wall with mitred ends is taken on its smaller,
    inner face.
    """
    if panel.name == "bottom":
        return np.array(panel.glass), tuple(name for name in model.tank.panels if name != "bottom")
    corners = np.array(panel.glass)
    if _mitred(model):
        corners[:, 0] = np.clip(corners[:, 0], 0.0, panel.length)
    low_u, high_u, low_v, high_v = panel.edges
    return corners, (low_v, high_u, high_v, low_u)


def glass_sides(model: Model, item: HoleOnPanel) -> tuple[Side, ...]:
    """Return the sides of the pane, with the distance of the hole's centre from each edge of the glass."""
    corners, names = outline(model, item.panel)
    return tuple(
        Side(name=name, distance=_from_line(item.hole.centre, a, b))
        for name, a, b in zip(names, corners, np.roll(corners, -1, axis=0), strict=True)
    )


def corner_sides(model: Model, item: HoleOnPanel) -> tuple[Side, ...]:
    """Return the sides where another pane stands on the inside, with a seam: all but a wall's upper edge."""
    panels = model.tank.panels
    walls = [name for name in panels if name != "bottom"]
    u, v = item.hole.centre
    if item.panel.name == "bottom":
        plan = np.array(model.tank.plan)
        return tuple(
            Side(name=name, distance=_from_line((u, v), a, b))
            for name, a, b in zip(walls, plan, np.roll(plan, -1, axis=0), strict=True)
        )
    # a wall's u runs against the order of the walls: low u is at the next wall, high u at the one before
    index = walls.index(item.panel.name)
    after, before = walls[(index + 1) % len(walls)], walls[index - 1]
    return (
        Side(name=after, distance=u, angle=_between(item.panel, panels[after])),
        Side(name=before, distance=item.panel.length - u, angle=_between(item.panel, panels[before])),
        Side(name="bottom", distance=v),
    )


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


def _mitred(model: Model) -> bool:
    return getattr(model.built[model.tank_name].part, "footprint", None) is not None


def _from_line(point: tuple[float, float], a: NDArray[np.float64], b: NDArray[np.float64]) -> float:
    """Return the distance of a point inside a counter-clockwise outline from the line through a and b."""
    way = (b - a) / np.linalg.norm(b - a)
    return float(np.dot(np.array(point) - a, (-way[1], way[0])))


def _between(panel: Panel, other: Panel) -> float:
    """Return the angle inside the corner of two walls, [rad]."""
    cosine = -float(np.dot(panel.inward, other.inward))
    return math.acos(max(-1.0, min(1.0, cosine)))
