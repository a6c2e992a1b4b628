"""How a piece comes to rest: let down to first contact, then tipped over what bears it.

By the exact meshes, step by step, each of which lowers the centre of mass and ends free of all that it may
not run into. No speed, no bouncing; it slides only where it can't tip, off steep faces that don't bear it,
and stays where its weight is borne, for what judges piles to say whether friction holds it there.
"""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Sequence
from functools import cached_property
from itertools import pairwise, product
from typing import Any, TypeAlias

import coal
import numpy as np

from layout3d.errors import OutOfRange
from layout3d.keep import FIGURES, code_of, file_away, key_of, recalled, remembered
from layout3d.solid.contain import inside
from layout3d.solid.distance import BESIDE
from layout3d.solid.nearby import content_in, places_of
from layout3d.solid.placement import Placement, Points
from layout3d.solid.shape import Solid
from layout3d.solid.touch import touches
from layout3d.solid.trees import tree_of

__all__ = ["settled"]

NEAR = 2e-5  # how near the piece comes to what it rests on, [m]
BEARS_WITHIN = 1e-4  # what is no farther bears it, [m]
STEP = 5e-4  # a fall past something that is nearer than this goes on by so much, [m]
WIDE, NARROW = math.radians(8.0), math.radians(0.004)  # turns: as they begin, and where it stops
UP = np.array([0.0, 0.0, 1.0])
ON = 1e-7  # how near to a corner or an edge of its support counts as on it, [m]
RISES = 0.1  # normals that rise by less bear nothing, [-]
FAR = 0.008  # slides, as they begin, [m]
SHARES = (0.0, 0.4, 1.0)  # of the way that it turns, by which it slides as it tips, [-]
MOST_MOVES = 1000
TURN_DIGITS, SHIFT_DIGITS = 10, 9  # to which a place is told: what differs between processors lies below
FEW = 8  # of pairs of faces that meet, at most so many are looked for, [-]
MOST_MET = 4000  # questions of falls from one place whose answers are held
HELD = 2**21  # what these take, about, [bytes]
Figures: TypeAlias = tuple[float, ...]
Asked: TypeAlias = tuple[bytes, bytes]  # what tells an obstacle, and the piece where it came to


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
        looked, bounds = piece.looked
        place = (*bounds.ravel().tolist(), *places_of(looked))
        file_away(where, FIGURES, place)
        file_away(key_in(place), FIGURES, found)
    return Solid(solid.shape, Placement(np.reshape(found[:9], (3, 3)), np.array(found[9:])))


class _Turned:
    """How a piece lies turned, wherever it stands: what its box and its centre need of that."""

    def __init__(self, placed: Placement, points: Points) -> None:
        """Take the corners of its box, its centre and the corners of its hull, in its own axes, (n, 3)."""
        turned = placed.direction(points)
        self.rotation, self.told = placed.rotation, placed.rotation.tobytes()
        self.ends, self.centre = turned[:8], turned[8]
        self.low, self.high = turned[9:].min(axis=0), turned[9:].max(axis=0)
        self.reach = np.concatenate([self.low, -self.high]) - 2 * BEARS_WITHIN


