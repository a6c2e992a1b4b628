"""How far each place of a water is from what bounds it, on a grid, with its error. No fish is judged.

A ball of radius r fits with its middle wherever the clearance is r or more; where such places hang together
it can swim from one to the other.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from layout3d.solid.shape import Points, Solid
from layout3d.swim.cells import Grid, Mask, cells_of
from layout3d.swim.joined import joined

__all__ = ["Cell", "Clearance", "clearance"]

FAR, FARTHEST = 40_000, 25_000  # squares that stand for no surface at all, and that are told, in cells
Squares = NDArray[np.uint16]
Cell = tuple[int, int, int]


@dataclass(frozen=True, kw_only=True)
class Clearance:
    """Clearance of the middles of cells: 0 outside of the water.

    ``squared`` (nx, ny, nz) is the square of the distance to the nearest cell that the surface is in, in
    cells, x running fastest; ``low`` (3,) the middle of the first cell, ``cell`` its edge, [m]. The true
    clearance is less than that distance by no more than ``error[0]`` less half a cell, and more by no more
    than half a cell's diagonal.
    """

    squared: Squares
    low: Points
    cell: float

    @property
    def distance(self) -> NDArray[np.float64]:
        """Return the distance to the nearest cell that the surface is in, (nx, ny, nz), [m]."""
        found: NDArray[np.float64] = self.cell * np.sqrt(self.squared)
        return found

    @property
    def error(self) -> tuple[float, float]:
        """Return how far the radius of a way may be below and above what the distances say, [m].

        Notes
        -----
        A cell with a place of the surface has its middle within half a diagonal of it, and no place of the
        surface lies outside of such cells. Clearance changes by no more than the way gone: along a way of
        cells that share faces it falls between two middles by half a cell at most, and the best way passes
        within half a diagonal of a middle.
        """
        half = math.sqrt(3.0) / 2.0
        return (half + 0.5) * self.cell, 2.0 * half * self.cell

    def at(self, cell: Cell) -> Points:
        """Return the middle of a cell, (3,), [m]."""
        middle: Points = self.low + self.cell * np.asarray(cell, dtype=np.float64)
        return middle

    def diameter(self, squared: int) -> float:
        """Return that of the ball that for certain fits and passes on at a squared distance in cells, [m]."""
        return 2.0 * max(self.cell * math.sqrt(squared) - self.error[0], 0.0)

    def fits(self, radius: float) -> Mask:
        """Return the cells in which a ball's middle can be, or pass on to the next one, for certain."""
        found: Mask = self.squared >= self._needs(radius)
        return found

    def joined(self, radius: float) -> tuple[NDArray[np.int32], int]:
        """Return which cells a ball's middle can get to from each other, numbered from 1, and how many sets.

        Parameters
        ----------
        radius : [m], of the ball; certain: it fits for all of ``error``
        """
        return joined(self.fits(radius))

    def widest(self, start: Mask, end: Mask, within: Mask | None = None) -> float:
        """Return the diameter of the largest ball that gets from one set of cells to another, [m].

        It does for certain; what does not is up to the sum of ``error`` wider, twice. 0.0 where none does.

        Parameters
        ----------
        within : cells that the way may lead through
        """
        field = self.squared if within is None else self.squared * within
        block = _block(field > 0)
        field = field[block]
        ends = [np.flatnonzero((side[block] & (field > 0)).T) for side in (start, end)]
        least = self._needs(0.0)
        low, high = least - 1, min(int(field.T.flat[side].max(initial=0)) for side in ends)
        middle = high  # often nothing on the way is narrower than its ends
        while low < high:
            numbers, count = joined(field >= middle)
            here, there = (_present(numbers.T.flat[side], count) for side in ends)
            low, high = (middle, high) if (here & there).any() else (low, middle - 1)
            middle = (low + high + 1) // 2
        return self.diameter(low) if low >= least else 0.0

    def gaps(self, home: Cell, places: Sequence[Cell], radius: float) -> list[float]:
        """Return the diameter of the largest ball that gets from each place home, [m]; 0.0 where none does.

        Parameters
        ----------
        radius : [m], of a ball that gets home from none of them
        """
        gaps = [0.0] * len(places)

        def look(low: int, high: int, asked: list[int]) -> None:
            """Tell of places that get home at a squared distance of ``low``, if any, and not of ``high``."""
            if not asked or high - low < 2:
                for index in asked:
                    gaps[index] = self.diameter(low) if low >= least else 0.0
                return
            middle = (low + high) // 2
            numbers, _ = joined(self.squared >= middle)
            got = [index for index in asked if numbers[places[index]] == numbers[home]]
            look(middle, high, got)
            look(low, middle, [index for index in asked if index not in got])

        least = self._needs(0.0)
        look(least - 1, self._needs(radius), list(range(len(places))))
        return gaps

    def filled(self, middles: Mask, radius: float) -> float:
        """Return the volume of the water that balls reach for certain, [m³].

        ``middles`` are cells of ``fits(radius)``: from each the ball moves half a cell to all sides.
        """
        if not middles.any():
            return 0.0
        reach = radius / self.cell + 0.5
        near = _block(middles, math.ceil(reach))
        most = math.floor(reach**2)
        off = _squared(~middles[near], most)
        return float(((off <= most) & (self.squared[near] > 0)).sum()) * self.cell**3

    def _needs(self, radius: float) -> int:
        """Return the least squared distance at which a ball fits for certain, in cells, at least 1."""
        return max(math.ceil(((radius + self.error[0]) / self.cell) ** 2), 1)


