"""Which cells of a grid a closed solid has any part in: exact, however thin, and kept by solid and grid."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from layout3d.keep import Form, code_of, kept, key_of
from layout3d.plain import form_of
from layout3d.solid.contain import inside
from layout3d.solid.shape import Points, Solid
from layout3d.swim.joined import joined

__all__ = ["Cells", "Grid", "cells_of"]

AT_ONCE = 50_000  # pieces of faces worked on at a time: they stay in the processor's own memory

Mask = NDArray[np.bool_]
Whole = NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Grid:
    """Cubes side by side: ``low`` (3,) is the middle of the first, ``cell`` the edge of each, [m]."""

    low: tuple[float, float, float]
    cell: float
    counts: tuple[int, int, int]

    def of(self, points: Points) -> Points:
        """Return points, (..., 3) [m], in cells: the first reaches from 0 to 1."""
        found: Points = (points - np.array(self.low)) / self.cell + 0.5
        return found


@dataclass(frozen=True, slots=True)
class Cells:
    """A block of a grid's cells, from its cell ``first`` on.

    ``surface`` tells through which of them a solid's surface runs, ``within`` which lie wholly inside; both
    (i, j, k), x running fastest.
    """

    first: tuple[int, int, int]
    surface: Mask
    within: Mask

    @property
    def block(self) -> tuple[slice, slice, slice]:
        """Return the place of the block in an array of all cells."""
        x, y, z = (slice(start, start + n) for start, n in zip(self.first, self.surface.shape, strict=True))
        return x, y, z


def _told(cells: Cells) -> tuple[object, ...]:
    return cells.first, cells.surface.shape, np.packbits(np.stack([cells.surface.T, cells.within.T]))


def _read(told: tuple[tuple[int, int, int], tuple[int, int, int], NDArray[np.uint8]]) -> Cells:
    first, counts, packed = told
    bits = np.unpackbits(packed, count=2 * math.prod(counts)).astype(bool)
    surface, within = bits.reshape(2, *counts[::-1])
    return Cells(first, surface.T, within.T)


CELLS: Form[Cells] = form_of(
    "cells", size=lambda cells: 2 * cells.surface.size, others={Cells: (_told, _read)}
)


def cells_of(solid: Solid, grid: Grid) -> Cells:
    """Return the cells of a grid that a closed solid has any part in; an empty block where there are none.

    A point exactly between two cells is in the upper one.
    """
    return kept(key_of("cells", code_of("solid", "swim"), solid, grid), CELLS, lambda: _cells(solid, grid))


def _cells(solid: Solid, grid: Grid) -> Cells:
    corners = grid.of(solid.vertices)
    # a cell more all round, so that what is outside hangs together
    low = np.maximum(np.floor(corners.min(axis=0)).astype(np.int64) - 1, 0)
    high = np.minimum(np.floor(corners.max(axis=0)).astype(np.int64) + 1, np.array(grid.counts) - 1)
    first = (int(low[0]), int(low[1]), int(low[2]))
    if (high < low).any():
        nothing = np.zeros((0, 0, 0), dtype=bool)
        return Cells((0, 0, 0), nothing, nothing)
    surface = _touched((corners - low)[solid.faces], high - low + 1)
    # what hangs together beside the surface is in or out as any one cell of it is
    numbers, count = joined(~surface)
    one = np.zeros(count + 1, dtype=np.int64)
    one[numbers.ravel(order="K")] = np.arange(numbers.size)
    z, y, x = np.unravel_index(one[1:], numbers.T.shape)
    fills = np.zeros(count + 1, dtype=bool)
    fills[1:] = inside(solid, np.array(grid.low) + grid.cell * (np.column_stack([x, y, z]) + low))
    return Cells(first, surface, fills[numbers])


def _touched(corners: Points, counts: Whole) -> Mask:
    """Return the cells that triangles (m, 3, 3), in cells, have a place in.

    A triangle is cut into layers one cell high, each layer into rows one cell deep; of each row it is found
    how far it reaches along x. The cut is known by its corners: ends of what lies in it of the sides, and
    where edges of the row run through the triangle.
    """
    touched = np.zeros(tuple(counts), dtype=bool, order="F")
    first, last = (np.floor(end(axis=1)).astype(np.int64) for end in (corners.min, corners.max))
    near = ((first < counts) & (last >= 0)).all(axis=1)
    corners, first, last = corners[near], first[near], last[near]
    small = (first == last).all(axis=1)
    touched[tuple(first[small].T)] = True
    corners, first, last = corners[~small], first[~small], last[~small]
    most = counts - 1  # what lies past the grid's ends is left out, not drawn in to them
    for part, face, layer in _numbered(np.maximum(first[:, 2], 0), np.minimum(last[:, 2], most[2])):
        found = _Cut(corners[part], face)
        found.between(2, layer)
        low, high = (
            np.clip(np.floor(end).astype(np.int64), first[part][face, 1], last[part][face, 1])
            for end in found.reach(1)
        )
        for inner, piece, row in _numbered(np.maximum(low, 0), np.minimum(high, most[1])):
            of, level = face[inner][piece], layer[inner][piece]
            cut = _Cut(corners[part], of)
            cut.between(2, level)
            cut.between(1, row)
            left, right = cut.reach(0)
            left, right = cut.through(level, row, left, right)
            some = left <= right
            begin, end = (
                np.clip(
                    np.floor(side[some]).astype(np.int64), first[part][of[some], 0], last[part][of[some], 0]
                )
                for side in (left, right)
            )
            row, level = row[some], level[some]
            for runs, run, x in _numbered(np.maximum(begin, 0), np.minimum(end, most[0])):
                touched[x, row[runs][run], level[runs][run]] = True
    return touched


class _Cut:
    """What lies of triangles between pairs of parallel planes, by the part of each side that does."""

    def __init__(self, corners: Points, face: Whole) -> None:
        self._a = corners.transpose(1, 2, 0)[:, :, face]  # (corner, axis, piece)
        self._along = np.roll(self._a, -1, axis=0) - self._a
        self._from = np.zeros(self._a[:, 0].shape)
        self._to = np.ones(self._a[:, 0].shape)

    def between(self, axis: int, number: Whole) -> None:
        """Keep what lies in the layer of cells of that number along an axis."""
        start, along = self._a[:, axis], self._along[:, axis]
        flat = along == 0.0
        steps = np.where(flat, 1.0, along)
        one, other = (number - start) / steps, (number + 1 - start) / steps
        # a side along the layer lies in it wholly or not at all
        beside = flat & ((one > 0.0) | (other < 0.0))
        self._from = np.where(flat, self._from, np.maximum(self._from, np.minimum(one, other)))
        self._to = np.where(flat, self._to, np.minimum(self._to, np.maximum(one, other)))
        self._to[beside] = -1.0

    def reach(self, axis: int) -> tuple[Points, Points]:
        """Return how far the kept sides reach along an axis: from infinity down where nothing is kept."""
        some = self._from <= self._to
        ends = [self._a[:, axis] + share * self._along[:, axis] for share in (self._from, self._to)]
        low = np.where(some, np.minimum(*ends), np.inf).min(axis=0)
        high = np.where(some, np.maximum(*ends), -np.inf).max(axis=0)
        return low, high

    def through(self, level: Whole, row: Whole, low: Points, high: Points) -> tuple[Points, Points]:
        """Return the reach along x with where the four edges of rows run through the triangles."""
        a, u, v = self._a[0], self._along[0], -self._along[2]
        area = u[1] * v[2] - u[2] * v[1]
        some = area != 0.0  # along x its own sides reach as far
        area = np.where(some, area, 1.0)
        for upper in (0, 1):
            for farther in (0, 1):
                y, z = row + farther - a[1], level + upper - a[2]
                s, t = (y * v[2] - z * v[1]) / area, (u[1] * z - u[2] * y) / area
                x = a[0] + s * u[0] + t * v[0]
                met = (s >= 0.0) & (t >= 0.0) & (s + t <= 1.0) & some
                low = np.where(met, np.minimum(low, x), low)
                high = np.where(met, np.maximum(high, x), high)
        return low, high


def _numbered(first: Whole, last: Whole) -> Iterator[tuple[slice, Whole, Whole]]:
    """Count each row from ``first`` to ``last``, some rows at a time.

    Yields
    ------
    A slice of the rows; of each number in them the place of its row in the slice; and the numbers.
    """
    ends = np.cumsum(np.maximum(last - first + 1, 0))
    begin = 0
    while begin < len(ends):
        done = int(ends[begin - 1]) if begin else 0
        stop = max(int(np.searchsorted(ends, done + AT_ONCE, side="right")), begin + 1)
        part = slice(begin, stop)
        each = np.diff(ends[part], prepend=done)
        row = np.repeat(np.arange(stop - begin), each)
        yield part, row, np.arange(len(row)) - (ends[part] - each - done)[row] + first[part][row]
        begin = stop