class _Piece:
    """A solid on its way down."""

    def __init__(self, solid: Solid, obstacles: Sequence[Solid], floor: float) -> None:
        self._solid = solid
        self._floor = floor
        reach = float(np.linalg.norm(solid.vertices - solid.centroid, axis=1).max())
        low, high = solid.centroid[:2] - 3.0 * reach, solid.centroid[:2] + 3.0 * reach
        self.obstacles = [other for other in obstacles if _reaches(other, np.stack([low, high]))]
        self._looked: list[tuple[_Turned, Points, float]] = []
        self._reach = reach
        self._turn = WIDE
        # where another stone was moved, it goes the same way past all the others, and lies on them so
        self._last: tuple[dict[Asked, float], dict[Asked, Points]] = remembered(
            "last fall", solid, make=lambda: ({}, {}), size=lambda _: HELD
        )
        self._stands: dict[int, tuple[list[Any], Any]] = {}  # obstacles as trees, and where
        self._seen: dict[
            int, tuple[float, _Turned, Points]
        ] = {}  # how far it surely was from each, and where
        self._stopped_by = -1  # what it met last
        self._asked = coal.CollisionRequest()
        self._asked.break_distance, self._asked.num_max_contacts = STEP, FEW
        self._lately: deque[Any] = deque(maxlen=4)  # of those of its faces that met something, as trees
        self._lies: _Turned | None = None

    @cached_property
    def _points(self) -> Points:
        """Corners of its box, its centre and the corners of its convex hull, in its own axes.

        Its box anywhere is the hull's; whatever way it goes, no point goes farther than one of the first.
        """
        shape = self._solid.shape
        hull = np.array(shape.manifold.hull().to_mesh64().vert_properties, dtype=np.float64)[:, :3]
        return np.concatenate([list(product(*shape.bounds.T)), [shape.centroid], hull])

    @cached_property
    def _tree(self) -> Any:
        return self._solid.shape.tree

    def _still(self, index: int) -> tuple[list[Any], Any]:
        if index not in self._stands:
            other = self.obstacles[index]
            there = coal.Transform3s(other.placement.rotation, other.placement.offset)
            self._stands[index] = [tree for tree, _ in other.shape.trees], there
        return self._stands[index]

    @cached_property
    def _limits(self) -> Points:
        """How far up along each axis, and how far down, the obstacles' boxes reach, (n, 6), [m]."""
        boxes = np.array([other.bounds for other in self.obstacles]).reshape(-1, 6)
        return np.concatenate([boxes[:, 3:], -boxes[:, :3]], axis=1)

    @property
    def looked(self) -> tuple[Points, Points]:
        """What the way hangs on: what lies of obstacles in boxes (n, 2, 3), and their boxes in one (2, 3)."""
        turns, offsets, far = zip(*self._looked, strict=True)
        beyond = np.array(far)[:, None]
        low, high, centre = (
            np.array([getattr(turned, name) for turned in turns]) + offsets
            for name in ("low", "high", "centre")
        )
        low, high = low - beyond - 2 * BEARS_WITHIN, high + beyond + 2 * BEARS_WITHIN
        least = np.minimum(low, centre - self._reach - beyond).min(axis=0)
        most = np.maximum(high, centre + self._reach + beyond).max(axis=0)
        return np.stack([low, high], axis=1), np.stack([least, most])

    def _turned(self, placed: Placement) -> _Turned:
        if self._lies is None or self._lies.told != placed.rotation.tobytes():
            self._lies = _Turned(placed, self._points)
        return self._lies

    def rest(self) -> Placement:
        """Return where it comes to rest; what it met of each on the way is held for the next time."""
        for answers in self._last:
            if len(answers) > MOST_MET:
                answers.clear()
        here = self._solid.placement
        lifts = 0
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
        if self._meets(self._turned(here), here.offset):
            return True
        placed = Solid(self._solid.shape, here)
        return any(
            inside(one, other.placement.apply(other.shape.shells)).any()
            for still in self.obstacles
            for one, other in ((placed, still), (still, placed))
        )

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
                tried = Placement(turned.rotation, turned.offset + share * moved * slides)
                there = self._freed(tried, (1.0 + share) * moved, height)
                if there is not None:
                    self._turn = min(1.5 * turn, WIDE)
                    return there
            turn /= 2.0
        step = FAR if size > RISES else 0.0
        while step > STEP / 4:
            there = self._freed(Placement(here.rotation, here.offset + step * slides), step, height)
            if there is not None:
                self._turn = WIDE
                return there
            step /= 2.0
        return None

    def _height(self, placed: Placement) -> float:
        return float(self._turned(placed).centre[2] + placed.offset[2])

    def _bearing(self, placed: Placement) -> tuple[Points, Points]:
        """Return where it touches what bears it from below, with normals."""
        piece, turned = Solid(self._solid.shape, placed), self._turned(placed)
        found, answers = [np.zeros((2, 0, 3))], self._last[1]
        for index in self._beside(turned, placed.offset):
            if self._clear(index, turned, placed.offset) >= BEARS_WITHIN + BESIDE:
                continue
            asked = self.obstacles[index].content_key, piece.content_key
            if asked not in answers:
                answers[asked] = touches(piece, self.obstacles[index], BEARS_WITHIN)
            found.append(answers[asked])
        points, normals = np.concatenate(found, axis=1)
        below = normals[:, 2] > RISES
        return points[below], normals[below]

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

    def _beside(self, turned: _Turned, offset: Points) -> list[int]:
        """Return what has a box that its own comes to, and note that what lies in that was looked for."""
        self._looked.append((turned, offset, 0.0))
        reach = turned.reach + np.concatenate([offset, -offset])
        found: list[int] = (reach <= self._limits).all(axis=1).nonzero()[0].tolist()
        return found

    def _clear(self, index: int, turned: _Turned, offset: Points) -> float:
        """Return how far it surely is from an obstacle by what is known, [m]; at most 0 where nothing is."""
        apart, was, there = self._seen.get(index, (0.0, turned, offset))
        if apart <= BESIDE:
            return 0.0
        shift = offset - there if was is turned else turned.ends - was.ends + (offset - there)
        return apart - math.sqrt((shift * shift).sum(axis=-1).max())

    def _meets(self, turned: _Turned, offset: Points) -> bool:
        there, moving = turned.told + offset.tobytes(), coal.Transform3s(turned.rotation, offset)
        answers, _ = self._last
        for index in sorted(self._beside(turned, offset), key=self._stopped_by.__ne__):
            if self._clear(index, turned, offset) >= BESIDE:
                continue
            asked = self.obstacles[index].content_key, there
            apart = answers.get(asked)
            if apart is None:
                apart = answers[asked] = self._free_by(index, moving)
            if apart < 0.0:
                self._stopped_by = index
                return True
            self._seen[index] = apart, turned, offset
        return False

    def _free_by(self, index: int, moving: Any) -> float:
        """Return how far it surely is from an obstacle, about ``STEP`` where more, [m]; -1 in it."""
        trees, there = self._still(index)
        for tried in (*self._lately, self._tree):  # what met something mostly does so again, and is small
            least = math.inf
            for tree in trees:
                result = coal.CollisionResult()
                if coal.collide(tried, moving, tree, there, self._asked, result):
                    if tried is self._tree:
                        shape, met = self._solid.shape, sorted({each.b1 for each in result.getContacts()})
                        corners = shape.vertices[shape.faces[met].ravel()]
                        self._lately.append(tree_of(corners, np.arange(len(corners)).reshape(-1, 3)))
                    return -1.0
                least = min(least, float(result.distance_lower_bound))
        return least

    def _distance(self, placed: Placement) -> float:
        """Return how far it surely is from all that it may meet as it falls, [m]."""
        moving = coal.Transform3s(placed.rotation, placed.offset)
        centre = placed.apply(self._solid.shape.centroid)
        turned = self._turned(placed)
        below = [
            k
            for k, other in enumerate(self.obstacles)
            if _reaches(other, np.stack([centre - self._reach, centre + self._reach]))
        ]
        low, high = turned.low + placed.offset, turned.high + placed.offset
        past = np.maximum(np.concatenate([low, -high]) - self._limits, 0.0)
        gaps = np.linalg.norm(past, axis=1)  # one of two opposite ways at most is above 0
        least, asked, result = math.inf, coal.DistanceRequest(), coal.DistanceResult()
        for index in sorted(below, key=lambda k: gaps[k]):
            if gaps[index] > least + ON:
                break
            trees, there = self._still(index)
            for tree in trees:
                # by one result: what is farther than the nearest so far is not measured any closer
                least = float(coal.distance(self._tree, moving, tree, there, asked, result))
        return least

    def _let_down(self, here: Placement) -> Placement:
        """Let it down straight until it is nearer than NEAR to what stops it."""
        turned = self._turned(here)
        while True:
            lowest = float(here.apply(self._solid.shape.vertices)[:, 2].min())
            if lowest < self._floor - 2 * NEAR:
                raise OutOfRange(
                    "there is nothing under it", expected="a floor, a bed or another piece under it"
                )
            far = min(self._distance(here), lowest - self._floor + 1.0)
            self._looked.append((turned, here.offset, far))  # what is nearest may stand beside it
            there = _raised(here, -max(far * 0.999, STEP))
            if self._meets(turned, there.offset):
                return self._between(turned, here.offset, there.offset)
            here = there

    def _freed(self, tried: Placement, moved: float, height: float) -> Placement | None:
        """Return a place that it was moved to let down or lifted to where it just touches; None where far.

        None as well where its centre comes no lower there than ``height``.
        """
        turned, here, most = self._turned(tried), tried.offset, 1.2 * moved + STEP
        up = turned.centre[2]
        there = None
        if not self._meets(turned, here):
            down = 0.0
            while down < most and there is None:
                lower = here - UP * STEP
                if self._meets(turned, lower):
                    there = self._between(turned, here, lower, height)
                here, down = lower, down + STEP
            there = there or self._let_down(Placement(turned.rotation, here))
        else:
            lifted, step = 0.0, STEP / 4
            while lifted < most and there is None and up + here[2] < height:
                high = here + UP * step
                lifted += step
                if not self._meets(turned, high):
                    there = self._between(turned, high, here, height)
                here, step = high, 2 * step
        return there if there is not None and up + there.offset[2] < height else None

    def _between(self, turned: _Turned, free: Points, meets: Points, height: float = math.inf) -> Placement:
        """Return the lowest free place straight between two, to NEAR, or one that is not below ``height``."""
        high, low = free, meets
        while high[2] - low[2] > NEAR and turned.centre[2] + low[2] < height:
            middle = (high + low) / 2.0
            if self._meets(turned, middle):
                low = middle
            else:
                high = middle
        return Placement(turned.rotation, high)


def _reaches(solid: Solid, place: Points) -> bool:
    """Tell whether a solid's box reaches in plan over a place: its lowest and highest corner, [m]."""
    low, high = solid.bounds[:, :2]
    return bool((low <= place[1, :2]).all() and (high >= place[0, :2]).all())


def _raised(placed: Placement, up: float) -> Placement:
    return Placement(placed.rotation, placed.offset + np.array([0.0, 0.0, up]))
