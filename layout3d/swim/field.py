"""How far each place of a water is from what bounds it, on a grid, with its error. No fish is judged.

A ball of radius r fits with its middle wherever the clearance is r or more; where such places hang together
it can swim from one to the other.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from layout3d.solid.shape import Points, Solid

__all__ = ["Clearance", "clearance"]

SIDE = 0.7  # of a piece of the surface that reaches over cells, as a share of a cell, [-]

Grid = NDArray[np.float64]
Mask = NDArray[np.bool_]


@dataclass(frozen=True, kw_only=True)
class Clearance:
    """Clearance of the middles of cells, [m]: 0 outside of the water.

    ``distance`` (nx, ny, nz) is to the nearest cell that the surface is in; ``low`` (3,) the middle of the
    first cell; ``cell`` its edge, all [m]. The true clearance is less by no more than ``error[0]`` less half
    a cell, and more by no more than half a cell's diagonal.
    """

    distance: Grid
    low: Points
    cell: float

    @property
    def error(self) -> tuple[float, float]:
        """Return how far the radius of a way may be below and above what the distances say, [m].

        Notes
        -----
        A cell with a piece of the surface has its middle within half a diagonal of it, and no place of the
        surface is farther than SIDE / √3 cells from such a piece. Clearance changes by no more than the way
        gone: along a way of cells that share faces it falls between two middles by half a cell at most, and
        the best way passes within half a diagonal of a middle.
        """
        half = math.sqrt(3.0) / 2.0
        return (half + SIDE / math.sqrt(3.0) + 0.5) * self.cell, 2.0 * half * self.cell

    def at(self, cell: NDArray[np.int64] | tuple[int, ...]) -> Points:
        """Return the middle of a cell, (3,), [m]."""
        middle: Points = self.low + self.cell * np.asarray(cell, dtype=np.float64)
        return middle

    def joined(self, radius: float, within: Mask | None = None) -> tuple[NDArray[np.int32], int]:
        """Return which cells a ball's middle can get to from each other, numbered from 1, and how many sets.

        Parameters
        ----------
        radius : [m], of the ball; certain: it fits for all of ``error``
        within : cells that the way may lead through
        """
        from scipy.ndimage import label

        open_to = self.fits(radius) if within is None else self.fits(radius) & within
        numbers, count = label(open_to)
        return numbers, int(count)

    def fits(self, radius: float) -> Mask:
        """Return the cells in which a ball's middle can be, or pass on to the next one, for certain."""
        found: Mask = self.distance >= radius + self.error[0]
        return found

    def widest(self, start: Mask, end: Mask, within: Mask | None = None) -> float:
        """Return the diameter of the largest ball that gets from one set of cells to another, [m].

        It does for certain; what does not is up to the sum of ``error`` wider, twice. 0.0 where none does.
        """
        low, high = 0.0, float(self.distance.max(initial=0.0))
        for _ in range(math.ceil(math.log2(max(high / (self.cell / 16.0), 2.0)))):
            middle = (low + high) / 2.0
            numbers, _count = self.joined(middle, within)
            here, there = np.unique(numbers[start]), np.unique(numbers[end])
            common = np.intersect1d(here[here > 0], there[there > 0])
            low, high = (middle, high) if len(common) else (low, middle)
        return 2.0 * low

    def filled(self, middles: Mask, radius: float) -> float:
        """Return the volume of the water that balls reach for certain, [m³].

        ``middles`` are cells of ``fits(radius)``: from each the ball moves half a cell to all sides.
        """
        from scipy.ndimage import distance_transform_edt

        where = np.argwhere(middles)
        if not len(where):
            return 0.0
        reach = math.ceil(radius / self.cell) + 1
        near = tuple(
            slice(max(int(low) - reach, 0), int(high) + reach + 1)
            for low, high in zip(where.min(axis=0), where.max(axis=0), strict=True)
        )
        off = distance_transform_edt(~middles[near], sampling=self.cell)
        return float(((off <= radius + self.cell / 2.0) & (self.distance[near] > 0.0)).sum()) * self.cell**3


