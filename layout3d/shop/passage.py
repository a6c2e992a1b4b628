"""How a rigid piece gets from its place in a tank to the open, past what stays: legs along and turns.

Looked for outwards, and built inwards. First straight out as it lies, and aside before, then turned: in which
of many positions its convex hull passes an opening, straight up or leaning along its own length, is found by
its shadow along that way; then a way from its place into that position is tried past the exact meshes, in
steps of ``STEP``: what it grazes between two is not seen. What it touches at its place is not looked at for
the first ``HOP``: parts that touch are worked past each other by hand. A way that is found leads out, to
within a step; that none is found among those tried proves nothing.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TypeAlias

import numpy as np

from layout3d.keep import code_of, key_of, remembered
from layout3d.shop.opening import Fit, angle_of, fits, with_ease
from layout3d.solid.distance import overlap
from layout3d.solid.moving import Moving, corners_of
from layout3d.solid.nearby import kept_by_place
from layout3d.solid.placement import IDENTITY, Array, Placement, Vector, along, vector
from layout3d.solid.shape import Solid

__all__ = ["STEP", "UP", "Leg", "Passage", "Way"]


STEP = 0.01  # between poses of a leg that are looked at, of the point that moves most, [m]
HOP = 0.012  # so far from its place it may still touch what it touches there, [m]
ASIDE = (0.006, 0.03, 0.08, 0.16, 0.3, 0.5)
LIFTS = (0.01, 0.05, 0.12, 0.25, 0.4)
"""How far a piece is first moved aside, or lifted, [m]."""
DEPTHS = (0.0, 0.2, 0.4, 0.6, 0.8, 1.0)
"""Where it is turned, as shares of the way from the opening down to where it was lifted."""
MOST_FITS = 16
UP: Vector = (0.0, 0.0, 1.0)
LIFT = np.array([0.0, 0.0, 0.004])  # off what it stands on, before it is led along that, [m]
LIFTED = Placement.at(LIFT)
MOVES = 3  # aside before it goes out
MOST_PLACES, HELD = 10_000, 1_000_000  # of a piece that are held; what they take, about, [bytes]
_Met: TypeAlias = tuple[int, int, int]
OVER = 0.05  # a piece is out once it is so far above all that it could meet, [m]


@dataclass(frozen=True, slots=True, kw_only=True)
class Leg:
    """A stretch of a way in: shifted by ``shift`` (3,), [m], while it is turned by ``angle``, [rad]."""

    shift: tuple[float, float, float]
    angle: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Way:
    """A way in, in the order that hands go it; ``poses`` are moves from the piece's place, the open first.

    ``tried`` counts the ways that were tried until it was found.
    """

    poses: tuple[Placement, ...]
    centre: tuple[float, float, float]
    tried: int

    @property
    def legs(self) -> tuple[Leg, ...]:
        """Return what is done from each pose to the next."""
        found = []
        for start, end in itertools.pairwise(self.poses):
            x, y, z = (end.apply(self.centre) - start.apply(self.centre)).tolist()
            found.append(Leg(shift=(x, y, z), angle=angle_of(start.rotation.T @ end.rotation)))
        return tuple(found)

    @property
    def turned(self) -> bool:
        """Tell whether the piece is turned on its way."""
        return any(leg.angle > 1e-6 for leg in self.legs)


class Passage:
    """A piece that has to get out of the tank, past others; which ways are free is worked out once.

    ``outs`` are the ways that lead out, along axes; ``step`` takes the place of ``STEP`` for thin walls.
    ``tried`` counts the ways that were tried so far.

    Answers are kept by the piece and by what lies where a way was looked for: others that are moved elsewhere
    leave them as they are.
    """

    def __init__(
        self,
        solid: Solid,
        others: Sequence[Solid],
        *,
        rim: float,
        openings: Sequence[Array],
        outs: Sequence[Vector] = (UP,),
        step: float = STEP,
    ) -> None:
        self.tried = 0
        self._solid, self._others, self._openings = solid, others, openings
        bounds = np.array([other.bounds for other in others]).reshape(-1, 2, 3)
        self._room = _Room.around(solid, bounds, rim=rim, outs=outs, step=step)
        # all that the next answer hangs on, but for the others: the piece, and what was answered before
        self._so_far = key_of("passage", code_of("shop", "solid"), solid, self._room, tuple(openings))
        self._asked: list[tuple[str, frozenset[int]]] = []
        self._closed: list[frozenset[int]] = []
        self._done = 0

    def straight(self, present: frozenset[int]) -> Way | None:
        """Return a way out without a turn past those of the others, by number; None for none tried."""
        return self._answer("straight", present)

    def turned(self, present: frozenset[int]) -> Way | None:
        """Return a way out on which it is turned; None for none tried."""
        way = self._answer("turned", present)
        if way is None:
            self._closed.append(present)
        return way

    def roundabout(self, present: frozenset[int]) -> Way | None:
        """Return a way out with up to three moves aside before, without a turn; None for none tried."""
        return self._answer("roundabout", present)

    def bars(self, others: frozenset[int]) -> bool:
        """Tell whether one of the others bars the way that was returned last, straight or turned."""
        self._catch_up()
        return self._search.bars(others)

    def _answer(self, how: str, present: frozenset[int]) -> Way | None:
        # none is looked for where fewer barred all: this hangs on which others there are, not on where
        key = key_of(how, self._so_far, any(closed <= present for closed in self._closed))
        self._asked.append((how, present))

        def find() -> tuple[tuple[float, ...], Array]:
            way = self._catch_up()
            poses = () if way is None else way.poses
            numbers = [number for pose in poses for number in (*pose.rotation.ravel(), *pose.offset)]
            return (self._search.tried, *map(float, numbers)), np.array(self._search.looked)

        (tried, *row), self._so_far = kept_by_place(key, [self._others[k] for k in sorted(present)], find)
        self.tried = int(tried)
        if not row:
            return None
        poses = tuple(Placement(pose[:9].reshape(3, 3), pose[9:]) for pose in np.reshape(row, (-1, 12)))
        return Way(poses=poses, centre=vector(self._solid.centroid), tried=self.tried)

    def _catch_up(self) -> Way | None:
        """Search for all that was asked and found kept, in turn; return the last way."""
        way = None
        for how, present in self._asked[self._done :]:
            way = getattr(self._search, how)(present)
        self._done = len(self._asked)
        return way

    @cached_property
    def _search(self) -> _Search:
        return _Search(self._solid, self._others, self._room, self._openings)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Room:
    """How far a piece goes until it is past all others, ``far`` along each of ``outs``, [m].

    ``reach`` is of the piece from its centroid, ``over_all`` the height in which that is over all, the piece
    turned anyhow, ``rim`` the tank's, ``step`` between poses, [m].
    """

    outs: tuple[Vector, ...]
    far: tuple[float, ...]
    reach: float
    over_all: float
    rim: float
    step: float

    @classmethod
    def around(cls, solid: Solid, bounds: Array, *, rim: float, outs: Sequence[Vector], step: float) -> _Room:
        """Measure it past others within bounds (n, 2, 3)."""
        corners = corners_of(solid)
        reach = float(np.linalg.norm(corners - solid.centroid, axis=1).max())
        far = []
        for out in np.array(outs):
            own = float(along(corners, out).min())
            ends = (bounds * out).max(axis=1).sum(axis=1)
            far.append(max(float(ends.max(initial=own)), float(rim * out[2])) - own + OVER)
        top = float(bounds[:, 1, 2].max(initial=rim))
        return cls(
            outs=tuple(map(vector, outs)),
            far=tuple(far),
            reach=reach,
            over_all=top + reach + OVER,
            rim=rim,
            step=step,
        )


class _Search:
    """Looks for ways past the exact meshes; which of those tried are free is worked out once.

    ``looked`` are the boxes (2, 3) that it has looked into, [m].
    """

    def __init__(self, solid: Solid, others: Sequence[Solid], room: _Room, openings: Sequence[Array]) -> None:
        self.tried = 0
        self._solid, self._others, self._room, self._openings = solid, others, room, openings
        self._outs = [(np.array(out), far) for out, far in zip(room.outs, room.far, strict=True)]
        self._moving = Moving(solid, others)
        self._centre = solid.centroid
        self._here = self._moving.course(IDENTITY, np.zeros((1, 3)))
        self.looked = [self._here.boxes[0]]
        # what is met where: others that stay are met, or not, wherever some are moved
        self._known: dict[tuple[bytes, bytes, bytes], bool] = remembered(
            "met on ways", solid, make=dict, size=lambda _: HELD
        )
        self._touched: dict[int, bool] = {}
        self._shared: dict[int, bool] = {}
        self._bars: dict[int, tuple[set[int], set[int]]] = {}  # what bars a path, and what is clear of it
        # what barred it last wherever the piece lay, and where on its way: that is looked at first
        self._before: dict[int, _Met] = remembered("barred", solid.shape, make=dict, size=lambda _: HELD)
        self._more, self._paths = self._straights(), dict[int, list[Placement]]()  # these made so far
        self._turned: dict[int, list[Placement]] = {}
        self._last: tuple[int, list[Placement]] = (0, [])
        self._barred: list[frozenset[int]] = []

    def straight(self, present: frozenset[int]) -> Way | None:
        """Return what ``Passage.straight`` does."""
        for number, path in enumerate(itertools.chain([*self._paths.values()], self._more)):
            self._paths[number] = path
            if self._known_free(number, path, present):
                self._last = number, path
                return self._way(path)
        return None

    def turned(self, present: frozenset[int]) -> Way | None:
        """Return what ``Passage.turned`` does."""
        for number, path in self._turned.items():
            if self._known_free(number, path, present):
                self._last = number, path
                return self._way(path)
        if any(barred <= present for barred in self._barred):
            return None
        for path in self._turning(present):
            self.tried += 1
            if self._met(path, present) is None:
                number = -1 - len(self._turned)
                self._last = number, self._turned.setdefault(number, path)
                return self._way(path)
        self._barred.append(present)
        return None

    def roundabout(self, present: frozenset[int]) -> Way | None:
        """Return what ``Passage.roundabout`` does."""
        seen = {(0, 0, 0)}
        edge = [[IDENTITY, LIFTED]]
        for _ in range(MOVES):
            beyond = []
            for path, way in itertools.product(edge, np.vstack([np.eye(3), -np.eye(3)])):
                for there in self._stops(path[-1].offset, way, present):
                    x, y, z = np.rint(there / STEP).astype(int).tolist()
                    if (x, y, z) not in seen:
                        seen.add((x, y, z))
                        beyond.append([*path, Placement.at(there)])
            for path, (out, far) in itertools.product(beyond, self._outs):
                self.tried += 1
                there = path[-1].offset
                end = Placement.at(there + (far - float(there @ out)) * out)
                if self._met([path[-1], end], present) is None:
                    return self._way([*path, end])
            edge = beyond
        return None

    def bars(self, others: frozenset[int]) -> bool:
        """Return what ``Passage.bars`` does."""
        return not self._known_free(*self._last, others)

    @cached_property
    def _fits(self) -> list[Fit]:
        """The positions in which its hull passes an opening, as ``fits`` tells."""
        found = [fit for opening in self._openings for fit in fits(self._solid, opening)]
        return sorted(found, key=with_ease)

    @cached_property
    def _sideways(self) -> Array:
        """How far it is moved aside, step by step, [m]: from nothing to the step over the most."""
        fars = [0.0]
        while fars[-1] < ASIDE[-1]:
            fars.append(fars[-1] + self._room.step)
        return np.array(fars)

    def _stops(self, start: Array, way: Array, present: frozenset[int]) -> list[Array]:
        """Return where to stop on a move from one place (3,) along a way: some, and its free end."""
        free, _ = self._first_barred(IDENTITY, start + self._sideways[1:, None] * way, present)
        far = float(self._sideways[free])
        stops = [aside for aside in ASIDE[2:] if aside < far - HOP]
        return [start + stop * way for stop in ([*stops, far] if far > HOP else stops)]

    def _straights(self) -> Iterator[list[Placement]]:
        """Yield paths out along each way out, and aside square to it before, a little and then more."""
        for out, far in self._outs:
            way = far * out
            yield [IDENTITY, Placement.at(way)] if out[2] else [IDENTITY, LIFTED, Placement.at(LIFT + way)]
        for aside, (out, far) in itertools.product(ASIDE, self._outs):
            for side in _square_to(out):
                there = aside * side + (0.0 if side[2] else 1.0) * LIFT
                yield [IDENTITY, Placement.at(there), Placement.at(there + far * out)]

    def _turning(self, present: frozenset[int]) -> Iterator[list[Placement]]:
        """Yield paths by which it is lifted, turned in the tank or in the opening, and led out."""
        lifts = [self._centre + np.array([0.0, 0.0, lift]) for lift in LIFTS]
        lifts = [
            there for there in lifts if self._met([IDENTITY, self._pose(np.eye(3), there)], present) is None
        ]
        if not lifts:  # under a brace: it comes out from under that first
            lifts = [
                self._centre + there
                for side in _square_to(np.array(UP))
                for there in self._stops(np.zeros(3), side, present)
            ]
        for fit, slid in ((each, slid) for each in _unlike(self._fits) for slid in _slid(each)):
            climb = fit.way / fit.way[2]
            over = np.array([*(fit.over + slid * climb[:2]), self._room.rim])
            out = self._pose(fit.turn, over + (self._room.over_all - self._room.rim) * climb)
            for lifted, depth in itertools.product(lifts, DEPTHS):
                below = over - depth * (self._room.rim - lifted[2]) * climb
                before, inside = self._pose(np.eye(3), lifted), self._pose(fit.turn, below)
                if self._first_barred(inside, inside.offset[None], present)[0] == 0:
                    self.tried += 1
                    continue
                yield [IDENTITY, before, inside, out]
                yield [IDENTITY, before, self._pose(np.eye(3), below), inside, out]
                yield [IDENTITY, before, self._pose(fit.turn, lifted), inside, out]

    def _pose(self, turn: Array, centre: Sequence[float] | Array) -> Placement:
        return Placement(turn, np.asarray(centre) - turn @ self._centre)

    def _way(self, path: Sequence[Placement]) -> Way:
        x, y, z = self._centre.tolist()
        return Way(poses=tuple(path[::-1]), centre=(x, y, z), tried=self.tried)

    def _known_free(self, number: int, path: Sequence[Placement], present: frozenset[int]) -> bool:
        """Tell whether nothing that is present is met along a path; what is found out is kept by number."""
        if number not in self._bars:
            self.tried += 1
        bars, clear = self._bars.setdefault(number, (set(), set()))
        if bars & present:
            return False
        again, rest = self._before.get(number), present - clear
        met = (again and self._met(path, rest, *again)) or self._met(path, rest)
        if met is None:
            clear.update(present)
        else:
            bars.add(met[2])
            self._before[number] = met
        return met is None

    def _met(self, path: Sequence[Placement], present: frozenset[int], *again: int) -> _Met | None:
        """Return which course, place and other is the first met along a path, or of that one ``again``."""
        courses = (course for leg in itertools.pairwise(path) for course in self._courses(*leg))
        for number, (move, offsets) in enumerate(courses):
            first = 0
            if again:
                if number != again[0]:
                    continue
                first, offsets, present = again[1], offsets[again[1] :][:1], present & {again[2]}
            place, index = self._first_barred(move, offsets, present)
            if index is not None:
                return number, first + place, index
        return None

    def _courses(self, start: Placement, end: Placement) -> Iterator[tuple[Placement, Array]]:
        """Yield a leg's poses but for its start, each a turn as a move has it and offsets (n, 3), [m]."""
        begin, shift = start.apply(self._centre), end.apply(self._centre) - start.apply(self._centre)
        turn = end.rotation @ start.rotation.T
        angle = angle_of(turn)
        count = math.ceil((float(np.linalg.norm(shift)) + angle * self._room.reach) / self._room.step)
        if angle:
            yield end, end.offset[None]
            axis = _axis(turn)
            for share in _spread_out(count):
                part = Placement.turned(axis, share * angle).rotation @ start.rotation
                pose = self._pose(part, begin + share * shift)
                yield pose, pose.offset[None]
            return
        shares = np.arange(1, count)[:, None] / count
        between = begin + shares * shift - start.rotation @ self._centre
        if (start.rotation == end.rotation).all():
            yield end, np.vstack([between, end.offset])
        else:
            yield start, between
            yield end, end.offset[None]

    def _first_barred(
        self, move: Placement, offsets: Array, present: frozenset[int]
    ) -> tuple[int, int | None]:
        """Return how many of some places in turn are free, and which of those present bars the next.

        What it touches at its place is not in its way near that, and what it shares space with, a fault by
        itself, never.
        """
        course = self._moving.course(move, offsets)
        moved = np.linalg.norm(move.direction(self._centre) + offsets - self._centre, axis=1)
        home = moved + angle_of(move.rotation) * self._room.reach <= HOP
        if len(self._known) >= MOST_PLACES:
            self._known.clear()
        turn = move.rotation.tobytes()

        def meets(place: int, index: int) -> bool:
            asked = turn, offsets[place].tobytes(), self._others[index].content_key
            found = self._known.get(asked)
            if found is None:
                found = self._known[asked] = course.meets(place, index)
            return found

        free, met = len(offsets), None
        for place, index in np.argwhere(course.near).tolist():
            if (
                index in present
                and not (home[place] and self._touches(index))
                and meets(place, index)
                and not self._shares(index)
            ):
                free, met = place, index
                break
        if len(offsets):
            seen = course.boxes[: free + 1]
            self.looked.append(np.stack([seen[:, 0].min(axis=0), seen[:, 1].max(axis=0)]))
        return free, met

    def _touches(self, index: int) -> bool:
        """Tell whether it touches another at its place."""
        if index not in self._touched:
            self._touched[index] = bool(self._here.near[0, index]) and self._here.meets(0, index)
        return self._touched[index]

    def _shares(self, index: int) -> bool:
        """Tell whether it shares space with another at its place."""
        if index not in self._shared:
            self._shared[index] = self._touches(index) and (
                overlap(self._solid, self._others[index]) is not None
            )
        return self._shared[index]


