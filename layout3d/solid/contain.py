"""Which points lie inside a solid, by counting the surface above each. Points on it may fall either way."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from layout3d.solid.shape import Points, Shape, Solid

__all__ = ["inside", "shell_points"]

PAIRS_AT_ONCE = 2_000_000  # points times faces held in memory at a time


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
    Counts, with their sides, the faces above each point. Whether a point lies under a face is decided from
    its edges alone, each taken in the same direction for both its faces, so that a ray through an edge or a
    corner is never counted twice or lost.
    """
    given = np.asarray(points, dtype=np.float64).reshape(-1, 3)
    result = np.zeros(len(given), dtype=np.bool_)
    if not len(given):
        return result
    low, high = solid.bounds
    asked = np.flatnonzero(((given >= low) & (given <= high)).all(axis=1))
    if not len(asked):
        return result
    corners = solid.vertices[solid.faces]
    queries = given[asked]
    face, query = _candidates(corners, queries)
    winding = np.zeros(len(asked))
    for begin in range(0, len(face), PAIRS_AT_ONCE):
        part = slice(begin, begin + PAIRS_AT_ONCE)
        winding += np.bincount(
            query[part], weights=_above(corners[face[part]], queries[query[part]]), minlength=len(asked)
        )
    result[asked] = winding > 0.5
    return result


def shell_points(shape: Shape) -> Points:
    """One vertex of each shell (connected piece of surface) of a shape, (s, 3), [m], in its own axes."""
    count = len(shape.vertices)
    label = np.arange(count)
    a = shape.faces.ravel()
    b = np.roll(shape.faces, 1, axis=1).ravel()
    while True:  # the lowest index spreads along edges; jumps to the label's label keep the rounds few
        before = label
        label = label.copy()
        np.minimum.at(label, a, before[b])
        label = np.minimum(label, label[label])
        if (label == before).all():
            break
    return shape.vertices[np.unique(label[shape.faces.ravel()])]


def _candidates(corners: Points, points: Points) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Pairs of face and point whose plans may meet: all pairs if few, else by the cells of a plan grid."""
    low, high = corners[:, :, :2].min(axis=1), corners[:, :, :2].max(axis=1)
    top = corners[:, :, 2].max(axis=1)
    if len(points) * len(corners) <= PAIRS_AT_ONCE:
        x, y, z = points.T
        hit = (low[:, :1] <= x) & (high[:, :1] >= x) & (low[:, 1:] <= y) & (high[:, 1:] >= y)
        face, point = np.nonzero(hit & (top[:, None] >= z))
        return face, point
    floor = points[:, :2].min(axis=0)
    extent = np.maximum(points[:, :2].max(axis=0) - floor, 1e-12)
    cells = int(np.clip(np.sqrt(len(corners)), 1, 256))
    scale = cells / extent

    def cell(at: Points) -> NDArray[np.int64]:
        numbers: NDArray[np.int64] = np.clip(((at - floor) * scale).astype(np.int64), 0, cells - 1)
        return numbers

    near = (high >= floor).all(axis=1) & (low <= floor + extent).all(axis=1)
    chosen = np.flatnonzero(near)
    first, last = cell(low[chosen]), cell(high[chosen])
    size = last - first + 1
    number = size.prod(axis=1)
    face = np.repeat(chosen, number)
    step = np.arange(len(face)) - np.repeat(np.cumsum(number) - number, number)
    wide = np.repeat(size[:, 0], number)
    column = np.repeat(first[:, 0], number) + step % wide
    row = np.repeat(first[:, 1], number) + step // wide
    order = np.argsort(row * cells + column, kind="stable")
    key = (row * cells + column)[order]
    face = face[order]
    own = cell(points[:, :2])
    own_key = own[:, 1] * cells + own[:, 0]
    begin, end = np.searchsorted(key, own_key, "left"), np.searchsorted(key, own_key, "right")
    number = end - begin
    point = np.repeat(np.arange(len(points)), number)
    step = np.arange(len(point)) - np.repeat(np.cumsum(number) - number, number)
    return face[np.repeat(begin, number) + step], point


def _above(corners: Points, points: Points) -> Points:
    """+1 where a face that looks up lies above its point, -1 where it looks down, 0 where it does not."""
    x, y, z = points.T
    winding = np.zeros(len(points))
    for start, end in ((0, 1), (1, 2), (2, 0)):
        a, b = corners[:, start, :2], corners[:, end, :2]
        backward = a[:, 0] > b[:, 0]
        left, right = np.where(backward[:, None], b, a), np.where(backward[:, None], a, b)
        crosses = (left[:, 0] <= x) & (right[:, 0] > x)
        with np.errstate(divide="ignore", invalid="ignore"):
            slope = (right[:, 1] - left[:, 1]) / (right[:, 0] - left[:, 0])
            height = left[:, 1] + slope * (x - left[:, 0])
        winding += np.where(crosses & (height > y), np.where(backward, 1.0, -1.0), 0.0)
    a = corners[:, 0]
    normal = np.cross(corners[:, 1] - a, corners[:, 2] - a)
    with np.errstate(divide="ignore", invalid="ignore"):
        surface = a[:, 2] - (normal[:, 0] * (x - a[:, 0]) + normal[:, 1] * (y - a[:, 1])) / normal[:, 2]
    return np.where(surface > z, winding, 0.0)
