"""What a built tank tells the others: its panels with their own axes, its drilled holes, and its inside."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from layout3d.parts.base import Vector, vector

if TYPE_CHECKING:
    from layout3d.solid.shape import Placement, Solid

__all__ = ["DrilledHole", "Panel", "TankData"]

ROUNDING = 1e-7  # how far a point on a face may be past it, [m]


@dataclass(frozen=True, slots=True, kw_only=True)
class Panel:
    """One pane, with right-handed axes of its own: u along it, v up it, w from its inside face inward.

    Seen from inside, u runs from left to right. On the bottom u runs right and v back.

    ``origin`` is where u and v are 0 on the inside face: the inside corner, so u runs over the inside length.
    ``edges`` names the sides at u low, u high, v low, v high. ``glass`` is the pane's own outline in (u, v),
    (4, 2) or (k, 2), which reaches past the inside where the pane covers its neighbours' ends.
    """

    name: str
    body: str
    origin: Vector
    along: Vector
    up: Vector
    inward: Vector
    length: float
    height: float
    thickness: float
    tempered: bool
    edges: tuple[str, str, str, str]
    glass: tuple[tuple[float, float], ...]

    def at(self, u: float, v: float, w: float = 0.0) -> Vector:
        """Return the point at u, v on the inside face, w inward of it, [m]."""
        o, a, b, n = (np.array(item) for item in (self.origin, self.along, self.up, self.inward))
        return vector(o + u * a + v * b + w * n)

    def local(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return (n, 3) points in the panel's axes (u, v, w), [m]."""
        axes = np.array([self.along, self.up, self.inward])
        local: NDArray[np.float64] = (np.atleast_2d(points) - np.array(self.origin)) @ axes.T
        return local

    def placement(self) -> Placement:
        """Return the placement that takes (u, v, w) to the tank's axes."""
        from layout3d.solid.shape import Placement

        return Placement.from_frame(self.origin, self.along, self.inward)


@dataclass(frozen=True, slots=True, kw_only=True)
class DrilledHole:
    """A drilled hole; ``centre`` is (u, v) on its panel, ``at`` the same on the inside face, [m]."""

    name: str
    panel: str
    centre: tuple[float, float]
    at: Vector
    diameter: float
    bulkhead: str
    flange_diameter: float
    nut_diameter: float
    flange: str
    plugged: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class TankData:
    """A built tank. ``plan`` and ``outer_plan`` are (k, 2) corners counter-clockwise, [m]."""

    plan: tuple[tuple[float, float], ...]
    outer_plan: tuple[tuple[float, float], ...]
    height: float
    silicone: float
    panels: Mapping[str, Panel]
    holes: Mapping[str, DrilledHole]
    interior: Solid

    def holds(self, point: Vector) -> bool:
        """Tell whether a point lies inside the walls and not below the floor, at any height."""
        return all(
            sum((p - o) * n for p, o, n in zip(point, panel.origin, panel.inward, strict=True)) >= -ROUNDING
            for panel in self.panels.values()
        )

    @property
    def low(self) -> Vector:
        """Return the low corner of the inside's bounding box, [m]."""
        return (0.0, 0.0, 0.0)

    @property
    def high(self) -> Vector:
        """Return the high corner of the inside's bounding box, [m]."""
        x, y = np.array(self.plan).max(axis=0)
        return (float(x), float(y), self.height)
