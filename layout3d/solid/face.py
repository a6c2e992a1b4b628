"""The face of a wall or a stone as seen along an axis: where it begins, its slope, what drapes over it."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from layout3d.solid.nearby import content_in
from layout3d.solid.shape import Points, Shape, Solid
from layout3d.solid.store import stored_result

__all__ = ["Face"]

SLOPE_SPAN = 0.02  # the slope is that over so much of the face, [m]; a hand's breadth says little of a place
ASIDE = 1e-6  # lines so far beside a solid's box are not tried, [m]
LINES = 32  # across what drapes over a face, each way


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
        ahead = self.sign * np.eye(3)[self.axis]
        found = np.full(len(starts), np.inf)
        for solid in self.solids:
            far = float((self.sign * (solid.bounds[:, self.axis] - self.start)).max()) + 0.001
            if far <= 0.0:
                continue
            low, high = np.delete(solid.bounds, self.axis, axis=1)
            across = np.delete(starts, self.axis, axis=1)
            over = np.flatnonzero(((across >= low - ASIDE) & (across <= high + ASIDE)).all(axis=1))
            back = solid.placement.inverse()
            begins, ends = (back.apply(at[over]).tolist() for at in (starts, starts + far * ahead))
            for index, start, end in zip(over.tolist(), begins, ends, strict=True):
                hits = solid.shape.manifold.ray_cast(tuple(start), tuple(end))
                if hits:
                    found[index] = min(found[index], far * min(float(hit.distance) for hit in hits))
        met: Points = np.where(np.isinf(found), np.inf, self.start + self.sign * found)
        return met

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

        Its volume and its being closed stay as they are. Where the face is missing, or falls away by more
        than half of the solid's width, it follows the nearest there is.
        """
        at = float(np.asarray(point, dtype=np.float64)[self.axis])
        what = f"draped along {self.axis} {self.sign!r} from {self.start!r} at {at!r}"
        met = tuple(self._before(solid))
        shape = stored_result(what, (solid, met), lambda: self._draped(solid, at))
        return solid if shape is None else shape.solid()

    def _before(self, solid: Solid) -> Iterator[tuple[bytes, Points]]:
        """Yield what tells all that lines across a solid may meet, and the boxes that they are tried on."""
        for each in self.solids:
            column = solid.bounds + np.array([[-ASIDE], [ASIDE]])
            column[:, self.axis] = each.bounds[:, self.axis]
            if (each.bounds[0] <= column[1]).all() and (column[0] <= each.bounds[1]).all():
                yield content_in(each, column), each.bounds

    def _draped(self, solid: Solid, base: float) -> Shape | None:
        axes = [axis for axis in range(3) if axis != self.axis]
        low, high = solid.bounds[:, axes]
        lines = [np.linspace(a, b, LINES) for a, b in zip(low, high, strict=True)]
        grid = np.zeros((LINES * LINES, 3))
        grid[:, axes] = np.stack(np.meshgrid(*lines, indexing="ij"), axis=-1).reshape(-1, 2)
        shift = (self.met(grid) - base).reshape(LINES, LINES)
        missing = ~np.isfinite(shift) | (np.abs(shift) > 0.5 * float((high - low).max()))
        if missing.all():
            return None
        if missing.any():
            from scipy.ndimage import distance_transform_edt  # dear to load

            nearest = distance_transform_edt(missing, return_distances=False, return_indices=True)
            shift = shift[tuple(nearest)]
        vertices = np.array(solid.vertices)
        places = (vertices[:, axes] - low) / (high - low) * (LINES - 1)
        vertices[:, self.axis] += _between(shift, places)
        return Shape.of(vertices, solid.shape.faces)


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
