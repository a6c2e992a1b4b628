"""Keep what was found by looking into some places only, by the solids that lie there.

A search among many solids looks at few of them: those whose boxes meet a place that it looks into. Where it
looks follows from its inputs and from what it finds; so what lay in all those places is all it hangs on, and
what moves elsewhere is no reason to search again.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from layout3d.keep import FIGURES, file_away, key_of, recalled
from layout3d.solid.placement import Points
from layout3d.solid.shape import Solid

__all__ = ["kept_by_place"]

Row = tuple[float, ...]

GRID = 0.01  # places are told by boxes whose faces lie on multiples of this, [m]


def kept_by_place(
    key: bytes, solids: Sequence[Solid], find: Callable[[], tuple[Row, Points]]
) -> tuple[Row, bytes]:
    """Return what a search among solids finds, and the key that it is kept under.

    Parameters
    ----------
    key : of all that it hangs on besides the solids
    solids : among which it looks, in an order that it doesn't depend on
    find : searches: plain figures, and the boxes (n, 2, 3) that it looked into, [m]. It must be pure, and
        know of a solid nothing but what lies in a box of its own that meets one of these.

    Notes
    -----
    Where the last search with this key looked is kept beside the answer, as a hint where to look for one:
    whichever places it names, an answer is only taken from a search that looked nowhere else, and found the
    very same solids there.
    """
    hint = key_of("places", key)
    looked = recalled(hint, FIGURES)
    if looked is not None:
        answer = _key(key, looked, solids)
        row = recalled(answer, FIGURES)
        if row is not None:
            return row, answer
    row, boxes = find()
    looked = _places(boxes)
    answer = _key(key, looked, solids)
    file_away(hint, FIGURES, looked)
    file_away(answer, FIGURES, row)
    return row, answer


def _key(key: bytes, looked: Row, solids: Sequence[Solid]) -> bytes:
    """Return the key of an answer: the places, and the solids whose boxes meet one of them."""
    places = np.array(looked).reshape(-1, 2, 3)
    bounds = np.array([solid.bounds for solid in solids]).reshape(-1, 2, 3)
    meets = (bounds[:, None, 0] <= places[:, 1]) & (places[:, 0] <= bounds[:, None, 1])
    there = np.unique(np.nonzero(meets.all(axis=2))[0]).tolist()
    return key_of("found there", key, places, tuple(solids[index] for index in there))


def _places(boxes: Points) -> Row:
    """Return boxes as a row, each let out to the grid, and none twice."""
    low = np.minimum(np.floor(boxes[:, 0] / GRID) * GRID, boxes[:, 0])  # rounding lets none in
    high = np.maximum(np.ceil(boxes[:, 1] / GRID) * GRID, boxes[:, 1])
    return tuple(np.unique(np.concatenate([low, high], axis=1), axis=0).ravel().tolist())