def clearance(space: Solid, cell: float, bodies: Iterable[Solid] = ()) -> Clearance:
    """Measure the clearance in a water.

    Parameters
    ----------
    space : what the water may fill, closed
    cell : edge of the grid's cells, [m]
    bodies : what takes of it, closed; what lies of them outside of it does nothing
    """
    low, high = space.bounds
    counts = np.maximum(np.ceil((high - low) / cell).astype(int), 1) + 2  # with a ring around it
    if (counts.min() / 2) ** 2 > FARTHEST:
        raise ValueError(f"clearance: cells of {cell} m are too small for a space of {high - low} m")
    first = (low + high) / 2.0 - (counts - 1) / 2.0 * cell
    x, y, z = first.tolist()
    nx, ny, nz = counts.tolist()
    grid = Grid(low=(x, y, z), cell=cell, counts=(nx, ny, nz))
    free = np.zeros(grid.counts, dtype=bool, order="F")
    found = cells_of(space, grid)
    free[found.block] = found.within
    for body in bodies:
        found = cells_of(body, grid)
        free[found.block] &= ~(found.surface | found.within)
    near = _block(free, 1)
    start = np.array([part.start for part in near])
    return Clearance(squared=_squared(free[near], FARTHEST), low=first + cell * start, cell=cell)


def _squared(free: Mask, most: int) -> Squares:
    """Return the squared distance of each cell to the nearest one that is not free, in cells.

    It is exact where it is ``most`` (of FARTHEST at the most) or less, and more than that elsewhere.

    Notes
    -----
    One axis after another: the least of squares along a line, of that along the lines across it, and so on.
    Saito, Toriwaki 1994, Pattern Recognition 27(11), 1551-1565 (from memory).
    """
    found = np.where(free, np.uint16(FAR), np.uint16(0))
    for axis in (2, 1, 0):
        before, found = found, found.copy(order="K")
        shifted, to = np.moveaxis(np.zeros_like(before), axis, 0), np.moveaxis(found, axis, 0)
        for step in range(1, before.shape[axis]):
            if step**2 > min(int(found.max()), most):
                break
            np.add(np.moveaxis(before, axis, 0), np.uint16(step**2), out=shifted)
            np.minimum(to[step:], shifted[:-step], out=to[step:])
            np.minimum(to[:-step], shifted[step:], out=to[:-step])
    return found


def _present(numbers: NDArray[np.int32], count: int) -> Mask:
    """Tell which sets are among numbers, (count + 1,); what is in none is not told."""
    found = np.zeros(count + 1, dtype=bool)
    found[numbers] = True
    found[0] = False
    return found


def _block(mask: Mask, around: int = 0) -> tuple[slice, slice, slice]:
    """Return the block of all cells of a mask, with so many around it; one cell where there are none."""
    ends = []
    for axis in range(3):
        some = np.flatnonzero(mask.any(axis=tuple(other for other in range(3) if other != axis)))
        low, high = (int(some[0]), int(some[-1])) if len(some) else (0, 0)
        ends.append(slice(max(low - around, 0), min(high + around + 1, mask.shape[axis])))
    x, y, z = ends
    return x, y, z
