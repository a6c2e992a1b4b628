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

import numpy as np
from numpy.typing import NDArray

from layout3d.shop.opening import Fit, angle_of, fits, with_ease
from layout3d.solid.distance import overlap
from layout3d.solid.moving import Moving
from layout3d.solid.placement import IDENTITY, Placement, Vector, along
from layout3d.solid.shape import Solid

__all__ = ["STEP", "UP", "Leg", "Passage", "Way"]

Array = NDArray[np.float64]

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
    """A piece that has to get out of the tank, past others; what bars a way is worked out once.

    ``outs`` are the ways that lead out, along axes; ``step`` takes the place of ``STEP`` for thin walls.
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
        self._step, self._others = step, others
        self._outs = [np.array(out) for out in outs]
        boxes = [np.array(list(itertools.product(*other.bounds.T))) for other in others]
        self._boxes = np.concatenate([np.zeros((0, 3)), *boxes])
        self._solid, self._rim, self._openings = solid, rim, openings
        self._moving = Moving(solid, others)
        self._centre = solid.centroid
        self._reach = float(np.linalg.norm(self._moving.corners(IDENTITY) - self._centre, axis=1).max())
        self._touched = frozenset(self._moving.met(IDENTITY))
        top = max([rim, *(float(other.bounds[1, 2]) for other in others)])
        self._over_all = top + self._reach + OVER  # here the centroid is over all, the piece turned anyhow
        self._bars: dict[int, tuple[set[int], set[int]]] = {}  # what bars a path, and what is clear of it
        self._turned: dict[int, list[Placement]] = {}
        self._last: tuple[int, list[Placement]] = (0, [])
        self._barred: list[frozenset[int]] = []

    def straight(self, present: frozenset[int]) -> Way | None:
        """Return a way out without a turn past those of the others, by number; None for none tried."""
        for number, path in enumerate(self._straights()):
            if self._known_free(number, path, present):
                self._last = number, path
                return self._way(path)
        return None

    @cached_property
    def shared(self) -> frozenset[int]:
        """Return the others that it shares space with at its place: a fault by itself, never in its way."""
        return frozenset(k for k in self._touched if overlap(self._solid, self._others[k]) is not None)

    @cached_property
    def fits(self) -> list[Fit]:
        """Return the positions in which its hull passes an opening, as ``fits`` tells."""
        found = [fit for opening in self._openings for fit in fits(self._solid, opening)]
        return sorted(found, key=with_ease)

    def turned(self, present: frozenset[int]) -> Way | None:
        """Return a way out on which it is turned; None for none tried."""
        for number, path in self._turned.items():
            if self._known_free(number, path, present):
                self._last = number, path
                return self._way(path)
        if any(barred <= present for barred in self._barred):
            return None
        for path in self._turning(present):
            self.tried += 1
            if self._first_met(path, present) is None:
                number = -1 - len(self._turned)
                self._last = number, self._turned.setdefault(number, path)
                return self._way(path)
        self._barred.append(present)
        return None

    def roundabout(self, present: frozenset[int]) -> Way | None:
        """Return a way out with up to three moves aside before, without a turn; None for none tried."""
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
            for path, out in itertools.product(beyond, self._outs):
                self.tried += 1
                there = path[-1].offset
                end = Placement.at(there + (self._far(out) - float(there @ out)) * out)
                if self._first_met([path[-1], end], present) is None:
                    return self._way([*path, end])
            edge = beyond
        return None

    def _stops(self, start: Array, way: Array, present: frozenset[int]) -> list[Array]:
        """Return where to stop on a move from one place (3,) along a way: some, and its free end."""
        far = 0.0
        while far < ASIDE[-1] and not self._met(Placement.at(start + (far + self._step) * way), present):
            far += self._step
        stops = [aside for aside in ASIDE[2:] if aside < far - HOP]
        return [start + stop * way for stop in ([*stops, far] if far > HOP else stops)]

    def bars(self, others: frozenset[int]) -> bool:
        """Tell whether one of the others bars the way that was returned last."""
        return not self._known_free(*self._last, others)

    def _straights(self) -> Iterator[list[Placement]]:
        """Yield paths out along each way out, and aside square to it before, a little and then more."""
        for out in self._outs:
            way = self._far(out) * out
            yield [IDENTITY, Placement.at(way)] if out[2] else [IDENTITY, LIFTED, Placement.at(LIFT + way)]
        for aside, out in itertools.product(ASIDE, self._outs):
            for side in _square_to(out):
                there = aside * side + (0.0 if side[2] else 1.0) * LIFT
                yield [IDENTITY, Placement.at(there), Placement.at(there + self._far(out) * out)]

    def _far(self, out: Array) -> float:
        """Return how far the piece goes until it is past all others along a way out."""
        ends = self._boxes @ out
        own = float(along(self._moving.corners(IDENTITY), out).min())
        return max(float(ends.max(initial=own)), float(self._rim * out[2])) - own + OVER

    def _turning(self, present: frozenset[int]) -> Iterator[list[Placement]]:
        """Yield paths by which it is lifted, turned in the tank or in the opening, and led out."""
        lifts = [self._centre + np.array([0.0, 0.0, lift]) for lift in LIFTS]
        lifts = [
            there
            for there in lifts
            if self._first_met([IDENTITY, self._pose(np.eye(3), there)], present) is None
        ]
        for fit, slid in ((each, slid) for each in _unlike(self.fits) for slid in _slid(each)):
            climb = fit.way / fit.way[2]
            over = np.array([*(fit.over + slid * climb[:2]), self._rim])
            out = self._pose(fit.turn, over + (self._over_all - self._rim) * climb)
            for lifted, depth in itertools.product(lifts, DEPTHS):
                below = over - depth * (self._rim - lifted[2]) * climb
                before, inside = self._pose(np.eye(3), lifted), self._pose(fit.turn, below)
                if self._met(inside, present):
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
        met = self._first_met(path, present - clear)
        (clear if met is None else bars).update(present if met is None else met)
        return met is None

    def _first_met(self, path: Sequence[Placement], present: frozenset[int]) -> frozenset[int] | None:
        """Return those present that are met at the first pose of a path where any are; None for none."""
        if not present:
            return None
        legs = itertools.pairwise(path)
        poses = itertools.chain(path[1:], (pose for start, end in legs for pose in self._between(start, end)))
        return next((met for pose in poses if (met := self._met(pose, present))), None)

    def _between(self, start: Placement, end: Placement) -> Iterator[Placement]:
        """Yield the poses of a leg between its ends, the middle first."""
        begin, shift = start.apply(self._centre), end.apply(self._centre) - start.apply(self._centre)
        turn = end.rotation @ start.rotation.T
        axis, angle = _axis(turn), angle_of(turn)
        for share in _spread_out(
            math.ceil((float(np.linalg.norm(shift)) + angle * self._reach) / self._step)
        ):
            part = (
                Placement.turned(axis, share * angle).rotation @ start.rotation if angle else start.rotation
            )
            yield self._pose(part, begin + share * shift)

    def _met(self, pose: Placement, present: frozenset[int]) -> frozenset[int]:
        """Return which of those present it meets, but for what it touches at its place, near that."""
        met = frozenset(self._moving.met(pose, present))
        if met & self._touched:
            met -= self.shared
        if not met:
            return met
        moved = float(np.linalg.norm(pose.apply(self._centre) - self._centre))
        return met - self._touched if moved + angle_of(pose.rotation) * self._reach <= HOP else met


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
