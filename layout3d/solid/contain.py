"""Which points lie inside a solid, by counting the surface above each. Points on it may fall either way."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from layout3d.solid.placement import Points
from layout3d.solid.shape import Shape, Solid

__all__ = ["inside"]

PAIRS_AT_ONCE = 2_000_000  # pairs of a plan place and a face held in memory at a time
DENSE_PAIRS = 4_000_000  # below this, trying every pair is quicker than laying a grid
MOST_CELLS = 1024  # a side of the grid
ROUNDING = 1e-6  # of a cell: more than any rounding of a cell's border

Numbers = NDArray[np.int64]


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
    Counts, with their sides, the faces above each point, in the shape's own axes. Whether a point lies under
    a face is decided from the face's edges alone, each taken in the same direction for both its faces, so
    that a line through an edge or a corner is never counted twice or lost. Points above one another (a grid)
    share one line.
    """
    given = solid.placement.inverse().apply(np.asarray(points, dtype=np.float64).reshape(-1, 3))
    result = np.zeros(len(given), dtype=np.bool_)
    low, high = solid.shape.bounds
    asked = np.flatnonzero(((given >= low) & (given <= high)).all(axis=1))
    if not len(asked):
        return result
    queries = given[asked]
    if len(asked) == 1:
        column, places = np.zeros(1, dtype=np.int64), queries[:, :2]
    else:
        plan, column = np.unique(queries[:, 0] + 1j * queries[:, 1], return_inverse=True)
        column, places = column.ravel(), np.column_stack([plan.real, plan.imag])
    line, height, turn = _crossings(solid.shape, places)
    # the surfaces above a point: along each line from the top, surfaces before points at the same height
    lines, heights = np.concatenate([line, column]), np.concatenate([height, queries[:, 2]])
    is_point = np.repeat([False, True], [len(line), len(column)])
    order = np.lexsort((is_point, -heights, lines))
    winding = np.cumsum(np.concatenate([turn, np.zeros(len(column))])[order])
    places_in_order = np.flatnonzero(is_point[order])
    # the surface closes, so that each line's turns add up to 0 and the sum need not start anew
    within = np.zeros(len(asked), dtype=np.bool_)
    within[order[places_in_order] - len(line)] = winding[places_in_order] > 0.5
    result[asked] = within
    return result


def _crossings(shape: Shape, places: Points) -> tuple[Numbers, Points, Points]:
    """Where upright lines through ``places`` (k, 2) meet the surface.

    Returns
    -------
    line : (c,) int, index into ``places``
    height : (c,) float, [m]
    turn : (c,) float, 1 where the surface there looks up, -1 where it looks down
    """
    boxes = shape.face_boxes
    lines, heights, turns = [], [], []
    if len(places) * len(boxes) <= DENSE_PAIRS:
        x, y = places[:, :1], places[:, 1:]
        hit = (boxes[:, 0, 0] <= x) & (boxes[:, 1, 0] >= x) & (boxes[:, 0, 1] <= y) & (boxes[:, 1, 1] >= y)
        line, face = np.nonzero(hit)
        blocks = [(line, face)]
    else:
        blocks = _by_cells(shape, places)
    for line, face in blocks:
        height, turn = _met(shape.corners[face], places[line])
        met = turn != 0.0
        lines.append(line[met])
        heights.append(height[met])
        turns.append(turn[met])
    return np.concatenate(lines), np.concatenate(heights), np.concatenate(turns)


