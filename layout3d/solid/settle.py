"""How a piece comes to rest: let down to first contact, then tipped over what bears it.

By the exact meshes, step by step, each of which lowers the centre of mass and ends free of all that it may
not run into. No speed, no bouncing; it slides only where it can't tip, off steep faces that don't bear it,
and stays where its weight is borne, for what judges piles to say whether friction holds it there.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import cached_property
from itertools import pairwise
from typing import Any, TypeAlias

import coal
import numpy as np

from layout3d.errors import OutOfRange
from layout3d.keep import FIGURES, code_of, file_away, key_of, recalled, remembered
from layout3d.solid.distance import meet
from layout3d.solid.nearby import content_in, places_of
from layout3d.solid.placement import Placement, Points
from layout3d.solid.shape import Solid
from layout3d.solid.touch import touching

__all__ = ["settled"]

NEAR = 2e-5  # how near the piece comes to what it rests on, [m]
BEARS_WITHIN = 1e-4  # what is no farther bears it, [m]
STEP = 5e-4  # a fall past something that is nearer than this goes on by so much, [m]
WIDE, NARROW = math.radians(8.0), math.radians(0.004)  # turns: as they begin, and where it stops
ON = 1e-7  # how near to a corner or an edge of its support counts as on it, [m]
RISES = 0.1  # normals that rise by less bear nothing, [-]
FAR = 0.008  # slides, as they begin, [m]
SHARES = (0.0, 0.4, 1.0)  # of the way that it turns, by which it slides as it tips, [-]
MOST_MOVES = 1000
TURN_DIGITS, SHIFT_DIGITS = 10, 9  # to which a place is told: what differs between processors lies below
HELD = 2**20  # what is held of a fall in memory, about, [bytes]
Figures: TypeAlias = tuple[float, ...]


def settled(solid: Solid, obstacles: Sequence[Solid], *, floor: float = 0.0) -> Solid:
    """Return a solid where it comes to rest under gravity, from where it is.

    Parameters
    ----------
    obstacles : what it may come to rest on, all of which stay
    floor : no part of it falls below this height, [m]

    Returns
    -------
    The solid, nearer than 0.1 mm to what it rests on and sharing no space with it. Where it is put into
    something, it is lifted out first. Its place is rounded to a nanometre.

    Notes
    -----
    Nothing here is random or runs in parallel, so threads change nothing. Sums of products differ in their
    last digit between kinds of processors, some 1e-15 m here, which is rounded away; a step that is decided
    within that could still go another way.

    Raises
    ------
    OutOfRange : there is nothing under it above ``floor``.
    """
    piece, code = _Piece(solid, obstacles, floor), code_of("solid")
    where = key_of("where it fell", code, solid, floor)

    def key_in(place: Figures) -> bytes:
        """Return what a way is kept under that lay all in a place: what stands beside it does nothing.

        Nor does what of an obstacle lies outside of the boxes in the place that were looked into, but that
        the obstacles' own boxes are looked at as far as they reach into the place.
        """
        bounds, *boxes = np.reshape(place, (-1, 2, 3))
        looked = np.array(boxes)
        near = []
        for other in piece.obstacles:
            low, high = other.bounds
            met = looked[((looked[:, 0] <= high) & (low <= looked[:, 1])).all(axis=1)]
            if _reaches(other, bounds):
                near.append((*np.clip(other.bounds, *bounds), content_in(other, met) if len(met) else b""))
        return key_of("settled", code, solid, floor, place, *near)

    place = recalled(where, FIGURES)  # of the last time, with whatever then stood around
    found = recalled(key_in(place), FIGURES) if place is not None else None
    if found is None:
        placed = piece.rest()
        turn, shift = placed.rotation.ravel().round(TURN_DIGITS), placed.offset.round(SHIFT_DIGITS)
        found = (*(turn + 0.0).tolist(), *(shift + 0.0).tolist())
        place = (*piece.place.ravel().tolist(), *places_of(np.array(piece.looked)))
        file_away(where, FIGURES, place)
        file_away(key_in(place), FIGURES, found)
    return Solid(solid.shape, Placement(np.reshape(found[:9], (3, 3)), np.array(found[9:])))


class _Piece:
    """A solid on its way down."""

    def __init__(self, solid: Solid, obstacles: Sequence[Solid], floor: float) -> None:
        self._solid = solid
        self._floor = floor
        reach = float(np.linalg.norm(solid.vertices - solid.centroid, axis=1).max())
        low, high = solid.centroid[:2] - 3.0 * reach, solid.centroid[:2] + 3.0 * reach
        self.obstacles = [other for other in obstacles if _reaches(other, np.stack([low, high]))]
        self.place = np.array([[math.inf] * 3, [-math.inf] * 3])
        self.looked: list[Points] = []
        self._reach = reach
        self._turn = WIDE
        self._last: dict[tuple[bytes, bytes], bool] = remembered(
            "last fall", solid, make=dict, size=lambda _: HELD
        )
        self._met: dict[tuple[bytes, bytes], bool] = {}

    @cached_property
    def _corners(self) -> Points:
        """Corners of its convex hull in its own axes: its box anywhere is theirs."""
        hull = self._solid.shape.manifold.hull().to_mesh64()
        return np.array(hull.vert_properties, dtype=np.float64)[:, :3]

    @cached_property
    def _still(self) -> list[tuple[Solid, Any, Any]]:
        return [
            (other, other.shape.tree, coal.Transform3s(other.placement.rotation, other.placement.offset))
            for other in self.obstacles
        ]

    @cached_property
    def _boxes(self) -> Points:
        return np.array([other.bounds for other in self.obstacles]).reshape(-1, 2, 3)

    def rest(self) -> Placement:
        """Return where it comes to rest; what it met of each on the way is held for the next time."""
        here = self._fall()
        self._last.clear()
        self._last.update(self._met)
        return here

    def _fall(self) -> Placement:
        here = self._solid.placement
        lifts = 0
        self._box(here)
        while self._is_in(here):
            here = _raised(here, 4 * STEP)
            lifts += 1
            if lifts > 5000:
                raise RuntimeError("fault of the program: it is never free (settled)")
        here = self._let_down(here)
        for _ in range(MOST_MOVES):
            there = self._lower(here)
            if there is None:
                return here
            here = there
        return here

    def _is_in(self, here: Placement) -> bool:
        placed = Solid(self._solid.shape, here)
        return any(meet(placed, other) for other in self.obstacles)

    def _lower(self, here: Placement) -> Placement | None:
        """Return a place that it tips or slides to from here, with its centre lower; None where it rests."""
        bearing = self._bearing(here)
        axis = self._falls_about(here, bearing)
        if axis is None:
            return None
        about, way = axis
        height = self._height(here) - 1e-3 * NEAR
        off = np.append(bearing[1][:, :2].sum(axis=0), 0.0)
        size = float(np.hypot(*off[:2]))
        slides = off / size if size > RISES else np.zeros(3)  # else it lies on level faces
        turn = self._turn
        while turn > NARROW:
            turned = Placement.turned(way, turn, about=about) @ here
            for share in SHARES if size > RISES else SHARES[:1]:
                moved = turn * self._reach
                there = self._freed(Placement.at(share * moved * slides) @ turned, (1.0 + share) * moved)
                if there is not None and self._height(there) < height:
                    self._turn = min(1.5 * turn, WIDE)
                    return there
            turn /= 2.0
        step = FAR if size > RISES else 0.0
        while step > STEP / 4:
            there = self._freed(Placement.at(step * slides) @ here, step)
            if there is not None and self._height(there) < height:
                self._turn = WIDE
                return there
            step /= 2.0
        return None

    def _height(self, placed: Placement) -> float:
        return float(placed.apply(self._solid.shape.centroid)[2])

    def _bearing(self, placed: Placement) -> tuple[Points, Points]:
        """Return where it touches what bears it from below, with normals."""
        piece = Solid(self._solid.shape, placed)
        low, high = piece.bounds[0] - BEARS_WITHIN, piece.bounds[1] + BEARS_WITHIN
        self._looked_into(placed)
        points, normals = [np.zeros((0, 3))], [np.zeros((0, 3))]
        for other in self.obstacles:
            if (low <= other.bounds[1]).all() and (high >= other.bounds[0]).all():
                touch = touching(piece, other, apart=BEARS_WITHIN)
                below = touch.normals[:, 2] > RISES
                points.append(touch.points[below])
                normals.append(touch.normals[below])
        return np.concatenate(points), np.concatenate(normals)

    def _falls_about(self, placed: Placement, bearing: tuple[Points, Points]) -> tuple[Points, Points] | None:
        """Return a point and the way of the axis that it tips about; None where its weight is borne."""
        from shapely import LineString, MultiPoint, Point
        from shapely.ops import nearest_points

        points, _ = bearing
        if not len(points):
            return None
        centre = placed.apply(self._solid.shape.centroid)
        hull = MultiPoint(points[:, :2]).convex_hull
        acts = Point(centre[:2])
        if hull.geom_type == "Polygon" and hull.contains(acts):
            return None
        near = np.array(nearest_points(hull, acts)[0].coords[0])
        if np.hypot(*(centre[:2] - near)) < ON:
            return None  # it stands on a point or an edge, exactly
        rings = hull.exterior.coords if hull.geom_type == "Polygon" else hull.coords
        corners = [points[np.abs(points[:, :2] - corner).sum(axis=1).argmin()] for corner in rings]
        for one, other in pairwise(corners):
            over = LineString([one[:2], other[:2]]).distance(Point(near))
            if over < ON and min(np.hypot(*(one[:2] - near)), np.hypot(*(other[:2] - near))) > ON:
                way = (other - one) / np.linalg.norm(other - one)
                return one, way if np.cross(way, centre - one)[2] < 0.0 else -way
        pivot = min(corners, key=lambda corner: float(np.hypot(*(corner[:2] - near))))
        out = centre - pivot
        return pivot, np.array([-out[1], out[0], 0.0]) / np.hypot(*out[:2])

    def _meets(self, placed: Placement) -> bool:
        low, high = self._box(placed)
        there = placed.rotation.tobytes() + placed.offset.tobytes()
        near = ((low <= self._boxes[:, 1]) & (high >= self._boxes[:, 0])).all(axis=1)
        for index in np.flatnonzero(near).tolist():
            # where another stone was moved, it goes the same way past all the others
            asked = self.obstacles[index].content_key, there
            met = self._last.get(asked)
            self._met[asked] = met = self._collides(index, placed) if met is None else met
            if met:
                return True
        return False

    def _collides(self, index: int, placed: Placement) -> bool:
        _, tree, there = self._still[index]
        moving = coal.Transform3s(placed.rotation, placed.offset)
        result = coal.CollisionResult()
        coal.collide(self._solid.shape.tree, moving, tree, there, coal.CollisionRequest(), result)
        return bool(result.isCollision())

    def _box(self, placed: Placement) -> tuple[Points, Points]:
        """Return a box around it however it is turned, in which boxes of obstacles are looked at."""
        self._looked_into(placed)
        centre = placed.apply(self._solid.shape.centroid)
        return centre - self._reach, centre + self._reach

    def _looked_into(self, placed: Placement, far: float = 0.0) -> None:
        """Note what the way hangs on: what lies of obstacles in ``looked``, and their boxes in ``place``."""
        points = placed.apply(self._corners)
        low, high = (
            points.min(axis=0) - (far + 2 * BEARS_WITHIN),
            points.max(axis=0) + (far + 2 * BEARS_WITHIN),
        )
        self.looked.append(np.stack([low, high]))
        centre = placed.apply(self._solid.shape.centroid)
        self.place[0] = np.minimum(self.place[0], np.minimum(low, centre - self._reach - far))
        self.place[1] = np.maximum(self.place[1], np.maximum(high, centre + self._reach + far))

    def _distance(self, placed: Placement) -> float:
        """Return how far it surely is from all that it may meet as it falls, [m]."""
        moving = coal.Transform3s(placed.rotation, placed.offset)
        least = math.inf
        low, high = self._box(placed)
        for other, tree, there in self._still:
            if not _reaches(other, np.stack([low, high])):
                continue
            result = coal.DistanceResult()
            asked = coal.DistanceRequest()
            far = coal.distance(self._solid.shape.tree, moving, tree, there, asked, result)
            least = min(least, float(far))
        return least

    def _let_down(self, here: Placement) -> Placement:
        """Let it down straight until it is nearer than NEAR to what stops it."""
        while True:
            lowest = float(here.apply(self._solid.shape.vertices)[:, 2].min())
            if lowest < self._floor - 2 * NEAR:
                raise OutOfRange(
                    "there is nothing under it", expected="a floor, a bed or another piece under it"
                )
            far = min(self._distance(here), lowest - self._floor + 1.0)
            self._looked_into(here, far)  # what is nearest may stand beside it
            there = _raised(here, -max(far * 0.999, STEP))
            if self._meets(there):
                return self._between(here, there)
            here = there

    def _freed(self, there: Placement, moved: float) -> Placement | None:
        """Return a place that it was moved to let down or lifted to where it just touches; None where far."""
        most = 1.2 * moved + STEP
        if not self._meets(there):
            down = 0.0
            while down < most:
                lower = _raised(there, -STEP)
                if self._meets(lower):
                    return self._between(there, lower)
                there, down = lower, down + STEP
            return self._let_down(there)
        low, step = there, STEP / 4
        lifted = 0.0
        while lifted < most:
            high = _raised(low, step)
            lifted += step
            if not self._meets(high):
                return self._between(high, low)
            low, step = high, 2 * step
        return None

    def _between(self, free: Placement, meets: Placement) -> Placement:
        """Return the lowest free place straight between two, to NEAR."""
        high, low = free.offset, meets.offset
        while high[2] - low[2] > NEAR:
            middle = (high + low) / 2.0
            if self._meets(Placement(free.rotation, middle)):
                low = middle
            else:
                high = middle
        return Placement(free.rotation, high)


def _reaches(solid: Solid, place: Points) -> bool:
    """Tell whether a solid's box reaches in plan over a place: its lowest and highest corner, [m]."""
    low, high = solid.bounds[:, :2]
    return bool((low <= place[1, :2]).all() and (high >= place[0, :2]).all())


def _raised(placed: Placement, up: float) -> Placement:
    return Placement(placed.rotation, placed.offset + np.array([0.0, 0.0, up]))
