"""What faces hide of straight pieces behind them, exact: each piece is clipped by each face before it.

Everything is seen against z: x and y lie in the picture, z points to the viewer.
"""

from __future__ import annotations

import math
import os
from concurrent.futures import ThreadPoolExecutor

import numpy as np
from numpy.typing import NDArray

__all__ = ["BEHIND", "Cover"]

Floats = NDArray[np.float64]
Numbers = NDArray[np.int64]

BEHIND = 2e-4
"""What lies less than this behind a face is on it, [m]."""
WIDER = 1e-9
"""Faces reach so far over their edges, [m]: what lies right behind one is hidden, whatever rounding does."""
AT_ONCE = 1000
"""Pieces that are looked at together."""
SLENDER = 0.2
"""A face fills its box badly if to less than this, unless that is smaller than ``SMALL``, [m²]."""
SMALL = 1e-3
ALIKE = math.radians(1.0)
"""Ways of slender faces that are taken together."""
MOST_FRAMES = 8
"""Frames at most that the picture is turned to, for the sake of slender faces."""
WASTE = 10.0
"""Area of badly filled boxes for which a further frame is worth its search, [m²]."""
LEAST = 1e-9
"""Of a piece's length that is worth telling."""
FIRST = 3
"""Faces that are tried on each piece before all the others: many pieces lie wholly behind one of them."""


class Cover:
    """Faces that hide what lies behind them.

    Parameters
    ----------
    faces : (n, 3, 3) float, [m], anticlockwise as seen
    behind : only what of them has a lower z than this is there, [m]
    """

    def __init__(self, faces: Floats, *, behind: float | None = None) -> None:
        import shapely

        self.behind = behind
        faces = faces[np.argsort(faces[:, :, 2].min(axis=1), kind="stable")]  # what is nearest comes last
        self._trees = []
        for turn, own in _frames(faces[:, :, :2]):
            parts, of = _parts(faces[own, :, :2] @ turn)
            self._trees.append((turn, shapely.STRtree(_boxes(parts)), own[of]))
        self._nearest = faces[:, :, 2].max(axis=1, initial=-np.inf)
        self._limits = _limits(faces, behind)

    def spans(self, pieces: Floats) -> tuple[Floats, Numbers]:
        """Return what faces hide of pieces (n, 2, 3), [m].

        Returns
        -------
        spans : (k, 2), from and to as shares of a piece's length; they may overlap
        index : (k,), whose span each is
        """
        starts = range(0, len(pieces), AT_ONCE)

        def look(start: int) -> tuple[Floats, Numbers]:
            return self._look(pieces[start : start + AT_ONCE])

        there = os.sched_getaffinity(0) if hasattr(os, "sched_getaffinity") else range(os.cpu_count() or 1)
        if len(there) == 1:  # threads would only be in each other's way
            found = [look(start) for start in starts]
        else:
            with ThreadPoolExecutor(len(there)) as pool:  # the libraries work on all cores beside each other
                found = list(pool.map(look, starts))
        spans = [np.zeros((0, 2)), *(spans for spans, _ in found)]
        index = [np.zeros(0, dtype=np.int64)]
        index += [own + start for start, (_, own) in zip(starts, found, strict=True)]
        return np.concatenate(spans), np.concatenate(index)

    def _look(self, pieces: Floats) -> tuple[Floats, Numbers]:
        index, face = self._near(pieces)
        spans, owners = [np.zeros((0, 2))], [np.zeros(0, dtype=np.int64)]
        for _ in range(FIRST):
            if not len(index):
                break
            # the one of each piece's faces that begins nearest to the viewer
            first = np.flatnonzero(np.diff(index, prepend=-1))
            tried, nearest = index[first], np.maximum.reduceat(face, first)
            found, which = self._clipped(pieces[tried], nearest)
            spans.append(found)
            owners.append(tried[which])
            done = np.full(len(pieces), -1)
            done[tried] = nearest
            left = np.ones(len(pieces), dtype=bool)
            left[tried[which[(found[:, 0] <= 0.0) & (found[:, 1] >= 1.0)]]] = False
            more = left[index] & (face != done[index])
            index, face = index[more], face[more]
        found, which = self._clipped(pieces[index], face)
        return np.concatenate([*spans, found]), np.concatenate([*owners, index[which]])

    def _near(self, pieces: Floats) -> tuple[Numbers, Numbers]:
        """Return pairs of a piece, in order, and a face that may hide some of it."""
        found = []
        for turn, tree, own in self._trees:
            index, face = tree.query(_boxes(pieces[:, :, :2] @ turn))
            found.append((index, own[face]))
        index, face = (np.concatenate(row) for row in zip(*found, strict=True))
        before = self._nearest[face] > pieces[index, :, 2].min(axis=1) + BEHIND
        index, face = index[before], face[before]
        order = np.argsort(index, kind="stable")
        return index[order], face[order]

    def _clipped(self, pieces: Floats, face: Numbers) -> tuple[Floats, Numbers]:
        """Return the spans of pieces that their own faces hide, and which pieces have one."""
        which = np.arange(len(face))
        low, high = np.zeros(len(face)), np.ones(len(face))
        begin, end = pieces[:, 0].T, pieces[:, 1].T
        for right, up, out, more in self._limits:
            rows = face[which]
            factors = right[rows], up[rows], more[rows]
            at_begin, at_end = (
                factors[0] * place[0, which]
                + factors[1] * place[1, which]
                + factors[2]
                + out * place[2, which]
                for place in (begin, end)
            )
            inside = (at_begin >= 0.0) | (at_end >= 0.0)
            which, low, high = which[inside], low[inside], high[inside]
            at_begin, at_end = at_begin[inside], at_end[inside]
            comes, goes = np.flatnonzero(at_begin < 0.0), np.flatnonzero(at_end < 0.0)
            low[comes] = np.maximum(low[comes], at_begin[comes] / (at_begin[comes] - at_end[comes]))
            high[goes] = np.minimum(high[goes], at_begin[goes] / (at_begin[goes] - at_end[goes]))
        hides = high - low > LEAST
        return np.column_stack([low[hides], high[hides]]), which[hides]


