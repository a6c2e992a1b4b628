"""A solid that others are taken out of, cut when its surface is asked for: figures are sums without it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import cached_property
from typing import Any

import numpy as np

from layout3d.keep import key_of, remembered
from layout3d.solid.boolean import difference, intersection, shared, trim, whole
from layout3d.solid.distance import meet, near_pairs
from layout3d.solid.nearby import content_in
from layout3d.solid.shape import Carving, Faces, Points, Shape, Solid

__all__ = ["carved", "taken_of"]

SURE = 1e-6  # share of a solid that has to be left for it to be sure that something is, [-]


def carved(solid: Solid, cutters: Iterable[Solid], *, loose: Iterable[Solid] = ()) -> Solid | None:
    """Take all ``cutters`` out of ``solid``, then all that are ``loose``; None where nothing is left.

    The same solid as ``difference`` makes, but its volumes are those of what the cutters leave less what each
    loose one takes of that, so that moving one of these costs its own share alone. Only whoever asks for its
    surface has it cut.
    """
    first, last = tuple(cutters), tuple(dict.fromkeys(loose))
    base = difference(solid, first)
    if base is None:
        return None
    taken = _taken(solid, first, last)
    if not taken:
        return base
    if base.volume - sum(part.volume for part in taken) < SURE * base.volume:
        return difference(solid, first, loose=last)
    return _Carved(solid, first, last, Carving(base=base, cutters=last, taken=taken)).solid()


def _taken(solid: Solid, first: Sequence[Solid], loose: Sequence[Solid]) -> tuple[Solid, ...]:
    """Return what each loose one takes that no first one does, none of it twice: nor what one before it does.

    What it has in common with the whole solid comes first: it stays so where a wall is moved elsewhere.
    """
    before: list[list[Solid]] = [[] for _ in loose]
    for i, j in near_pairs(loose, 0.0):
        if meet(loose[i], loose[j]):
            before[j].append(loose[i])
    taken = []
    for each, others in zip(loose, before, strict=True):
        part = taken_of(solid, each, intersection(solid, each))
        met = (one for one in first if meet(each, one))
        left = difference(part, (*met, *others)) if part is not None else None
        if left is not None:
            taken.append(left)
    return tuple(taken)


def taken_of(solid: Solid, cutter: Solid, known: Solid | None = None) -> Solid | None:
    """Return what a cutter takes of a solid, or of one that is the same in its box, of the same form.

    That of another one may have its corners numbered otherwise; ``known`` is that of this one.
    """
    key = content_in(solid, cutter.bounds), cutter
    found = remembered("taken of", *key, make=lambda: (known or shared(solid, cutter),))
    return known or found[0]


class _Carved(Shape):
    """The shape of a carved solid, told by what it is made of; its mesh is made when it is asked for."""

    def __init__(
        self, solid: Solid, cutters: tuple[Solid, ...], loose: tuple[Solid, ...], carving: Carving
    ) -> None:
        key = key_of("carved", solid, cutters, loose).hex()[:32]
        vars(self).update(key=key, _carving=carving, _made_of=(solid, cutters, loose))

    @property
    def carving(self) -> Carving:
        """What it is made of."""
        found: Carving = vars(self)["_carving"]
        return found

    @cached_property
    def _cut(self) -> Shape:
        solid, cutters, loose = vars(self)["_made_of"]
        return whole(difference(solid, cutters, loose=loose), "carved solid").shape

    @cached_property
    def vertices(self) -> Points:
        return self._cut.vertices

    @cached_property
    def faces(self) -> Faces:
        return self._cut.faces

    @cached_property
    def bounds(self) -> Points:
        """Told by corners that no cutter comes to; what of it lies beyond these is cut by itself."""
        base, cutters = self.carving.base, self.carving.cutters
        points, alone = base.vertices, np.ones(len(base.vertices), dtype=bool)
        x, y, z = np.ascontiguousarray(points.T)
        for (left, front, low), (right, back, high) in (cutter.bounds for cutter in cutters):
            alone &= (x < left) | (right < x) | (y < front) | (back < y) | (z < low) | (high < z)
        if not alone.any():
            return self._cut.bounds
        ends = np.stack([points[alone].min(axis=0), points[alone].max(axis=0)])
        for way, axis in np.argwhere(ends != base.bounds).tolist():
            inward = np.eye(3)[axis] * (1.0 - 2.0 * way)
            beyond = trim(base, normal=inward, offset=inward[axis] * ends[way, axis])
            rest = difference(beyond, cutters) if beyond is not None else None
            if rest is not None:
                ends[way, axis] = rest.bounds[way, axis]
        ends.flags.writeable = False
        return ends

    @cached_property
    def _moments(self) -> tuple[float, Points]:
        base = self.carving.base
        volume, moment = base.volume, base.volume * base.centroid
        for part in self.carving.taken:
            volume, moment = volume - part.volume, moment - part.volume * part.centroid
        middle: Points = moment / volume
        middle.flags.writeable = False
        return volume, middle

    def __reduce__(self) -> tuple[Any, ...]:
        cut = {"_cut": self._cut} if "_cut" in vars(self) else None
        return (_Carved, (*vars(self)["_made_of"], self.carving), cut)
