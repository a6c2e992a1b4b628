"""Keep what was found by looking into some places only, by what lies of the solids there.

A search among many solids looks at few of them, and at a small part of a large one. Where it looks follows
from its inputs and from what it finds; so what lay in all those places is all it hangs on, and what is moved
or cut elsewhere is no reason to search again.
"""

from __future__ import annotations

import hashlib
import time
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from layout3d.keep import FIGURES, Form, code_of, file_away, kept, key_of, recalled, remembered
from layout3d.solid.contain import inside
from layout3d.solid.placement import IDENTITY, Points
from layout3d.solid.shape import Solid, in_order

__all__ = ["content_in", "kept_by_place", "lies_in", "places_of"]

Row = tuple[float, ...]

GRID = 0.01  # places are told by boxes whose faces lie on multiples of this, [m]
THIN = 1e-14  # of a face, twice its area, below which it is told as it is, and of a point in one, [m²]
LAST = 4  # searches with one key that are held: what is changed is often changed back
FEW_FACES = 500  # a solid of no more is told as a whole, [-]


def content_in(solid: Solid, places: Points) -> bytes:
    """Return what tells a solid within boxes: bytes that differ wherever what lies of it in them does.

    What hangs on that part of it alone is kept under this where it is cut or grows elsewhere.

    Parameters
    ----------
    places : lowest and highest corners of the boxes, (n, 2, 3) or one (2, 3), [m]
    """
    return _told_in(solid, places.reshape(-1, 2, 3), "content in boxes", _content_in)


def lies_in(solid: Solid, places: Points) -> bytes:
    """Return what tells where a solid lies within boxes, however flat faces square to an axis are parted.

    As ``content_in``, for what hangs on where the surface runs and not on its triangles: a cut anywhere in a
    wide flat face parts all of it anew.
    """
    return _told_in(solid, places.reshape(-1, 2, 3), "lies in boxes", _lies_in)


def _told_in(solid: Solid, boxes: Points, what: str, tell: Callable[[Solid, Points], bytes]) -> bytes:
    low, high = solid.bounds
    carving = solid.carving
    if carving is not None:  # told by what it is made of, without cutting it
        near = [each for each in carving.cutters if _meet(each.bounds, boxes).any()]
        parts = [_told_in(each, boxes, what, tell) for each in (carving.base, *near)]
        return hashlib.sha256(b"carved" + b"".join(hashlib.sha256(part).digest() for part in parts)).digest()
    # what others are cut out of stands in the scene's axes; what stands in its own is moved as a whole
    own = len(solid.faces) <= FEW_FACES or solid.placement != IDENTITY
    if own or ((boxes[:, 0] <= low) & (high <= boxes[:, 1])).all(axis=1).any():
        return solid.content_key
    # most solids of the next check are those of this one, and needn't be looked at to know
    return kept(
        key_of(what, code_of("solid"), solid, boxes), _DIGEST, lambda: tell(solid, boxes), worth=0.001
    )


def _same(content: bytes) -> bytes:
    return content


_DIGEST: Form[bytes] = Form("digest", _same, _same, len)


def _content_in(solid: Solid, boxes: Points) -> bytes:
    return _digest(solid, boxes, _near_faces(solid, boxes))


def _lies_in(solid: Solid, boxes: Points) -> bytes:
    near = _near_faces(solid, boxes)
    flat = _Flat.of(solid)
    return _digest(solid, boxes, near[~flat.told[near]], *(flat.within(box) for box in boxes))


def _near_faces(solid: Solid, boxes: Points) -> NDArray[Any]:
    """Return the faces whose boxes reach into one of some boxes."""
    low, high = solid.face_bounds
    least, most = boxes[:, 0].min(axis=0), boxes[:, 1].max(axis=0)
    near = np.flatnonzero((low[0] <= most[0]) & (high[0] >= least[0]))
    for axis in (1, 2):  # of few that are left
        near = near[(low[axis, near] <= most[axis]) & (high[axis, near] >= least[axis])]
    if len(boxes) == 1:
        return near
    found, left = [], near
    for begin, end in boxes[:, :, :, None]:
        met = ((low[:, left] <= end) & (high[:, left] >= begin)).all(axis=0)
        found.append(left[met])
        left = left[~met]
    return np.sort(np.concatenate(found))