def clearance(space: Solid, cell: float) -> Clearance:
    """Measure the clearance in a water.

    Parameters
    ----------
    space : the water, closed
    cell : edge of the grid's cells, [m]
    """
    from scipy.ndimage import distance_transform_edt

    low, high = space.bounds
    counts = np.maximum(np.ceil((high - low) / cell).astype(int), 1) + 2  # with a ring around it
    first = (low + high) / 2.0 - (counts - 1) / 2.0 * cell
    free = _inside(space, first, counts, cell)
    _close_touched(free, space, first, cell)
    return Clearance(distance=distance_transform_edt(free, sampling=cell), low=first, cell=cell)


def _close_touched(free: Mask, space: Solid, first: Points, cell: float) -> None:
    """Close the cells that have a piece of a surface in them.

    Triangles are halved across their longest side until they lie in one cell, or are so small that no place
    of them is farther than SIDE / √3 cells from one of their corners.
    """
    corners = space.vertices[space.faces]
    while len(corners):
        cells = np.rint((corners - first) / cell).astype(np.int64)
        sides = np.linalg.norm(corners - np.roll(corners, -1, axis=1), axis=2)
        free[cells[..., 0], cells[..., 1], cells[..., 2]] = False
        over = (cells != cells[:, :1]).any(axis=(1, 2)) & (sides.max(axis=1) > SIDE * cell)
        corners, longest = corners[over], sides[over].argmax(axis=1)
        a, b, c = (corners[np.arange(len(corners)), (longest + k) % 3] for k in range(3))
        middle = (a + b) / 2.0
        corners = np.concatenate([np.stack([a, middle, c], axis=1), np.stack([middle, b, c], axis=1)])


def _inside(space: Solid, first: Points, counts: NDArray[np.int64], cell: float) -> Mask:
    """Return which cells' middles lie in a closed solid: how often upright lines enter it, less leave it."""
    # lines run a hair beside the middles: exactly over an edge it would count for both faces or for none
    start = first[:2] + cell * np.array([1.234e-5, 2.718e-5])
    corners = space.vertices[space.faces]
    plan = corners[:, :, :2]
    begin = np.ceil((plan.min(axis=1) - start) / cell).astype(int).clip(0)
    end = np.minimum(np.floor((plan.max(axis=1) - start) / cell).astype(int), counts[:2] - 1)
    wide = (end - begin + 1).clip(0)
    each = wide[:, 0] * wide[:, 1]
    face = np.repeat(np.arange(len(each)), each)
    number = np.arange(len(face)) - np.repeat(np.cumsum(each) - each, each)
    column = begin[face] + np.column_stack([number // wide[face, 1], number % wide[face, 1]])
    at = start + cell * column
    a, b, c = plan[face].transpose(1, 0, 2)
    area = _cross(b - a, c - a)
    some = area != 0.0
    face, column, at, area = face[some], column[some], at[some], area[some]
    a, b, c = a[some], b[some], c[some]
    u, v = _cross(at - a, c - a) / area, _cross(b - a, at - a) / area
    hit = (u >= 0.0) & (v >= 0.0) & (u + v <= 1.0)
    face, column, u, v, up = face[hit], column[hit], u[hit], v[hit], np.sign(area[hit])
    heights = corners[face, :, 2]
    height = (1.0 - u - v) * heights[:, 0] + u * heights[:, 1] + v * heights[:, 2]
    above = np.ceil((height - first[2]) / cell).astype(int).clip(0, counts[2])
    crossings = np.zeros((*counts[:2], counts[2] + 1))
    np.add.at(crossings, (column[:, 0], column[:, 1], above), -up)  # a face that looks down lets in
    within: Mask = np.cumsum(crossings, axis=2)[:, :, :-1] > 0.5
    return within


def _cross(a: Points, b: Points) -> Points:
    product: Points = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
    return product
