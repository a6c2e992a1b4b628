"""The face of a wall or a stone as seen along an axis: where it begins, its slope, what drapes over it."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from layout3d.keep import code_of, key_of
from layout3d.solid.nearby import kept_by_place
from layout3d.solid.placement import Placement
from layout3d.solid.shape import Points, Shape, Solid
from layout3d.solid.store import stored_result

__all__ = ["Face"]

SLOPE_SPAN = 0.02  # the slope is that over so much of the face, [m]; a hand's breadth says little of a place
ASIDE = 1e-6  # lines so far beside a solid's box are not tried, [m]
TOGETHER = 64  # lines that are told to look into one box
LINES = 32  # across what drapes over a face, each way
DIGITS = 12  # to which it is told where a solid lies from a point: [m], and the same where both are moved
EASED = 9  # over so many lines, twice: what bends at each ledge of a rough wall runs through itself


@dataclass(frozen=True, slots=True)
class Face:
    """What straight lines along one axis meet first of some solids.

    ``axis`` is 0, 1 or 2 of x, y, z; ``sign`` is 1.0 where the lines run up the axis and -1.0 down it;
    ``start`` is the coordinate at which they begin, [m].
    """

    solids: tuple[Solid, ...]
    axis: int
    sign: float
    start: float

    def met(self, points: ArrayLike) -> Points:
        """Return the coordinate along the axis at which lines through points meet the face, inf if nowhere.

        Parameters
        ----------
        points : (n, 3) float, [m]; what they say along the axis is left out

        Returns
        -------
        (n,) float, [m]
        """
        starts = np.array(points, dtype=np.float64).reshape(-1, 3)
        starts[:, self.axis] = self.start
        boxes = tuple(solid.bounds for solid in self.solids)  # lines end where these do
        key = key_of("face met", code_of("solid"), self.axis, self.sign, starts, boxes)
        found = kept_by_place(key, self.solids, lambda: self._found(starts))
        met: Points = np.where(np.isinf(found), np.inf, self.start + self.sign * np.array(found))
        return met

    def _found(self, starts: Points) -> tuple[tuple[float, ...], Points]:
        """Return how far along each line meets the face, inf if nowhere, and the boxes around the lines."""
        ahead = self.sign * np.eye(3)[self.axis]
        found = np.full(len(starts), np.inf)
        ends = np.zeros(len(starts))
        for solid in self.solids:
            far = float((self.sign * (solid.bounds[:, self.axis] - self.start)).max()) + 0.001
            ends = np.maximum(ends, far)
            if far <= 0.0:
                continue
            low, high = np.delete(solid.bounds, self.axis, axis=1)
            across = np.delete(starts, self.axis, axis=1)
            over = np.flatnonzero(((across >= low - ASIDE) & (across <= high + ASIDE)).all(axis=1))
            begin, end = (at[over].tolist() for at in (starts, starts + far * ahead))
            cast = solid.manifold.ray_cast  # as it stands: a line along an axis has a thin box to look into
            for index, *line in zip(over.tolist(), begin, end, strict=True):
                hits = cast(*map(tuple, line))
                if hits:
                    found[index] = min(found[index], far * min(float(hit.distance) for hit in hits))
        last = starts + np.minimum(found, ends)[:, None] * ahead
        looked = []
        for first in range(0, len(starts), TOGETHER):
            lines = np.arange(first, min(first + TOGETHER, len(starts)))
            misses = np.isinf(found[lines])  # these look through to the other side
            for some in (lines[misses], lines[~misses]):
                if len(some):
                    points = np.concatenate([starts[some], last[some]])
                    looked.append(np.stack([points.min(axis=0) - ASIDE, points.max(axis=0) + ASIDE]))
        return tuple(found.tolist()), np.array(looked).reshape(-1, 2, 3)

    def yaw(self, point: ArrayLike) -> float:
        """Return by how much a part that looks to the front turns about z so as to look off the face, [rad].

        By the mean slope around the point; straight along the axis where the face is narrower than that. 0 on
        a face seen from above.
        """
        if self.axis == 2:
            return 0.0
        across = 1 - self.axis
        beside = np.tile(np.asarray(point, dtype=np.float64), (9, 1))
        beside[:, across] += np.repeat([-1.0, 0.0, 1.0], 3) * SLOPE_SPAN / 2
        beside[:, 2] += np.tile([-1.0, 0.0, 1.0], 3) * SLOPE_SPAN / 2
        met = self.met(beside)
        slope = 0.0
        if np.isfinite(met).all():
            slope = float(met[6:].mean() - met[:3].mean()) / SLOPE_SPAN
        off = np.zeros(2)
        off[self.axis], off[across] = -self.sign, self.sign * slope
        return math.atan2(off[0], -off[1])

    def draped(self, solid: Solid, point: ArrayLike) -> Solid:
        """Return a solid on a plane through ``point`` (3,) bent to the face: each line of it shifted.

        It follows the face at large, not each ledge of it: few solids then run through themselves.
        Its volume and its being closed stay as they are. Where the face is missing, or falls away by more
        than half of the solid's width, it follows the nearest there is.

        Its shape is that as seen from the point: it stays the same where all of them are moved together.
        """
        there = Placement.at(point)
        own, face = solid.moved(there.inverse()), self._seen_from(there.offset)
        axes = [axis for axis in range(3) if axis != self.axis]
        low, high = own.bounds[:, axes]
        lines = [np.linspace(a, b, LINES) for a, b in zip(low, high, strict=True)]
        grid = np.zeros((LINES * LINES, 3))
        grid[:, axes] = np.stack(np.meshgrid(*lines, indexing="ij"), axis=-1).reshape(-1, 2)
        shift = face.met(grid).reshape(LINES, LINES)
        what = f"draped along {self.axis} by {key_of('shifts', shift).hex()}"
        shape = stored_result(what, (own,), lambda: self._draped(own, shift))
        return solid if shape is None else shape.solid(there)

    def _seen_from(self, point: Points) -> Face:
        """Return the face with a point for the origin, to within rounding."""
        solids = []
        for solid in self.solids:
            turn, off = solid.placement.rotation, solid.placement.offset - point
            solids.append(Solid(solid.shape, Placement(turn, off.round(DIGITS))))
        start = round(self.start - float(point[self.axis]), DIGITS)
        return Face(tuple(solids), self.axis, self.sign, start)

    def _draped(self, solid: Solid, shift: Points) -> Shape | None:
        axes = [axis for axis in range(3) if axis != self.axis]
        low, high = solid.bounds[:, axes]
        missing = ~np.isfinite(shift) | (np.abs(shift) > 0.5 * float((high - low).max()))
        if missing.all():
            return None
        if missing.any():
            # by hand: a distance transform is dear to load; of equally near ones the first counts
            j, i = np.argwhere(~missing.T).T
            here = np.argwhere(missing)
            nearest = ((here[:, :1] - i) ** 2 + (here[:, 1:] - j) ** 2).argmin(axis=1)
            shift = shift.copy()
            shift[missing] = shift[i[nearest], j[nearest]]
        for axis in (0, 0, 1, 1):
            shift = _eased(shift, axis)
        vertices = np.array(solid.vertices)
        places = (vertices[:, axes] - low) / (high - low) * (LINES - 1)
        vertices[:, self.axis] += _between(shift, places)
        return Shape.of(vertices, solid.shape.faces)


def _eased(grid: Points, axis: int) -> Points:
    """Return the running mean of a grid along an axis; an even slope stays as it is up to the ends."""
    beside = [(0, 0), (0, 0)]
    beside[axis] = (EASED // 2, EASED // 2)
    wide = np.pad(grid, beside, mode="reflect", reflect_type="odd")
    mean: Points = np.lib.stride_tricks.sliding_window_view(wide, EASED, axis=axis).mean(axis=-1)
    return mean


def _between(grid: Points, places: Points) -> Points:
    """Return the values of a grid at places (n, 2) between its points, straight from one to the next."""
    last = np.array(grid.shape) - 1
    at = np.clip(places, 0.0, last)
    low = np.floor(at).astype(np.intp)
    (left, down), (right, up) = low.T, np.minimum(low + 1, last).T
    x, y = (at - low).T
    found: Points = grid[left, down] * (1 - x) * (1 - y) + grid[left, up] * (1 - x) * y
    found += grid[right, down] * x * (1 - y)
    found += grid[right, up] * x * y
    return found