def _by_cells(shape: Shape, places: Points) -> list[tuple[Numbers, Numbers]]:
    """Pairs of place and face that may lie over one another, found by the cells of a grid over the places."""
    floor = places.min(axis=0)
    extent = np.maximum(np.ptp(places, axis=0), 1e-12)
    cells = int(np.clip(np.sqrt(min(4 * len(shape.faces), 4 * len(places))), 1, MOST_CELLS))
    scale = cells / extent

    def cell(at: NDArray[np.float64]) -> Numbers:
        numbers: Numbers = np.clip(at, 0.0, cells - 1.0).astype(np.int64)
        return numbers

    # each face fills, row by row, the cells from its leftmost to its rightmost point in that row
    boxes = shape.face_boxes[:, :, :2]
    chosen = np.flatnonzero((boxes[:, 1] >= floor).all(axis=1) & (boxes[:, 0] <= floor + extent).all(axis=1))
    plan = (shape.corners[chosen, :, :2] - floor) * scale
    first = cell(plan[:, :, 1].min(axis=1))
    rows = cell(plan[:, :, 1].max(axis=1)) - first + 1
    which, row = np.repeat(np.arange(len(chosen)), rows), np.repeat(first, rows) + _count_up(rows)
    left, right = _reach(plan[which], row.astype(np.float64), cells)
    begin = cell(left - ROUNDING)
    number = cell(right + ROUNDING) - begin + 1
    face = np.repeat(chosen[which], number)
    where = np.repeat(row * cells + begin, number) + _count_up(number)
    order = np.argsort(where, kind="stable")
    where, face = where[order], face[order]
    own = cell((places - floor) * scale)
    own_cell = own[:, 1] * cells + own[:, 0]
    start = np.searchsorted(where, own_cell, "left")
    number = np.searchsorted(where, own_cell, "right") - start
    blocks = []
    cuts = np.searchsorted(np.cumsum(number), np.arange(PAIRS_AT_ONCE, number.sum() + 1, PAIRS_AT_ONCE))
    for part in np.split(np.arange(len(places)), np.unique(cuts)):
        line = np.repeat(part, number[part])
        near = face[np.repeat(start[part], number[part]) + _count_up(number[part])]
        blocks.append((line, near))
    return blocks


def _reach(plan: Points, row: Points, rows: int) -> tuple[Points, Points]:
    """Leftmost and rightmost point of each triangle (p, 3, 2) within its row, a band one unit high."""
    low = np.where(row == 0.0, -np.inf, row) - ROUNDING
    high = np.where(row == rows - 1.0, np.inf, row + 1.0) + ROUNDING
    left, right = np.full(len(row), np.inf), np.full(len(row), -np.inf)
    for start, end in ((0, 1), (1, 2), (2, 0)):
        ax, ay, bx, by = plan[:, start, 0], plan[:, start, 1], plan[:, end, 0], plan[:, end, 1]
        apart = np.where(ay == by, 1.0, by - ay)
        for bound in (low, high):
            share = (np.clip(bound, np.minimum(ay, by), np.maximum(ay, by)) - ay) / apart
            x = ax + (bx - ax) * share
            in_band = (np.minimum(ay, by) <= high) & (np.maximum(ay, by) >= low)
            left = np.where(in_band, np.minimum(left, x), left)
            right = np.where(in_band, np.maximum(right, x), right)
        level = (ay == by) & (ay >= low) & (ay <= high)
        left = np.where(level, np.minimum(left, bx), left)
        right = np.where(level, np.maximum(right, bx), right)
    return left, right


def _count_up(number: Numbers) -> Numbers:
    """0, 1, 2 … for each entry, as many as it says, end to end."""
    steps: Numbers = np.arange(int(number.sum())) - np.repeat(np.cumsum(number) - number, number)
    return steps


def _met(corners: Points, places: Points) -> tuple[Points, Points]:
    """Height of each face (p, 3, 3) over its place, and 1, -1 or 0: it looks up, down, or is not met."""
    x, y = places.T
    turn = np.zeros(len(places))
    for start, end in ((0, 1), (1, 2), (2, 0)):
        ax, ay, bx, by = corners[:, start, 0], corners[:, start, 1], corners[:, end, 0], corners[:, end, 1]
        crosses = np.flatnonzero((ax <= x) != (bx <= x))
        ax, ay, bx, by = ax[crosses], ay[crosses], bx[crosses], by[crosses]
        backward = ax > bx
        left, left_y = np.where(backward, bx, ax), np.where(backward, by, ay)
        right, right_y = np.where(backward, ax, bx), np.where(backward, ay, by)
        edge = left_y + (right_y - left_y) * ((x[crosses] - left) / (right - left))
        turn[crosses] += np.where(edge > y[crosses], np.where(backward, 1.0, -1.0), 0.0)
    a = corners[:, 0]
    normal = np.cross(corners[:, 1] - a, corners[:, 2] - a)
    flat = turn == 0.0
    rise = normal[:, 0] * (x - a[:, 0]) + normal[:, 1] * (y - a[:, 1])
    return a[:, 2] - rise / np.where(flat, 1.0, normal[:, 2]), turn
