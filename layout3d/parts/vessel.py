"""What holds water, whatever it is made of: its inside, from a floor up to a rim.

A tank is one, with walls to drill (``tank_data``); so are a sump, each of its compartments, an overflow box.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from layout3d.parts.shapes.plan import edge_normals
from layout3d.solid.placement import Vector

if TYPE_CHECKING:
    from layout3d.solid.shape import Solid

__all__ = ["Compartment", "OverflowBoxData", "SumpData", "Vessel", "WeirEdge"]

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
        normals, offsets = _walls(self.plan)
        room: NDArray[np.float64] = np.atleast_2d(points)[:, :2] @ normals.T - offsets
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

    def middle(self, z: float) -> Vector:
        """Return the middle of the inside's bounding box, at height ``z``, [m]."""
        return ((self.low[0] + self.high[0]) / 2.0, (self.low[1] + self.high[1]) / 2.0, z)


@lru_cache(maxsize=64)
def _walls(plan: tuple[tuple[float, float], ...]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the inward normals of the walls over a plan, (k, 2), and how far each lies along its own."""
    corners = np.array(plan)
    normals = edge_normals(corners)
    return normals, np.sum(normals * corners, axis=1)


@dataclass(frozen=True, slots=True, kw_only=True)
class Compartment(Vessel):
    """One compartment of a sump.

    ``level`` is the height of its water over the sump's floor as the scene sets it. ``baffle_height`` and
    ``baffle_gap`` are those of the baffle at its end, over the floor (0 and 0 at the last one: none).
    """

    name: str
    level: float
    baffle_height: float
    baffle_gap: float

    @property
    def water_z(self) -> float:
        """Return the height of its water in the tank's axes, [m]."""
        return self.floor + self.level


@dataclass(frozen=True, slots=True, kw_only=True)
class SumpData(Vessel):
    """A built sump."""

    compartments: tuple[Compartment, ...]

    @property
    def return_chamber(self) -> Compartment:
        """Return the last compartment, which the return pump draws from."""
        return self.compartments[-1]


@dataclass(frozen=True, slots=True, kw_only=True)
class WeirEdge:
    """The weir along one pane of a box: a comb of ``slots``, or one straight edge, the only slot.

    ``slot_width`` is that of one slot, or of the whole edge between the panes beside it, [m]; ``slot_height``
    from the crest up to the top of the box, above which water runs over the teeth as well; ``thickness`` of
    the pane, along the way of the water; ``middle`` lies on the crest.
    """

    side: str
    slots: int
    slot_width: float
    slot_height: float
    thickness: float
    middle: Vector

    @property
    def width(self) -> float:
        """Return the open width of all its slots together, [m]."""
        return self.slots * self.slot_width


@dataclass(frozen=True, slots=True, kw_only=True)
class OverflowBoxData(Vessel):
    """A built overflow box: a vessel within the tank.

    ``crest`` is the height over which the tank's water runs into it, ``level`` that of the water in it as the
    scene sets it, both in the tank's axes, [m]; ``rim`` is the top of its teeth or panes. ``outer`` is the
    space that it takes of the tank, panes and inside. ``holes`` names the tank's holes in it.
    """

    crest: float
    level: float
    outer: Solid
    weirs: tuple[WeirEdge, ...]
    holes: tuple[str, ...] = ()
