"""Paths of a rigid piece past others that stay, pose by pose past the exact meshes: what bars it.

A pose that is met is enough to know that a path is barred; so likely ones are looked at first: where the
piece was barred before and where other paths are. Where it is clear of another by so much, it is so at all
poses nearer than that: most need not be looked at. What is found of a path without a turn is kept by what
bars it and by all that it is clear of, so that what is moved elsewhere is looked at alone.
"""

from __future__ import annotations

import hashlib
import itertools
import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from layout3d.keep import Form, remembered
from layout3d.plain import form_of
from layout3d.shop.opening import angle_of
from layout3d.solid.distance import laps, meet
from layout3d.solid.moving import CLEAR, Moving, met_along
from layout3d.solid.placement import IDENTITY, Array, Placement
from layout3d.solid.shape import Solid

__all__ = ["HERE", "HOP", "PASTS", "Past", "Path", "Paths"]

HERE = np.zeros(3)
HOP = 0.012  # so far from its place it may still touch what it touches there, [m]
MOST_PLACES, HELD = 10_000, 1_000_000  # of a piece that are held; what they take, about, [bytes]
MOST_BARS = 100  # of a path that are held, [-]
GUESSES = 2  # of what barred other paths, for each

Path: TypeAlias = Array | list[Placement]
"""Where a piece is led, from its place: of one that is not turned how far it is shifted, (n, 3), [m]."""
_Leg: TypeAlias = tuple[Placement, Array]  # poses, each a turn as a move has it and an offset (3,), [m]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Bar:
    """That a path is barred by one of the others, by number, at a place of a leg; how the piece lies there.

    ``offset`` (3,), [m], is as a placement has it; ``box`` (2, 3) the lowest and highest corner, [m].
    """

    leg: int
    place: int
    index: int
    offset: Array
    box: Array


@dataclass(slots=True)
class Past:
    """What is known of a path: by content what bars it, in which box, and all it is clear of, in which."""

    bars: dict[str, Array] = field(default_factory=dict)
    clear: frozenset[str] = frozenset()
    boxes: Array = field(default_factory=lambda: np.zeros((0, 2, 3)))


PASTS: Form[Sequence[Past]] = form_of("pasts of paths", Past, size=lambda _: HELD)