def _limits(faces: Floats, behind: float | None) -> list[tuple[Floats, Floats, float, Floats]]:
    """Return what is 0 or more where faces (n, 3, 3) hide.

    Each is rows (n,), factors of x and y, one factor of z, and what is added.
    """
    limits = []
    for one in range(3):
        (x, y, _), side = faces[:, one].T, faces[:, (one + 1) % 3] - faces[:, one]
        added = side[:, 1] * x - side[:, 0] * y + WIDER * np.hypot(side[:, 0], side[:, 1])
        limits.append((-side[:, 1], side[:, 0], 0.0, added))
    plane = np.cross(faces[:, 1] - faces[:, 0], faces[:, 2] - faces[:, 0])
    right, up = (-plane[:, :2] / plane[:, 2:]).T
    level = faces[:, 0, 2] - right * faces[:, 0, 0] - up * faces[:, 0, 1]
    limits.append((right, up, -1.0, level - BEHIND))
    if behind is not None:
        limits.append((-right, -up, 0.0, behind + 1e-9 - level))
    return limits


def _frames(faces: Floats) -> list[tuple[Floats, Numbers]]:
    """Return turns of the picture, (2, 2), and which faces (n, 3, 2) fill their boxes there.

    A pipe that runs across the picture is a row of slender faces; along its way their boxes are slender too.
    """
    left, frames = np.arange(len(faces)), []
    (a, b), (c, d) = (faces[:, 1] - faces[:, 0]).T, (faces[:, 2] - faces[:, 0]).T
    areas = np.abs(a * d - b * c) / 2
    sides = np.roll(faces, -1, axis=1) - faces
    longest = sides[np.arange(len(faces)), np.linalg.norm(sides, axis=2).argmax(axis=1)]
    angles = np.arctan2(longest[:, 1], longest[:, 0]) % math.pi
    angle = 0.0
    for _ in range(MOST_FRAMES):
        turn = np.array(((math.cos(angle), -math.sin(angle)), (math.sin(angle), math.cos(angle))))
        boxes = np.ptp(faces[left] @ turn, axis=1).prod(axis=1)
        slender = (areas[left] < SLENDER * boxes) & (boxes > SMALL)
        frames.append((turn, left[~slender]))
        left, waste = left[slender], boxes[slender]
        if not len(left):
            return frames
        number = np.rint(angles[left] / ALIKE).astype(np.int64)
        wasted = np.bincount(number, weights=waste)
        most = wasted.argmax()
        if wasted[most] < WASTE:
            break
        angle = float(np.median(angles[left][number == most]))
    turn, own = frames[0]
    frames[0] = turn, np.concatenate([own, left])
    return frames


def _parts(faces: Floats) -> tuple[Floats, Numbers]:
    """Return parts of faces (n, 3, 2) that fill their boxes, and which face each is of."""
    of = np.arange(len(faces))
    whole, owners = [], []
    while len(faces):
        (a, b), (c, d) = (faces[:, 1] - faces[:, 0]).T, (faces[:, 2] - faces[:, 0]).T
        boxes = np.ptp(faces, axis=1).prod(axis=1)
        slender = (np.abs(a * d - b * c) / 2 < SLENDER * boxes) & (boxes > SMALL)
        whole.append(faces[~slender])
        owners.append(of[~slender])
        faces, of = faces[slender], np.tile(of[slender], 2)
        sides = np.linalg.norm(np.roll(faces, -1, axis=1) - faces, axis=2)
        first, every = sides.argmax(axis=1), np.arange(len(faces))
        p, q, r = (faces[every, (first + one) % 3] for one in range(3))
        middle = (p + q) / 2
        faces = np.concatenate([np.stack([p, middle, r], axis=1), np.stack([middle, q, r], axis=1)])
    return np.concatenate([np.zeros((0, 3, 2)), *whole]), np.concatenate(
        [np.zeros(0, dtype=np.int64), *owners]
    )


def _boxes(points: Floats) -> NDArray[np.object_]:
    """Return the box round each row of points (n, k, 2)."""
    import shapely

    boxes: NDArray[np.object_] = shapely.box(*points.min(axis=1).T, *points.max(axis=1).T)
    return boxes
