"""Which points lie inside a solid, by the kernel's ray cast. Points on the surface may fall either way."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from layout3d.solid.shape import Points, Shape, Solid

__all__ = ["inside"]

FEW = 4  # points; for more the kernel is quicker, even if it has to take the mesh in first


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
    carving = solid.carving
    if carving is not None:
        found = inside(carving.base, points)
        for cutter in carving.cutters:
            if found.any():
                found[found] = ~inside(cutter, np.asarray(points, dtype=np.float64).reshape(-1, 3)[found])
        return found
    given = solid.placement.inverse().apply(np.asarray(points, dtype=np.float64).reshape(-1, 3))
    low, high = solid.shape.bounds
    within = ((given >= low) & (given <= high)).all(axis=1)
    above = 2.0 * high[2] - low[2]  # clear of the top
    rows = np.flatnonzero(within)
    by_hand = len(rows) <= FEW and not solid.shape.has_manifold
    kernel = None if by_hand or not len(rows) else solid.shape.manifold
    for index in rows:
        counted = _counted(solid.shape, given[index]) if by_hand else None
        if counted is None:
            x, y, z = given[index].tolist()
            kernel = kernel or solid.shape.manifold
            hits = kernel.ray_cast((x, y, z), (x, y, above))
            counted = sum(1 if hit.normal[2] > 0.0 else -1 for hit in hits)
        within[index] = counted > 0
    return np.asarray(within)


def _counted(shape: Shape, point: Points) -> int | None:
    """Count the faces over a point with their sides, as the kernel does; None where rounding might decide.

    So the kernel need not take in a large mesh for the sake of a point or two.
    """
    x, y, z = np.ascontiguousarray((shape.vertices - point).T)
    size = float(np.ptp(shape.bounds, axis=0).max())
    slack = 1e-9 * size
    # a face with all its corners surely on one side of the line, or under the point, is not met
    sides = (x > slack, x < -slack, y > slack, y < -slack, z < -slack)
    side = np.zeros(len(x), dtype=np.uint8)
    for bit, beside in enumerate(sides):
        side |= beside.astype(np.uint8) << np.uint8(bit)
    a, b, c = shape.faces.T
    a, b, c = shape.faces[(side[a] & side[b] & side[c]) == 0].T
    around = np.array([x[p] * y[q] - y[p] * x[q] for p, q in ((b, c), (c, a), (a, b))])
    least = 1e-12 * size * size  # a thousand times what rounding does to these products
    past = (around > least).any(axis=0) & (around < -least).any(axis=0)
    around, heights = around[:, ~past], np.array([z[a], z[b], z[c]])[:, ~past]
    if (np.abs(around) <= least).any():
        return None
    whole = around.sum(axis=0)
    over = heights.min(axis=0) > slack
    at = (around * heights).sum(axis=0) / whole
    if (~over & ((np.abs(whole) < 1e4 * least) | (np.abs(at) < 1e3 * slack))).any():
        return None
    return int(np.sign(whole[over | (at > 0.0)]).sum())