class Paths:
    """A piece that is led past others; what it meets where is looked at once.

    ``looked`` are the boxes (2, 3) that were looked into; ``step`` is that of the point that moves
    most, between poses, and ``reach`` how far the piece reaches from its centroid, [m].
    """

    def __init__(self, solid: Solid, others: Sequence[Solid], *, step: float, reach: float) -> None:
        self._solid, self._others, self._step, self._reach = solid, others, step, reach
        self._keys = [hashlib.sha256(other.content_key).hexdigest() for other in others]
        self._moving = Moving(solid, others)
        self._centre = solid.centroid
        self._here = self._moving.course(IDENTITY, HERE[None])
        self.looked = {b"": self._here.boxes[0]}
        # how far from what it is where: that of others that stay holds wherever some are moved
        self._known: dict[tuple[bytes, bytes, bytes], float] = remembered(
            "clear on ways", solid, make=dict, size=lambda _: HELD
        )
        # what barred a path last wherever the piece lay, and where on its way
        self._before: dict[int, Bar] = remembered("barred", solid.shape, make=dict, size=lambda _: HELD)
        # what bars other paths that end the same way, and where that is
        self._lately: dict[bytes, dict[int, Array]] = {}
        self._present: tuple[frozenset[int], dict[str, int]] = frozenset(), {}

    def free(self, number: int, past: Past, path: Callable[[], Path], present: frozenset[int]) -> bool:
        """Tell whether nothing that is present is met along a path; what is found out is added to its past.

        What barred the path of the same number, wherever the piece then was, is looked at first.
        """
        if self._present[0] != present:
            self._present = present, {self._keys[index]: index for index in sorted(present)}
        keys = self._present[1]
        for key in past.bars.keys() & keys.keys():
            self._look_into(past.bars[key])
            return False
        rest = frozenset(index for key, index in keys.items() if key not in past.clear)
        if rest:
            led = path()
            bar = self.bar(led, rest, number)
            if bar is not None:
                self._before[number] = bar
                if len(past.bars) >= MOST_BARS:
                    past.bars.clear()
                past.bars[self._keys[bar.index]] = bar.box
                return False
            if not isinstance(led, list):
                ends, (low, high) = np.stack([led[:-1], led[1:]]), self._here.boxes[0]
                past.boxes = np.stack([ends.min(axis=0) + low, ends.max(axis=0) + high], axis=1)
            past.clear = frozenset(keys)
        for box in past.boxes:
            self._look_into(box)
        return True

    def bar(self, path: Path, present: frozenset[int], number: int | None = None) -> Bar | None:
        """Return what of those present bars a path, and where; None for nothing."""
        if isinstance(path, list):
            legs = itertools.pairwise(path)
            return next(filter(None, (self._bar_of_turn(*leg, present) for leg in legs)), None)
        offsets = [self._offsets(*leg) for leg in itertools.pairwise(path)]
        lately = self._lately.setdefault(np.sign((path[-1] - path[-2]).round(9)).tobytes(), {})
        for leg, place, index in self._guesses(number, offsets, lately, present):
            if self._is_bar(IDENTITY, offsets[leg][place], index):
                return self._bar(leg, place, index, IDENTITY, offsets[leg][place])
        bar = self.bar_at([(IDENTITY, each) for each in offsets], present)
        if bar is not None:
            lately.pop(bar.index, None)
            lately[bar.index] = bar.offset
        return bar

    def bar_at(self, legs: Sequence[_Leg], present: frozenset[int], *, first: bool = False) -> Bar | None:
        """Return what bars one of the poses of legs, each unturned along it, and where; None for nothing.

        The ``first`` is told where that is asked for, else any. What it touches at its place is not in its
        way near that, and what it shares space with, a fault by itself, never.
        """
        courses = [self._moving.course(*leg) for leg in legs]
        here, looks = np.zeros(len(self._others), dtype=bool), []
        here[list(present)] = True
        for (move, offsets), course in zip(legs, courses, strict=True):
            look = course.near & here
            home = self._home(move, offsets)
            for index in np.flatnonzero(look[home].any(axis=0)).tolist():
                if self._touches(index):
                    look[home, index] = False
            looks.append(look)
        met = met_along(
            courses,
            looks,
            lambda leg, place, k: self._clear(legs[leg][0], legs[leg][1][place], k),
            first=first,
        )
        past = [course.boxes for course in courses]
        if met is not None:
            past = [*past[: met[0]], past[met[0]][: met[1]]] if first else []
        for boxes in filter(len, past):
            self._look_into(np.stack([boxes[:, 0].min(axis=0), boxes[:, 1].max(axis=0)]))
        return None if met is None else self._bar(*met, legs[met[0]][0], legs[met[0]][1][met[1]])

    def pose(self, turn: Array, centre: Sequence[float] | Array) -> Placement:
        """Return the move that turns the piece and brings its centroid to a place (3,), [m]."""
        return Placement(turn, np.asarray(centre) - turn @ self._centre)

    def _guesses(
        self,
        number: int | None,
        legs: Sequence[Array],
        lately: dict[int, Array],
        present: frozenset[int],
    ) -> Iterator[tuple[int, int, int]]:
        """Yield the legs and places where a path is likely to be barred, and by which of those present."""
        bar = self._before.get(number) if number is not None else None
        if bar and bar.index in present and bar.leg < len(legs) and bar.place < len(legs[bar.leg]):
            yield bar.leg, bar.place, bar.index
        for index in [index for index in reversed(lately) if index in present][:GUESSES]:
            off = [np.linalg.norm(offsets - lately[index], axis=1) for offsets in legs]
            leg = min(range(len(legs)), key=lambda leg: float(off[leg].min()))
            yield leg, int(off[leg].argmin()), index

    def _offsets(self, start: Array, end: Array) -> Array:
        """Return how far it is shifted at the poses of a leg but for its start, (n, 3), [m]."""
        begin = self._centre + start
        shift = self._centre + end - begin
        count = math.ceil(float(np.linalg.norm(shift)) / self._step)
        return np.vstack([begin + np.arange(1, count)[:, None] / count * shift - self._centre, end])

    def _bar_of_turn(self, start: Placement, end: Placement, present: frozenset[int]) -> Bar | None:
        """Return what bars a leg from one pose to another, turned or not; None for nothing."""
        begin, shift = start.apply(self._centre), end.apply(self._centre) - start.apply(self._centre)
        turn = end.rotation @ start.rotation.T
        angle = angle_of(turn)
        far = float(np.linalg.norm(shift)) + angle * self._reach
        count = math.ceil(far / self._step)
        if not angle:
            between = begin + np.arange(1, count)[:, None] / count * shift - start.rotation @ self._centre
            return self.bar_at([(start, between), (end, end.offset[None])], present)
        axis, known = _axis(turn), dict[int, list[tuple[float, float]]]()
        for share in (1.0, *_spread_out(count)):
            part = Placement.turned(axis, share * angle).rotation @ start.rotation
            pose = end if share == 1.0 else self.pose(part, begin + share * shift)
            course = self._moving.course(pose, pose.offset[None])
            for index in np.flatnonzero(course.near[0]).tolist():
                clear = known.setdefault(index, [])
                if index in present and not any(abs(share - at) * far < off for at, off in clear):
                    if self._is_bar(pose, pose.offset, index):
                        return self._bar(0, 0, index, pose, pose.offset)
                    clear.append((share, self._clear(pose, pose.offset, index)))
            self._look_into(course.boxes[0])
        return None

    def _is_bar(self, move: Placement, offset: Array, index: int) -> bool:
        """Tell whether one of the others bars it at a pose."""
        met = self._clear(move, offset, index) < 0.0
        return met and not (self._touches(index) and self._home(move, offset[None])[0])

    def _bar(self, leg: int, place: int, index: int, move: Placement, offset: Array) -> Bar:
        (low, high), (begin, end) = self._moving.box(move, offset), self._others[index].bounds
        box = np.stack([np.maximum(low, begin), np.minimum(high, end)])
        self._look_into(box)  # what of that one lies there alone tells that it is barred
        return Bar(leg=leg, place=place, index=index, offset=offset, box=box)

    def _look_into(self, box: Array) -> None:
        self.looked[box.tobytes()] = box

    def _home(self, move: Placement, offsets: Array) -> NDArray[np.bool_]:
        """Tell where, (n,), it is so near its place that what it touches there is no bar."""
        moved = np.linalg.norm(move.direction(self._centre) + offsets - self._centre, axis=1)
        turned = 0.0 if move is IDENTITY else angle_of(move.rotation) * self._reach
        home: NDArray[np.bool_] = moved + turned <= HOP
        return home

    def _clear(self, move: Placement, offset: Array, index: int) -> float:
        """Return how far one of the others is from it at a pose, or less, [m]; below 0 where it bars it."""
        asked = move.rotation.tobytes(), offset.tobytes(), self._others[index].content_key
        found = self._known.get(asked)
        if found is None:
            if len(self._known) >= MOST_PLACES:
                self._known.clear()
            found = self._known[asked] = self._moving.clear(move, offset, index)
        return CLEAR if found < 0.0 and self._shares(index) else found

    def _touches(self, index: int) -> bool:
        """Tell whether it touches another at its place."""
        return meet(self._solid, self._others[index])

    def _shares(self, index: int) -> bool:
        """Tell whether it shares space with another at its place."""
        return laps(self._solid, self._others[index])


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
