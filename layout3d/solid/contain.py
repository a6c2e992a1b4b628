"""Which points lie inside a solid, by the faces that a line meets; on the surface either may be told."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from typing import Any, TypeAlias

import numpy as np
from numpy.typing import ArrayLike, NDArray

from layout3d.solid.shape import Points, Shape, Solid

__all__ = ["inside"]

Places: TypeAlias = NDArray[np.intp]

FEW = 4  # points; for more the kernel is quicker, even if it has to take the mesh in first, up to
MANY = 100  # points, and one for each so many faces, from which on all are looked at together
FACES_A_POINT = 8
A_CELL = 2  # points in a cell of the grid that they are looked up by, about
AT_ONCE = 300_000  # pairs of a face and a point that are looked at together


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
    Counts, with their sides, the faces that a line along one of the shape's own axes meets from each
    point on: of many points at once, of others, and where rounding might decide, by the kernel, straight up.
    The kernel moves a line that runs through an edge or a corner by less than any rounding, the same way for
    all faces, so that it is never counted twice or lost.
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
    many = len(rows) > MANY + len(solid.shape.faces) / FACES_A_POINT
    if many or (0 < len(rows) <= FEW and not solid.shape.has_manifold):
        counted, unsure = _counted(solid.shape, given[rows])
        within[rows] = counted > 0
        rows = rows[unsure]
    kernel: Any = solid.shape.manifold if len(rows) else None
    for index in rows:
        x, y, z = given[index].tolist()
        hits = kernel.ray_cast((x, y, z), (x, y, above))
        within[index] = sum(1 if hit.normal[2] > 0.0 else -1 for hit in hits) > 0
    return np.asarray(within)


def _counted(shape: Shape, points: Points) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """Count the faces over each point with their sides, as the kernel does; tell where rounding might decide.

    So the kernel need not take in a large mesh for the sake of a point or two, nor be asked point by point.
    """
    size = float(np.ptp(shape.bounds, axis=0).max())
    slack = 1e-9 * size
    least = 1e-12 * size * size  # a thousand times what rounding does to the products below
    axes = np.roll([0, 1, 2], 2 - (_shallow(shape) if len(points) > FEW else 2))  # the lines run the last way
    (x, y, z), places = (np.ascontiguousarray(each.T[axes]) for each in (shape.vertices, points))
    px, py, pz = places
    # a face with all its corners surely on one side of all the lines, or under the points, is not met
    least_ends, most_ends = places.min(axis=1) - slack, places.max(axis=1) + slack
    sides = (x < least_ends[0], x > most_ends[0], y < least_ends[1], y > most_ends[1], z < least_ends[2])
    side = np.zeros(len(x), dtype=np.uint8)
    for bit, beside in enumerate(sides):
        side |= beside.astype(np.uint8) << np.uint8(bit)
    a, b, c = shape.faces.T
    faces = shape.faces[(side[a] & side[b] & side[c]) == 0].T
    counted, unsure = np.zeros(len(points)), np.zeros(len(points), dtype=bool)
    if len(points) <= FEW:
        pairs: Iterable[tuple[Places, Places]] = [
            (np.arange(faces.shape[1]).repeat(len(points)), np.tile(np.arange(len(points)), faces.shape[1]))
        ]
    else:
        pairs = _over_each_other([k[faces] for k in (x, y, z)], places, slack)
    for face, point in pairs:
        corners = faces[:, face]
        east, north = x[corners] - px[point], y[corners] - py[point]
        around = np.stack([east[i] * north[j] - north[i] * east[j] for i, j in ((1, 2), (2, 0), (0, 1))])
        met = ~((around > least).any(axis=0) & (around < -least).any(axis=0))
        around, face, point = around[:, met], face[met], point[met]
        unsure[point[(np.abs(around) <= least).any(axis=0)]] = True
        heights = z[faces[:, face]] - pz[point]
        whole = around.sum(axis=0)
        over = heights.min(axis=0) > slack
        with np.errstate(divide="ignore", invalid="ignore"):
            at = (around * heights).sum(axis=0) / whole
        unsure[point[~over & ((np.abs(whole) < 1e4 * least) | (np.abs(at) < 1e3 * slack))]] = True
        counted += np.bincount(point, np.sign(whole) * (over | (at > 0.0)), len(points))
    return counted, unsure


def _shallow(shape: Shape) -> int:
    """Return the axis along which the fewest faces lie over each other: they are widest that way."""
    a, b, c = (np.ascontiguousarray(shape.vertices[corner].T) for corner in shape.faces.T)
    wide = (np.maximum(np.maximum(a, b), c) - np.minimum(np.minimum(a, b), c)).mean(axis=1)
    return int(np.argmax(wide / np.ptp(shape.bounds, axis=0)))


def _over_each_other(corners: list[Points], points: Points, slack: float) -> Iterator[tuple[Places, Places]]:
    """Yield pairs of faces and points (3, n), by numbers, some at a time: all where a face lies over a point.

    Parameters
    ----------
    corners : of the faces, (3, m) along each of the three axes
    """
    low, high = (np.stack([end(end(*k[:2]), k[2]) for k in corners]) for end in (np.minimum, np.maximum))
    low, high = low - slack, high + slack
    origin, reach = points[:2].min(axis=1, keepdims=True), np.ptp(points[:2], axis=1)[:, None]
    cells = max(1, int(math.sqrt(points.shape[1] / A_CELL)))
    scale = cells / np.where(reach > 0.0, reach, 1.0)

    def cell(places: Points) -> Places:
        found: Places = np.clip((places[:2] - origin) * scale, 0, cells - 1).astype(np.intp)
        return found

    column, row = cell(points)
    order = np.argsort(row * cells + column, kind="stable")
    first = np.searchsorted((row * cells + column)[order], np.arange(cells * cells + 1))
    (left, front), (right, back) = cell(low), cell(high)
    # of each row of cells that a box reaches, the points stand one after the other
    rows = back - front + 1
    box = np.repeat(np.arange(len(rows)), rows)
    line = (front[box] + _count_up(rows)) * cells
    begin, count = first[line + left[box]], first[line + right[box] + 1] - first[line + left[box]]
    parts = np.searchsorted(np.cumsum(count), np.arange(AT_ONCE, count.sum(), AT_ONCE))
    for some in np.split(np.arange(len(box)), parts):
        face = np.repeat(box[some], count[some])
        point = order[np.repeat(begin[some], count[some]) + _count_up(count[some])]
        here = high[2, face] >= points[2, point]
        for k in (0, 1):
            here &= (low[k, face] <= points[k, point]) & (points[k, point] <= high[k, face])
        yield face[here], point[here]


def _count_up(counts: Places) -> Places:
    """Return 0, 1, … for each of some counts, one after the other."""
    numbers: Places = np.arange(counts.sum()) - np.repeat(np.cumsum(counts) - counts, counts)
    return numbers