def _digest(solid: Solid, boxes: Points, near: NDArray[Any], *more: bytes) -> bytes:
    # its faces part a box into what is in the solid and what is out of it; one corner tells which is which
    digest = hashlib.sha256(inside(solid, boxes[:, 0]).tobytes())
    digest.update(solid.placement.rotation.tobytes() + solid.placement.offset.tobytes())
    for each in more:
        digest.update(hashlib.sha256(each).digest())
    if len(near):
        points, faces = _numbered_by_place(solid, near)
        digest.update(points.tobytes())
        digest.update(in_order(faces).tobytes())
    return digest.digest()


class _Flat:
    """The faces of a solid that are square to an axis, in sets: those in one plane that look one way.

    ``told`` (m,) marks them; ``plane`` tells the axis, the place along it and the way of each that is.
    """

    def __init__(self, solid: Solid) -> None:
        a, b, c = (solid.vertices[solid.faces[:, k]] for k in range(3))
        level = (a == b) & (a == c)
        chosen = np.flatnonzero(level.any(axis=1))
        a, b, c, axis = a[chosen], b[chosen], c[chosen], level[chosen].argmax(axis=1)
        looks = np.take_along_axis(np.cross(b - a, c - a), axis[:, None], axis=1)[:, 0]
        wide = np.abs(looks) > THIN
        chosen, axis, looks = chosen[wide], axis[wide], looks[wide]
        self.told = np.zeros(len(solid.faces), dtype=bool)
        self.told[chosen] = True
        self._corners = np.stack([a, b, c], axis=1)[wide]
        places = np.take_along_axis(self._corners[:, 0], axis[:, None], axis=1)[:, 0]
        self._plane = np.column_stack([axis, places, np.sign(looks)])
        self._low, self._high = self._corners.min(axis=1), self._corners.max(axis=1)
        _, of = np.unique(self._plane, axis=0, return_inverse=True)
        faces, span = solid.faces[chosen].astype(np.int64), len(solid.vertices)
        begin, end = faces.ravel(), np.roll(faces, -1, axis=1).ravel()
        sets = np.repeat(of.ravel() * span, 3)
        out = np.flatnonzero(~np.isin((sets + begin) * span + end, (sets + end) * span + begin))
        self._of = self._plane[out // 3]
        self._edges = np.stack([solid.vertices[begin[out]], solid.vertices[end[out]]], axis=1)

    @classmethod
    def of(cls, solid: Solid) -> _Flat:
        return remembered(
            "flat faces", solid, make=lambda: cls(solid), size=lambda flat: 300 * len(flat._corners)
        )

    def within(self, box: Points) -> bytes:
        """Return what tells what of these faces lies in a box (2, 3): outlines there, and one corner of it.

        Of a side along an axis only what lies in the box counts, wherever it is parted.
        """
        low, high = box
        near = ((self._edges.min(axis=1) <= high) & (self._edges.max(axis=1) >= low)).all(axis=1)
        edges, of = self._edges[near], self._of[near]
        along = (edges[:, 0] != edges[:, 1]).sum(axis=1) == 1
        aslant = np.concatenate([of[~along], edges[~along].reshape(-1, 6)], axis=1)
        ways = (edges[along, 0] != edges[along, 1]).argmax(axis=1)[:, None]
        ends = [
            np.concatenate([of[along], ways, end], axis=1)
            for end in np.clip(edges[along], low, high).swapaxes(0, 1)
        ]
        points, place = np.unique(np.concatenate(ends), axis=0, return_inverse=True)
        # where one part of a side ends and the next begins, the two take each other away
        count = np.bincount(place.ravel(), np.repeat([1.0, -1.0], len(ends[0])), len(points))
        told = np.column_stack([points, count])[count != 0.0]
        reach = ((self._low <= high) & (self._high >= low)).all(axis=1)
        covers = np.unique(self._plane[reach][self._over(low, reach)], axis=0)
        rows = (np.unique(aslant, axis=0), told, covers)
        return b"".join(b"%d " % len(each) + (each + 0.0).tobytes() for each in rows)

    def _over(self, point: Points, chosen: NDArray[np.bool_]) -> NDArray[np.bool_]:
        """Tell which of some faces a point is in, seen along their axes."""
        corners, plane = self._corners[chosen], self._plane[chosen]
        to, along = point - corners, np.roll(corners, -1, axis=1) - corners
        across = np.cross(along, to)
        axis = plane[:, :1, None].astype(np.int64)
        turns = np.take_along_axis(across, np.broadcast_to(axis, (len(axis), 3, 1)), axis=2)[:, :, 0]
        return np.asarray((turns * plane[:, 2:] >= -THIN).all(axis=1))


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
    key: bytes, solids: Sequence[Solid], find: Callable[[], tuple[Row, Points]], *, worth: float = 0.0
) -> Row:
    """Return what a search among solids finds.

    Parameters
    ----------
    key : of all that it hangs on besides the solids
    solids : among which it looks, in an order that it doesn't depend on
    find : searches: plain figures, and the boxes (n, 2, 3) that it looked into, [m]. It must be pure, and
        what it finds must hang on nothing of the solids but what lies in these.
    worth : the least time of a search for which it is filed, [s]: to tell what lies in many places takes long

    Notes
    -----
    Where the last search with this key looked is kept beside the answer, as a hint where to look for one:
    whichever places it names, an answer is only taken from a search that looked nowhere else, and found the
    very same there.
    """
    among = {solid.content_key: solid for solid in solids}
    size = LAST * (2_000 + 100 * len(solids))
    last: list[_Found] = remembered("last searches", key, make=list, size=lambda _: size)
    found = next((each for each in last if each.holds_for(among)), None)
    if found is None:
        found = _found(key, among, find, worth)
        last[LAST - 1 :] = []
        last.insert(0, found)
    return found.row