def _square_to(out: Array) -> Array:
    """Return ways square to one along an axis, (k, 3): the axes', and level ones between them."""
    axes = np.vstack([np.eye(3), -np.eye(3)])
    square = axes[np.abs(axes @ out) < 0.5]
    if abs(out[2]) < 0.5:
        return square
    between = np.array([[1.0, 1.0, 0.0], [-1.0, 1.0, 0.0], [-1.0, -1.0, 0.0], [1.0, -1.0, 0.0]]) / math.sqrt(
        2.0
    )
    return np.vstack([square, between])


def _unlike(found: Sequence[Fit]) -> list[Fit]:
    """Return fits that differ from each other by 20 degrees or 100 mm, in their order."""
    kept: list[Fit] = []
    for fit in found:
        if len(kept) == MOST_FITS:
            break
        alike = (
            np.allclose(fit.way, other.way)
            and math.dist(fit.over, other.over) < 0.1
            and angle_of(fit.turn.T @ other.turn) < math.radians(20.0)
            for other in kept
        )
        if not any(alike):
            kept.append(fit)
    return kept


def _slid(fit: Fit) -> list[float]:
    """Return where it crosses the opening's plane, as shares of the way's level part for each metre up."""
    level = math.hypot(fit.way[0], fit.way[1]) / float(fit.way[2])
    return [0.0, *(0.9 * slide / level for slide in fit.slide if level and slide)]


def _spread_out(count: int) -> Iterator[float]:
    """Yield shares of a leg between its ends, the middle first: what bars it is soon met."""
    if count > 1:
        size = 1 << (count - 1).bit_length()
        yield from (
            place / count
            for step in range(size.bit_length() - 1)
            for place in range(size >> (step + 1), count, size >> step)
        )


def _axis(turn: Array) -> Array:
    """Return the axis of a turn (3, 3); any where it turns nothing."""
    from scipy.spatial.transform import Rotation

    axis = np.asarray(Rotation.from_matrix(turn).as_rotvec(), dtype=np.float64)
    length = float(np.linalg.norm(axis))
    return axis / length if length > 1e-9 else np.array([0.0, 0.0, 1.0])
