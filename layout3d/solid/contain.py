"""Which points lie inside a solid, by the kernel's ray cast. Points on the surface may fall either way."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from layout3d.solid.shape import Solid

__all__ = ["inside"]


def inside(solid: Solid, points: ArrayLike) -> NDArray[np.bool_]:
    """Tell which points lie inside a solid.

    Parameters
    ----------
    points : (n, 3) float, [m]

    Returns
    -------
    (n,) bool; for a point on the surface itself (within rounding) either answer may come.

    Notes
    -----
    Counts, with their sides, the faces that a line straight up from each point meets, in the shape's own
    axes. The kernel moves a line that runs through an edge or a corner by less than any rounding, the same
    way for all faces, so that it is never counted twice or lost.
    """
    given = solid.placement.inverse().apply(np.asarray(points, dtype=np.float64).reshape(-1, 3))
    low, high = solid.shape.bounds
    within = ((given >= low) & (given <= high)).all(axis=1)
    above = 2.0 * high[2] - low[2]  # clear of the top
    for index in np.flatnonzero(within):
        x, y, z = given[index].tolist()
        hits = solid.shape.manifold.ray_cast((x, y, z), (x, y, above))
        within[index] = sum(1 if hit.normal[2] > 0.0 else -1 for hit in hits) > 0
    return np.asarray(within)
