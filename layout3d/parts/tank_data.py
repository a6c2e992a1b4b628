"""What a built tank tells the others: its walls with their own axes, its drilled holes, and its inside."""

from __future__ import annotations

import math
from abc import ABC, abstractmethod
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from layout3d.parts.shapes.plan import turning
from layout3d.parts.vessel import Vessel
from layout3d.solid.placement import Placement, Vector, vector

__all__ = ["DrilledHole", "Edge", "Panel", "RoundWall", "TankData", "Wall"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Edge:
    """A straight line on a wall, in its axes (u, v), [m], with the wall on the left of its way.

    ``name`` is that of an edge of the glass, or of the pane that stands there on the inside, at ``angle``
    between the two, [rad].
    """

    name: str
    start: tuple[float, float]
    end: tuple[float, float]
    angle: float = math.pi / 2

    def distance(self, centre: tuple[float, float]) -> float:
        """Return how far a place (u, v) is from it, [m]; below 0 beyond it."""
        (a, b), (c, d) = self.start, self.end
        way = math.hypot(c - a, d - b)
        return ((c - a) * (centre[1] - b) - (d - b) * (centre[0] - a)) / way


@dataclass(frozen=True, slots=True, kw_only=True)
class Wall(ABC):
    """A wall or bottom as one drills it, in right-handed axes: u along, v up, w inward of its inside face.

    Seen from inside, u runs from left to right. On a bottom u runs right and v back. ``length`` and
    ``height`` are those of the inside face, [m]; ``edges`` names its sides at u low, u high, v low, v high.
    ``outline`` are the edges of the glass that a hole keeps away from, ``seams`` the lines where another
    pane stands on its inside face.
    """

    name: str
    body: str
    length: float
    height: float
    thickness: float
    tempered: bool = False
    edges: tuple[str, str, str, str]
    outline: tuple[Edge, ...]
    seams: tuple[Edge, ...]

    @property
    @abstractmethod
    def radius(self) -> float:
        """Return the radius of its hollow inside face, [m]; infinity where it is flat."""

    @abstractmethod
    def frame(self, u: float, v: float, w: float = 0.0) -> Placement:
        """Return the placement at u, v, w inward, whose x runs along the wall, y up it, z inward."""

    @abstractmethod
    def local(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return (n, 3) points in the wall's axes (u, v, w), [m]."""

    def at(self, u: float, v: float, w: float = 0.0) -> Vector:
        """Return the point at u, v on the inside face, w inward of it, [m]."""
        return vector(self.frame(u, v, w).offset)

    @property
    def facing(self) -> Vector:
        """Return the way inward at its middle."""
        return vector(self.frame(self.length / 2, self.height / 2).rotation[:, 2])

    @property
    def corners(self) -> NDArray[np.float64]:
        """Return the corners of the glass, (k, 2) in (u, v), [m]; a round edge has none."""
        return turning(np.array([edge.start for edge in self.outline]))

    @property
    def narrow(self) -> float:
        """Return the least width of the glass between parallel lines, one of them along an edge, [m]."""
        corners = np.array([edge.start for edge in self.outline])
        ways = np.roll(corners, -1, axis=0) - corners
        normals = np.column_stack([-ways[:, 1], ways[:, 0]]) / np.linalg.norm(ways, axis=1, keepdims=True)
        return float(np.ptp(corners @ normals.T, axis=0).min())

    def stand_off(self, radius: float, *, outside: bool = False) -> float:
        """Return how far a flat disc stands off the bent wall at its worst, [m]; 0 on a flat one.

        On the hollow inside face that is in its middle, on the outside at its rim: the rise of the arc over
        the disc's width.
        """
        bend = self.radius + (self.thickness if outside else 0.0)
        return bend - math.sqrt(bend**2 - radius**2) if math.isfinite(bend) else 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Panel(Wall):
    """One flat pane. ``origin`` is where u and v are 0 on the inside face: the inside corner.

    ``glass`` is the pane's own outline in (u, v), (k, 2), which reaches past the inside where the pane covers
    its neighbours' ends.
    """

    origin: Vector
    along: Vector
    up: Vector
    inward: Vector
    glass: tuple[tuple[float, float], ...]

    @property
    def radius(self) -> float:
        """Return infinity: it is flat."""
        return math.inf

    def at(self, u: float, v: float, w: float = 0.0) -> Vector:
        """Return the point at u, v on the inside face, w inward of it, [m]."""
        o, a, b, n = (np.array(item) for item in (self.origin, self.along, self.up, self.inward))
        return vector(o + u * a + v * b + w * n)

    def frame(self, u: float, v: float, w: float = 0.0) -> Placement:
        """Return the placement at u, v, w inward, whose x runs along the pane, y up it, z inward."""
        return self.placement() @ Placement.at((u, v, w))

    def local(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return (n, 3) points in the panel's axes (u, v, w), [m]."""
        axes = np.array([self.along, self.up, self.inward])
        local: NDArray[np.float64] = (np.atleast_2d(points) - np.array(self.origin)) @ axes.T
        return local

    def placement(self) -> Placement:
        """Return the placement that takes (u, v, w) to the tank's axes."""
        return Placement.from_frame(self.origin, self.along, self.inward)


@dataclass(frozen=True, slots=True, kw_only=True)
class RoundWall(Wall):
    """An upright wall bent round an axis on its inside; u is measured along the inside face.

    ``axis`` is where the axis stands, x and y, ``inside_radius`` that of the inside face, [m]. u is 0 at
    ``start``, an angle from x towards y, [rad], and runs against it: left to right as seen from inside.
    """

    axis: tuple[float, float]
    inside_radius: float
    start: float

    @property
    def radius(self) -> float:
        """Return the radius of its hollow inside face, [m]."""
        return self.inside_radius

    @property
    def closed(self) -> bool:
        """Tell whether it goes all the way round."""
        return self.length > (2 * math.pi - 1e-9) * self.inside_radius

    @property
    def corners(self) -> NDArray[np.float64]:
        """Return the corners of the glass, (k, 2) in (u, v), [m]; none where it goes all the way round."""
        return np.zeros((0, 2)) if self.closed else np.array([edge.start for edge in self.outline])

    @property
    def narrow(self) -> float:
        """Return the lesser of its height and what it spans, [m]."""
        half = min(self.length / (2 * self.inside_radius), math.pi / 2)
        return min(self.height, 2 * self.inside_radius * math.sin(half))

    def frame(self, u: float, v: float, w: float = 0.0) -> Placement:
        """Return the placement at u, v, w inward, whose x runs along the wall, y up it, z inward."""
        angle = self.start - u / self.inside_radius
        outward = np.array([math.cos(angle), math.sin(angle), 0.0])
        place = np.array([*self.axis, v]) + (self.inside_radius - w) * outward
        return Placement.from_frame(place, (outward[1], -outward[0], 0.0), -outward)

    def local(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return (n, 3) points in the wall's axes (u, v, w), [m]; u within half a turn of its middle."""
        away = np.atleast_2d(points) - np.array([*self.axis, 0.0])
        half = self.length / (2 * self.inside_radius)
        past_middle = self.start - half - np.arctan2(away[:, 1], away[:, 0])
        turned = (past_middle + math.pi) % (2 * math.pi) - math.pi + half
        return np.column_stack(
            [self.inside_radius * turned, away[:, 2], self.inside_radius - np.hypot(away[:, 0], away[:, 1])]
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class DrilledHole:
    """A drilled hole; ``centre`` is (u, v) on its panel, ``at`` the same on the inside face, [m].

    ``gap`` is how far a flat flange stands off a bent wall at its worst, for the gasket to fill, [m].
    """

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
    drilled_from: str
    gap: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class TankData(Vessel):
    """A built tank: a vessel with its floor at 0, and with walls that can be drilled.

    ``panels`` are its walls, counter-clockwise from the front, and 'bottom'; ``sides`` names the wall along
    each edge of the plan. ``outer_plan`` are the corners of its outside, (k, 2) counter-clockwise, [m];
    ``silicone`` the leg of the beads in its corners, 0 where it has none.
    """

    outer_plan: tuple[tuple[float, float], ...]
    silicone: float
    panels: Mapping[str, Wall]
    sides: tuple[str, ...]
    holes: Mapping[str, DrilledHole]

    @property
    def height(self) -> float:
        """Return the height of the rim over the inside floor, [m]."""
        return self.rim - self.floor

    @property
    def walls(self) -> tuple[Wall, ...]:
        """Return the walls without the bottom, counter-clockwise from the front."""
        return tuple(wall for name, wall in self.panels.items() if name != "bottom")

    @property
    def flat_panels(self) -> dict[str, Panel]:
        """Return the flat panes by name: what a slab can stand on."""
        return {name: wall for name, wall in self.panels.items() if isinstance(wall, Panel)}
