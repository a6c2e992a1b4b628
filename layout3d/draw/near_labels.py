"""Labels close to what they name, on what is free of a picture: for parts that stand apart.

Pure and deterministic. Works in pixels, y down. Text is measured by the caller.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from layout3d.draw.labels import Box, Label, Wanted, crossing

__all__ = ["place_near"]

GRAIN = 4  # pixels of a block: rooms are looked for on this raster
NEAREST = 3000  # places that are looked at for a label, the nearest ones
OVER_OTHERS = 8.0  # a leader's length over other parts counts so many times
SAMPLES = np.linspace(0.0, 1.0, 33)  # places along a leader that are looked at


def place_near(
    wanted: Sequence[Wanted],
    shown: NDArray[np.integer],
    numbers: Mapping[str, int],
    *,
    area: Box,
    gap: float,
) -> tuple[Label, ...]:
    """Place each label where its leader is shortest and runs over no other part, as far as can be.

    Parameters
    ----------
    wanted : in any order
    shown : (height, width), the part that each pixel shows, by its number in ``numbers``, or 0
    area : left, top, right, bottom of where texts may stand
    gap : least distance of a text to another and to what is drawn, pixels

    Returns
    -------
    Labels in the order of their texts. A text lies on nothing drawn, on no other text and no leader; leaders
    cross neither each other nor a text. One that finds no such place is left out.
    """
    ground = _blocks(shown)
    free = np.zeros(ground.shape, dtype=bool)
    left, top, right, bottom = (value / GRAIN for value in area)
    free[math.ceil(max(top, 0)) : math.floor(bottom), math.ceil(max(left, 0)) : math.floor(right)] = True
    free &= ground == 0
    words = np.zeros(ground.shape, dtype=bool)
    placed: list[Label] = []
    for one in sorted(wanted, key=lambda w: (-w.weight, w.parts)):
        own = [numbers[part] for part in one.parts if part in numbers]
        label = _nearest(one, ground * ~np.isin(ground, own), free, words, placed, gap)
        if label is None:
            continue
        placed.append(label)
        x0, y0, x1, y1 = label.box
        words[_rows(y0, y1), _rows(x0, x1)] = True
        free[_rows(y0, y1), _rows(x0, x1)] = False
        along = _along(np.array([label.stub]), label.at)[0]
        free[along[:, 1], along[:, 0]] = False
    return tuple(sorted(placed, key=lambda label: (label.box[1], label.box[0])))


def _nearest(
    one: Wanted,
    others: NDArray[np.int32],
    free: NDArray[np.bool_],
    words: NDArray[np.bool_],
    placed: Sequence[Label],
    gap: float,
) -> Label | None:
    high, wide = (math.ceil((size + 2.0 * gap) / GRAIN) for size in (one.height, one.width))
    if high >= free.shape[0] or wide >= free.shape[1]:
        return None
    sums = np.pad(np.cumsum(np.cumsum(~free, axis=0), axis=1), ((1, 0), (1, 0)))
    taken = sums[high:, wide:] - sums[:-high, wide:] - sums[high:, :-wide] + sums[:-high, :-wide]
    corners = np.argwhere(taken == 0)[:, ::-1] * float(GRAIN) + gap
    if not len(corners):
        return None
    size = np.array([one.width, one.height])
    # a leader begins in the middle of that side of the text from which it is shortest
    sides = np.array([[0.0, 0.5], [1.0, 0.5], [0.5, 0.0], [0.5, 1.0]])
    out = np.array([[-1.0, 0.0], [1.0, 0.0], [0.0, -1.0], [0.0, 1.0]]) * 0.5 * gap
    begins = corners[:, None] + sides * size + out
    far = np.linalg.norm(begins - np.array(one.at), axis=2)
    best = far.argmin(axis=1)
    begins, far = begins[np.arange(len(best)), best], far.min(axis=1)
    near = np.argsort(far, kind="stable")[:NEAREST]
    along = _along(begins[near], one.at)
    over = others[along[..., 1], along[..., 0]] > 0
    cost = far[near] * (1.0 + OVER_OTHERS * over.mean(axis=1))
    cost[words[along[..., 1], along[..., 0]].any(axis=1)] = math.inf
    for number in np.argsort(cost, kind="stable"):
        if cost[number] == math.inf:
            return None
        x, y = (float(v) for v in corners[near[number]])
        begin = (float(begins[near[number], 0]), float(begins[near[number], 1]))
        box = (x, y, x + one.width, y + one.height)
        label = Label(parts=one.parts, text=one.text, box=box, stub=begin, knee=begin, at=one.at)
        if not any(crossing(label, other) for other in placed):
            return label
    return None


def _blocks(shown: NDArray[np.integer]) -> NDArray[np.int32]:
    """Return a part that is seen in each block of pixels."""
    high, wide = (-(-size // GRAIN) for size in shown.shape)
    whole = np.zeros((high * GRAIN, wide * GRAIN), dtype=np.int32)
    whole[: shown.shape[0], : shown.shape[1]] = shown
    found: NDArray[np.int32] = whole.reshape(high, GRAIN, wide, GRAIN).max(axis=(1, 3))
    return found


def _rows(low: float, high: float) -> slice:
    return slice(max(math.floor(low / GRAIN), 0), math.ceil(high / GRAIN))


def _along(begins: NDArray[np.float64], at: tuple[float, float]) -> NDArray[np.int64]:
    """Return the blocks that leaders run over, (n, k, 2), column before row."""
    points = begins[:, None] + (np.array(at) - begins[:, None]) * SAMPLES[:, None]
    return np.floor(points / GRAIN).astype(np.int64)
