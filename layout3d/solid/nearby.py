"""Keep what was found by looking into some places only, by what lies of the solids there.

A search among many solids looks at few of them, and at a small part of a large one. Where it looks follows
from its inputs and from what it finds; so what lay in all those places is all it hangs on, and what is moved
or cut elsewhere is no reason to search again.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from layout3d.keep import FIGURES, file_away, key_of, recalled, remembered
from layout3d.solid.contain import inside
from layout3d.solid.placement import Points
from layout3d.solid.shape import Solid, in_order

__all__ = ["content_in", "kept_by_place"]

Row = tuple[float, ...]

GRID = 0.01  # places are told by boxes whose faces lie on multiples of this, [m]
FEW_FACES = 500  # a solid of no more is told as a whole, [-]


def content_in(solid: Solid, places: Points) -> bytes:
    """Return what tells a solid within boxes: bytes that differ wherever what lies of it in them does.

    What hangs on that part of it alone is kept under this where it is cut or grows elsewhere.

    Parameters
    ----------
    places : lowest and highest corners of the boxes, (n, 2, 3) or one (2, 3), [m]
    """
    boxes = places.reshape(-1, 2, 3)
    low, high = solid.bounds
    carving = solid.carving
    if carving is not None:  # told by what it is made of, without cutting it
        near = [each for each in carving.cutters if _meet(each.bounds, boxes).any()]
        parts = [content_in(each, boxes) for each in (carving.base, *near)]
        return hashlib.sha256(b"carved" + b"".join(hashlib.sha256(part).digest() for part in parts)).digest()
    if len(solid.faces) <= FEW_FACES or ((boxes[:, 0] <= low) & (high <= boxes[:, 1])).all(axis=1).any():
        return solid.content_key
    return remembered("content in boxes", solid, boxes, make=lambda: _content_in(solid, boxes))


def _content_in(solid: Solid, boxes: Points) -> bytes:
    low, high = solid.face_bounds
    least, most = boxes[:, 0].min(axis=0), boxes[:, 1].max(axis=0)
    near = np.flatnonzero(((low <= most[:, None]) & (high >= least[:, None])).all(axis=0))
    if len(boxes) > 1:
        low, high = low[:, near], high[:, near]
        met = np.zeros(len(near), dtype=np.bool_)
        for begin, end in boxes[:, :, :, None]:
            met |= ((low <= end) & (high >= begin)).all(axis=0)
        near = near[met]
    # its faces part a box into what is in the solid and what is out of it; one corner tells which is which
    digest = hashlib.sha256(inside(solid, boxes[:, 0]).tobytes())
    digest.update(solid.placement.rotation.tobytes() + solid.placement.offset.tobytes())
    if len(near):
        points, faces = _numbered_by_place(solid, near)
        digest.update(points.tobytes())
        digest.update(in_order(faces).tobytes())
    return digest.digest()


def _numbered_by_place(solid: Solid, near: NDArray[Any]) -> tuple[Points, NDArray[Any]]:
    """Return the corners of some faces, by where they are, and the faces with these numbers.

    A cut elsewhere numbers the corners of the whole mesh anew.
    """
    used, number = np.unique(solid.faces[near], return_inverse=True)
    points = solid.shape.vertices[used]
    order = np.lexsort(points.T[::-1])
    points = points[order]
    new = np.concatenate([[True], (points[1:] != points[:-1]).any(axis=1)])
    place = np.zeros(len(order), dtype=np.int64)
    place[order] = np.cumsum(new) - 1
    return points[new], place[number].reshape(-1, 3)


def kept_by_place(
    key: bytes, solids: Sequence[Solid], find: Callable[[], tuple[Row, Points]]
) -> tuple[Row, bytes]:
    """Return what a search among solids finds, and the key that it is kept under.

    Parameters
    ----------
    key : of all that it hangs on besides the solids
    solids : among which it looks, in an order that it doesn't depend on
    find : searches: plain figures, and the boxes (n, 2, 3) that it looked into, [m]. It must be pure, and
        what it finds must hang on nothing of the solids but what lies in these.

    Notes
    -----
    Where the last search with this key looked is kept beside the answer, as a hint where to look for one:
    whichever places it names, an answer is only taken from a search that looked nowhere else, and found the
    very same there.
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
    """Return the key of an answer: the places, and what lies there of each solid whose box meets one."""
    places = np.array(looked).reshape(-1, 2, 3)
    bounds = np.array([solid.bounds for solid in solids]).reshape(-1, 2, 3)
    if len(places):  # most solids lie beside all of them
        whole = np.stack([places[:, 0].min(axis=0), places[:, 1].max(axis=0)])
        near = np.flatnonzero(_meet(whole, bounds)).tolist()
    else:
        near = []
    meets = ((index, _meet(bounds[index], places)) for index in near)
    there = [content_in(solids[index], places[met]) for index, met in meets if met.any()]
    return key_of("found there", key, places, tuple(there))


def _meet(bounds: Points, boxes: Points) -> NDArray[np.bool_]:
    """Tell which boxes (n, 2, 3) meet one (2, 3)."""
    return np.asarray(((bounds[0] <= boxes[:, 1]) & (boxes[:, 0] <= bounds[1])).all(axis=1))


def _places(boxes: Points) -> Row:
    """Return boxes as a row, each let out to the grid, and none twice."""
    low = np.minimum(np.floor(boxes[:, 0] / GRID) * GRID, boxes[:, 0])  # rounding lets none in
    high = np.maximum(np.ceil(boxes[:, 1] / GRID) * GRID, boxes[:, 1])
    return tuple(np.unique(np.concatenate([low, high], axis=1), axis=0).ravel().tolist())