@dataclass(frozen=True, slots=True, eq=False)
class _Found:
    """What a search found among solids, by their content, and in which places it looked."""

    row: Row
    among: dict[bytes, Solid]
    places: Points

    def holds_for(self, among: dict[bytes, Solid]) -> bool:
        """Tell whether the same lies there of these solids; most are the same, or beside all places."""
        gone, come = (
            [one[key] for key in one.keys() - other.keys() if _meet(one[key].bounds, self.places).any()]
            for one, other in ((self.among, among), (among, self.among))
        )
        # what was cut elsewhere lies there as before; what was moved does not
        if Counter(each.placement for each in gone) != Counter(each.placement for each in come):
            return False
        return Counter(_there(each, self.places) for each in gone) == Counter(
            _there(each, self.places) for each in come
        )


def _found(
    key: bytes, among: dict[bytes, Solid], find: Callable[[], tuple[Row, Points]], worth: float
) -> _Found:
    """Return what a search finds, kept or made."""
    hint, solids = key_of("places", key), [*among.values()]
    looked = recalled(hint, FIGURES)
    if looked is not None:
        row = recalled(_key(key, looked, solids), FIGURES)
        if row is not None:
            return _Found(row, among, np.reshape(looked, (-1, 2, 3)))
    begin = time.perf_counter()
    row, boxes = find()
    looked = places_of(boxes)
    if time.perf_counter() - begin >= worth:
        file_away(hint, FIGURES, looked)
        file_away(_key(key, looked, solids), FIGURES, row)
    return _Found(row, among, np.reshape(looked, (-1, 2, 3)))


def _key(key: bytes, looked: Row, solids: Sequence[Solid]) -> bytes:
    """Return the key of an answer: the places, and what lies there of each solid whose box meets one."""
    places = np.array(looked).reshape(-1, 2, 3)
    bounds = np.array([solid.bounds for solid in solids]).reshape(-1, 2, 3)
    near: list[int] = []
    if len(places):  # most solids lie beside all of them
        whole = np.stack([places[:, 0].min(axis=0), places[:, 1].max(axis=0)])
        near = np.flatnonzero(_meet(whole, bounds)).tolist()
    there = (_there(solids[index], places) for index in near)
    return key_of("found there", key, places, tuple(each for each in there if each[1]))


def _there(solid: Solid, places: Points) -> tuple[bytes, bytes]:
    """Return which places the box of a solid meets, and what tells it in these; nothing for none."""
    met = _meet(solid.bounds, places)
    return met.tobytes(), content_in(solid, places[met]) if met.any() else b""


def _meet(bounds: Points, boxes: Points) -> NDArray[np.bool_]:
    """Tell which boxes (n, 2, 3) meet one (2, 3)."""
    return np.asarray(((bounds[0] <= boxes[:, 1]) & (boxes[:, 0] <= bounds[1])).all(axis=1))


def places_of(boxes: Points) -> Row:
    """Return boxes (n, 2, 3) as a row, each let out to the grid, and none that lies in another."""
    low = np.minimum(np.floor(boxes[:, 0] / GRID) * GRID, boxes[:, 0])  # rounding lets none in
    high = np.maximum(np.ceil(boxes[:, 1] / GRID) * GRID, boxes[:, 1])
    found = np.unique(np.concatenate([low, high], axis=1), axis=0)
    low, high = found[:, :3], found[:, 3:]
    held = ((low[:, None] >= low) & (high[:, None] <= high)).all(axis=2).sum(axis=1) > 1  # each holds itself
    return tuple(found[~held].ravel().tolist())
