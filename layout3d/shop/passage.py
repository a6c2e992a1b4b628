"""How a rigid piece gets from its place in a tank to the open, past what stays: legs along and turns.

Looked for outwards, and built inwards. First straight out as it lies, and aside before, then turned: in which
of many positions its convex hull passes an opening, straight up or leaning along its own length, is found by
its shadow along that way; then a way from its place into that position is tried past the exact meshes, in
steps of ``STEP``: what it grazes between two is not seen. What it touches at its place is not looked at for
the first ``HOP``: parts that touch are worked past each other by hand. A way that is found leads out, to
within a step; that none is found among those tried proves nothing.
"""

from __future__ import annotations

import functools
import itertools
import math
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from layout3d.keep import WORTH_FILING, code_of, file_away, key_of, recalled, remembered
from layout3d.shop.opening import UP, Fit, angle_of, fits, slides, unlike
from layout3d.shop.paths import HERE, HOP, PASTS, Past, Path, Paths
from layout3d.solid.moving import corners_of
from layout3d.solid.nearby import kept_by_place
from layout3d.solid.placement import IDENTITY, Array, Placement, Vector, along, vector
from layout3d.solid.shape import Solid

__all__ = ["STEP", "Leg", "Passage", "Way"]


STEP = 0.01  # between poses of a leg that are looked at, of the point that moves most, [m]
ASIDE = (0.006, 0.03, 0.08, 0.16, 0.3, 0.5)
LIFTS = (0.01, 0.05, 0.12, 0.25, 0.4)
"""How far a piece is first moved aside, or lifted, [m]."""
DEPTHS = (0.0, 0.2, 0.4, 0.6, 0.8, 1.0)
"""Where it is turned, as shares of the way from the opening down to where it was lifted."""
LIFT = np.array([0.0, 0.0, 0.004])  # off what it stands on, before it is led along that, [m]
MOVES = 3  # aside before it goes out
GRID = 0.25  # to which ways to a side end, so that a stone that comes out of the glass changes none, [m]
OVER = 0.05  # a piece is out once it is so far above all that it could meet, [m]
WORTH = 0.05  # a search that takes less is sooner made again than found on the disk, [s]
HELD = 500_000  # what is known of straight paths takes, about, [bytes]


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
            return (self._search.tried, *map(float, numbers)), np.array([*self._search.paths.looked.values()])

        row = kept_by_place(key, [self._others[k] for k in sorted(present)], find, worth=WORTH)
        self._so_far = key_of("answered", key, row)
        self.tried = int(row[0])
        if len(row) == 1:
            return None
        poses = tuple(Placement(pose[:9].reshape(3, 3), pose[9:]) for pose in np.reshape(row[1:], (-1, 12)))
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
            end = max(float((bounds * out).max(axis=1).sum(axis=1).max(initial=own)), float(rim * out[2]))
            if not out[2]:
                end = math.ceil(end / GRID) * GRID
            far.append(end - own + OVER)
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
    """Looks for ways past the exact meshes; which of those tried are free is worked out once."""

    def __init__(self, solid: Solid, others: Sequence[Solid], room: _Room, openings: Sequence[Array]) -> None:
        self.tried = 0
        self.paths = Paths(solid, others, step=room.step, reach=room.reach)
        self._solid, self._room, self._openings = solid, room, openings
        self._outs = [(np.array(out), far) for out, far in zip(room.outs, room.far, strict=True)]
        self._centre = solid.centroid
        # of straight paths by number, wherever some of the others are moved
        self._key = key_of("straight ways", code_of("shop", "solid"), solid, room)
        self._straights: list[Past] = remembered(
            "straight ways",
            self._key,
            make=lambda: [*(recalled(self._key, PASTS) or ())],
            size=lambda _: HELD,
        )
        self._turned: dict[int, tuple[Past, list[Placement]]] = {}  # found so far
        self._seen: set[int] = set()  # paths that are counted
        self._last = 0
        self._barred: list[frozenset[int]] = []

    def straight(self, present: frozenset[int]) -> Way | None:
        """Return what ``Passage.straight`` does."""
        begin, numbers = time.perf_counter(), range(len(_straight_ways(self._room.outs)))
        free = next((number for number in numbers if self._known_free(number, present)), None)
        if time.perf_counter() - begin >= WORTH_FILING:
            file_away(self._key, PASTS, self._straights)
        return None if free is None else self._way(self._path(free))

    def turned(self, present: frozenset[int]) -> Way | None:
        """Return what ``Passage.turned`` does."""
        for number in self._turned:
            if self._known_free(number, present):
                return self._way(self._path(number))
        if any(barred <= present for barred in self._barred):
            return None
        for path in self._turning(present):
            self.tried += 1
            if self.paths.bar(path, present) is None:
                self._last = -1 - len(self._turned)
                self._turned[self._last] = Past(), path
                return self._way(path)
        self._barred.append(present)
        return None

    def roundabout(self, present: frozenset[int]) -> Way | None:
        """Return what ``Passage.roundabout`` does."""
        seen = {(0, 0, 0)}
        edge = [np.array([HERE, LIFT])]
        for _ in range(MOVES):
            beyond = []
            for path, way in itertools.product(edge, np.vstack([np.eye(3), -np.eye(3)])):
                for there in self._stops(path[-1], way, present):
                    x, y, z = np.rint(there / STEP).astype(int).tolist()
                    if (x, y, z) not in seen:
                        seen.add((x, y, z))
                        beyond.append(np.vstack([path, there]))
            for path, (out, far) in itertools.product(beyond, self._outs):
                self.tried += 1
                end = path[-1] + (far - float(path[-1] @ out)) * out
                if self.paths.bar(np.stack([path[-1], end]), present) is None:
                    return self._way(np.vstack([path, end]))
            edge = beyond
        return None

    def bars(self, others: frozenset[int]) -> bool:
        """Return what ``Passage.bars`` does."""
        return not self._known_free(self._last, others)

    @cached_property
    def _fits(self) -> list[Fit]:
        """The positions that differ in which its hull passes an opening, as ``fits`` tells."""
        return unlike(fits(self._solid, self._openings))

    @cached_property
    def _sideways(self) -> Array:
        """How far it is moved aside, step by step, [m]: from nothing to the step over the most."""
        fars = [0.0]
        while fars[-1] < ASIDE[-1]:
            fars.append(fars[-1] + self._room.step)
        return np.array(fars)

    def _stops(self, start: Array, way: Array, present: frozenset[int]) -> list[Array]:
        """Return where to stop on a move from one place (3,) along a way: some, and its free end."""
        places = start + self._sideways[1:, None] * way
        bar = self.paths.bar_at([(IDENTITY, places)], present, first=True)
        far = float(self._sideways[len(places) if bar is None else bar.place])
        stops = [aside for aside in ASIDE[2:] if aside < far - HOP]
        return [start + stop * way for stop in ([*stops, far] if far > HOP else stops)]

    def _path(self, number: int) -> Path:
        """Return a path by its number: one that was found turned, below 0, or straight."""
        if number < 0:
            return self._turned[number][1]
        aside, which, side = _straight_ways(self._room.outs)[number]
        out, far = self._outs[which]
        if aside == 0.0:
            way = far * out
            return np.array([HERE, way] if out[2] else [HERE, LIFT, LIFT + way])
        there = aside * side + (0.0 if side[2] else 1.0) * LIFT
        return np.array([HERE, there, there + far * out])

    def _turning(self, present: frozenset[int]) -> Iterator[list[Placement]]:
        """Yield paths by which it is lifted, turned in the tank or in the opening, and led out."""
        pose = self.paths.pose
        lifts = [self._centre + np.array([0.0, 0.0, lift]) for lift in LIFTS]
        lifts = [at for at in lifts if self.paths.bar([IDENTITY, pose(np.eye(3), at)], present) is None]
        if not lifts:  # under a brace: it comes out from under that first
            lifts = [
                self._centre + there
                for side in _square_to(np.array(UP))
                for there in self._stops(np.zeros(3), side, present)
            ]
        for fit, slid in ((each, slid) for each in self._fits for slid in slides(each)):
            climb = fit.way / fit.way[2]
            over = np.array([*(fit.over + slid * climb[:2]), self._room.rim])
            out = pose(fit.turn, over + (self._room.over_all - self._room.rim) * climb)
            for lifted, depth in itertools.product(lifts, DEPTHS):
                below = over - depth * (self._room.rim - lifted[2]) * climb
                before, inside = pose(np.eye(3), lifted), pose(fit.turn, below)
                if self.paths.bar_at([(inside, inside.offset[None])], present) is not None:
                    self.tried += 1
                    continue
                yield [IDENTITY, before, inside, out]
                yield [IDENTITY, before, pose(np.eye(3), below), inside, out]
                yield [IDENTITY, before, pose(fit.turn, lifted), inside, out]

    def _way(self, path: Path) -> Way:
        poses = path if isinstance(path, list) else [*map(Placement.at, path)]
        return Way(poses=tuple(poses[::-1]), centre=vector(self._centre), tried=self.tried)

    def _known_free(self, number: int, present: frozenset[int]) -> bool:
        """Tell whether nothing that is present is met along a path by number; what is found out is kept."""
        if number not in self._seen:
            self._seen.add(number)
            self.tried += 1
        if number == len(self._straights):
            self._straights.append(Past())
        past = self._turned[number][0] if number < 0 else self._straights[number]
        free = self.paths.free(number, past, lambda: self._path(number), present)
        self._last = number if free else self._last
        return free


@functools.cache
def _straight_ways(outs: tuple[Vector, ...]) -> list[tuple[float, int, Array]]:
    """Return how far aside each straight path goes first, by which of the ways out, and to which side."""
    out = [(0.0, which, np.zeros(3)) for which in range(len(outs))]
    for aside, which in itertools.product(ASIDE, range(len(outs))):
        out += [(aside, which, side) for side in _square_to(np.array(outs[which]))]
    return out


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
