"""Where a part that is dragged holds on: ports, the ground, faces, and other pieces that it comes to lie on.

Sideways a box is what is told of a thing; of a stone that is round, its face is where it comes out farthest.
Downwards it is its surface as it is drawn.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from layout3d.draw.pieces import Piece
from layout3d.view.looks import Heights, Thing

__all__ = ["Surfaces", "snapped"]

Floats = NDArray[np.float64]

FLAT = ("equipment", "background", "stand", "sump")  # groups with faces that things are put against
BEAR = ("rock", "wood", "equipment")  # groups that things are put on top of
CELLS = 96  # across the place where one lies over another, looked at twice: the second time at the highest
FINER = 4  # so many times at most
LARGE = 32.0  # cells across a triangle: few are that large


class Surfaces:
    """Surfaces as they are drawn, and how far one part goes up to lie on another: found once for a place."""

    def __init__(self, pieces: Sequence[Piece]) -> None:
        self._pieces = pieces
        self._found: dict[tuple[str, str, float, float], float] = {}

    def rise(self, part: str, other: str, x: float, y: float) -> float:
        """Return how far a part goes up, after ``x`` and ``y`` aside, until it lies on another; all [m].

        -inf where nothing of the one is over the other.
        """
        key = (part, other, x, y)
        if key not in self._found:
            own, under = self._triangles(part), self._triangles(other)
            self._found[key] = (
                lies_on(own + np.array([x, y, 0.0]), under) if len(own) and len(under) else -math.inf
            )
        return self._found[key]

    def _triangles(self, part: str) -> Floats:
        found = [piece.points[piece.faces] for piece in self._pieces if piece.part == part]
        return np.concatenate(found) if found else np.zeros((0, 3, 3))


def lies_on(own: Floats, under: Floats) -> float:
    """Return how far triangles go up until nothing of others is over their underside; -inf where none is.

    Parameters
    ----------
    own, under : (n, 3, 3), [m]
    """
    boxes = [(one[..., :2].min(axis=(0, 1)), one[..., :2].max(axis=(0, 1))) for one in (own, under)]
    low, high = np.maximum(boxes[0][0], boxes[1][0]), np.minimum(boxes[0][1], boxes[1][1])
    rise = -math.inf
    for _ in range(2):
        if (low >= high).any():
            return rise
        cell = (high - low) / CELLS
        rises = _heights(under, low, cell, 1.0) + _heights(own, low, cell, -1.0)
        rise = float(rises.max())
        if rise == -math.inf:
            return rise
        near = np.argwhere(rises >= rise - cell.max())  # where slopes may hide something higher in a cell
        ends = near.min(axis=0), near.max(axis=0) + 1
        beside = np.maximum(1.0, (CELLS / FINER - (ends[1] - ends[0])) / 2.0)
        low, high = low + (ends[0] - beside) * cell, low + (ends[1] + beside) * cell
    return rise


def _heights(triangles: Floats, low: Floats, cell: Floats, sign: float) -> Floats:
    """Return how high triangles come in each cell, or (sign -1) how deep; -inf where none is."""
    heights = np.full((CELLS, CELLS), -np.inf)
    flat = triangles[..., :2]
    here = (flat.max(axis=1) >= low).all(axis=1) & (flat.min(axis=1) <= low + cell * CELLS).all(axis=1)
    triangles = triangles[here]
    wide = (np.ptp(triangles[..., :2], axis=1) / cell).max(axis=1, initial=1.0)
    middles = np.stack(np.meshgrid(*[np.arange(CELLS) + 0.5] * 2, indexing="ij"), axis=-1) * cell + low
    for one in triangles[wide > LARGE]:  # cell by cell; all others point by point
        sides = (one[1:] - one[0])[:, :2]
        if abs(np.linalg.det(sides)) > 1e-12:
            first, last = ((end(one[:, :2], axis=0) - low) / cell for end in (np.min, np.max))
            (i, k), (to_i, to_k) = np.maximum(first, 0.0).astype(int), np.maximum(last, 0.0).astype(int) + 1
            shares = (middles[i:to_i, k:to_k] - one[0, :2]) @ np.linalg.inv(sides)
            there = one[0, 2] + shares @ (one[1:, 2] - one[0, 2])
            there[(shares < 0.0).any(axis=-1) | (shares.sum(axis=-1) > 1.0)] = -sign * np.inf
            heights[i:to_i, k:to_k] = np.maximum(heights[i:to_i, k:to_k], sign * there)
    counts = 2 ** np.ceil(np.log2(np.clip(wide, 1.0, LARGE))).astype(int)
    for count in np.unique(counts):  # so many along its sides that no cell is passed over
        u, v = np.meshgrid(*[np.linspace(0.0, 1.0, count + 1)] * 2)
        shares = np.stack([1.0 - u - v, u, v])[:, u + v <= 1.0 + 1e-9]
        points = np.einsum("ks,tkx->tsx", shares, triangles[counts == count]).reshape(-1, 3)
        places = np.floor((points[:, :2] - low) / cell).astype(int)
        within = ((places >= 0) & (places < CELLS)).all(axis=1)
        np.maximum.at(heights, tuple(places[within].T), sign * points[within, 2])
    return heights


def snapped(
    part: str,
    offset: Floats,
    things: Sequence[Thing],
    ground: Heights,
    surfaces: Surfaces,
    *,
    reach: float,
    step: float,
    axes: Sequence[int],
) -> tuple[Floats, str]:
    """Return how far a part goes, held on to what is within reach, and to what in words ('' for nothing).

    Parameters
    ----------
    offset : how far it would go with the hand, (3,) [m]
    reach : from where it is drawn to a port, face or top, [m]
    step : what is put on another piece goes up by whole ones, so that it lies on it and not in it, [m]
    axes : along which it is held: (2,) where it goes up and down, 0 and 1 over the ground
    """
    own = [thing for thing in things if thing.part == part]
    others = [thing for thing in things if thing.part != part]
    if not own:
        return offset, ""
    ports = np.array([port for thing in own for port in thing.ports.values()]).reshape(-1, 3) + offset
    for thing in others:
        for port in thing.ports.values():
            away = np.array(port) - ports
            near = np.linalg.norm(away, axis=1)
            if len(near) and near.min() <= reach:
                return offset + away[near.argmin()], f"to a port of {thing.part}"
    boxes = np.array([thing.box for thing in own])
    low, high = boxes[:, 0].min(axis=0) + offset, boxes[:, 1].max(axis=0) + offset
    found, words = offset.copy(), []
    for axis in axes:
        ways = [
            (place - side, told)
            for place, told, sides in (
                _floors(part, offset, low, high, others, ground, surfaces, reach, step)
                if axis == 2
                else _places(axis, low, high, others, ground)
            )
            for side in sides
            if abs(place - side) <= reach
        ]
        if ways:
            by, told = min(ways, key=lambda way: abs(way[0]))
            found[axis] += by
            low[axis], high[axis] = low[axis] + by, high[axis] + by  # which is where bent walls are then met
            words.append(told)
    return found, ", ".join(words)


def _places(
    axis: int, low: Floats, high: Floats, others: Sequence[Thing], ground: Heights
) -> Iterator[tuple[float, str, tuple[float, ...]]]:
    """Yield places along x or y, what is there, and the sides of the own box that hold on to it."""
    first, last = _ends(axis, low, high, ground)
    names = (("left", "right"), ("front", "back"))[axis]
    yield first, f"at the {names[0]}", (low[axis],)
    yield last, f"at the {names[1]}", (high[axis],)
    rest = [k for k in range(3) if k != axis]
    for thing in others:
        box = np.array(thing.box)
        if thing.group in FLAT and (low[rest] < box[1, rest]).all() and (high[rest] > box[0, rest]).all():
            yield float(box[0, axis]), f"at {thing.part}", (high[axis],)
            yield float(box[1, axis]), f"at {thing.part}", (low[axis],)


def _ends(axis: int, low: Floats, high: Floats, ground: Heights) -> tuple[float, float]:
    """Return how far the tank's inside goes along x or y, where it goes least over the box; [m]."""
    across, way = 1 - axis, np.roll(ground.plan, -1, axis=0) - ground.plan
    starts, run = ground.plan[:, across], way[:, across]
    ends = []
    for side in np.clip((low[across], high[across]), starts.min(), starts.max()):
        share = np.divide(side - starts, run, out=np.zeros(len(run)), where=run != 0.0)
        met = (share >= 0.0) & (share <= 1.0) & ((run != 0.0) | (starts == side))
        places = (ground.plan + way * share[:, None])[met, axis]
        ends.append((places.min(), places.max()))
    return float(max(end[0] for end in ends)), float(min(end[1] for end in ends))


def _floors(
    part: str,
    offset: Floats,
    low: Floats,
    high: Floats,
    others: Sequence[Thing],
    ground: Heights,
    surfaces: Surfaces,
    reach: float,
    step: float,
) -> Iterator[tuple[float, str, tuple[float, ...]]]:
    """Yield heights of the box's underside as the part lies there, what it lies on, and where that is now."""
    x, y = (low + high)[:2] / 2.0
    yield ground.at(float(x), float(y)), "on the ground", (low[2],)
    for name in dict.fromkeys(thing.part for thing in others if thing.group in BEAR):
        boxes = np.array([thing.box for thing in others if thing.part == name])
        least, most = boxes[:, 0].min(axis=0), boxes[:, 1].max(axis=0)
        if (low < most + reach).all() and (high > least).all():
            rise = surfaces.rise(part, name, float(offset[0]), float(offset[1]))
            if rise > -math.inf:
                up = math.ceil(rise / step - 1e-6) * step
                yield low[2] - offset[2] + up, f"on {name}", (low[2],)
