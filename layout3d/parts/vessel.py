"""What holds water, whatever it is made of: its inside, from a floor up to a rim. No walls, no levels."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from layout3d.parts.shapes.plan import edge_normals
from layout3d.parts.vectors import Vector

if TYPE_CHECKING:
    from layout3d.solid.shape import Solid

__all__ = ["Vessel"]

ON_WALL = 1e-7  # how far a point on a wall may be past it by rounding, [m]
ON_FLOOR = 1e-6  # what stands on a floor may be so far below it by rounding, [m]


@dataclass(frozen=True, slots=True, kw_only=True)
class Vessel:
    """What water stands in: upright walls over a convex ``plan``, (k, 2) counter-clockwise, [m].

    ``floor`` and ``rim`` are heights in the tank's axes, [m]. Round walls are polygons of the true area, fine
    enough to measure from. ``interior`` is the space within, from floor to rim. A vessel with a plan that
    isn't convex overrides ``room_beside``.
    """

    plan: tuple[tuple[float, float], ...]
    floor: float
    rim: float
    interior: Solid

    def room_beside(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return how far points (n, 2 or 3) are within the wall along each edge of the plan, (n, k), [m].

        Below 0 where a point is past that wall. Heights don't matter.
        """
        plan = np.array(self.plan)
        normals = edge_normals(plan)
        places = np.atleast_2d(points)[:, :2]
        room: NDArray[np.float64] = places @ normals.T - np.sum(normals * plan, axis=1)
        return room

    def room(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return how far points (n, 2 or 3) are within the nearest wall, (n,), [m]; below 0 past one."""
        nearest: NDArray[np.float64] = self.room_beside(points).min(axis=1)
        return nearest

    def holds(self, point: Vector) -> bool:
        """Tell whether a point lies inside the walls and not below the floor, at any height."""
        return point[2] >= self.floor - ON_FLOOR and float(self.room(np.array([point]))[0]) >= -ON_WALL

    @property
    def low(self) -> Vector:
        """Return the low corner of the inside's bounding box, [m]."""
        x, y = np.array(self.plan).min(axis=0)
        return (float(x), float(y), self.floor)

    @property
    def high(self) -> Vector:
        """Return the high corner of the inside's bounding box, [m]."""
        x, y = np.array(self.plan).max(axis=0)
        return (float(x), float(y), self.rim)
