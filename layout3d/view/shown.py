"""Something on the screen: what is drawn, its actors, where they stand, what tints and what cuts them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from operator import is_
from typing import Any

import numpy as np
from numpy.typing import NDArray

from layout3d.draw.pieces import Lines, Piece
from layout3d.draw.screen import recolour, surface
from layout3d.solid.placement import Placement
from layout3d.view.coarse import alike, together

__all__ = ["Crowd", "Shown", "met", "same_surface"]

Floats = NDArray[np.float64]

CLEAR = 0.18  # what a clear thing that is tinted hides of what is behind it


@dataclass(slots=True)
class Shown:
    """Something that is drawn, and its actor; and the same for what takes its place while things move.

    That one has an actor once it is drawn alone: most are drawn together.
    """

    item: Any = None
    full: Any = None
    coarse: Piece | None = None
    light: Any = None
    move: Placement | None = None

    @property
    def actors(self) -> list[Any]:
        """Return its one or two actors; none of nothing."""
        return [actor for actor in (self.full, self.light) if actor is not None]

    def stand(self, move: Placement | None) -> None:
        """Draw it moved from where it was made; None for not at all."""
        from vtkmodules.vtkCommonMath import vtkMatrix4x4

        self.move, matrix = move, None
        if move is not None:
            matrix = vtkMatrix4x4()
            matrix.DeepCopy([*np.column_stack([move.rotation, move.offset]).ravel(), 0.0, 0.0, 0.0, 1.0])
        for actor in self.actors:
            actor.SetUserMatrix(matrix)

    def cut(self, plane: Any) -> None:
        """Leave out what lies on one side of a plane; None for nothing. What lies on no body stays whole."""
        for actor in self.actors:
            if isinstance(self.item, Piece):  # of what is open the inside is seen
                actor.property.backface_culling = self.item.one_sided and (self.item.clear or plane is None)
            actor.mapper.RemoveAllClippingPlanes()
            if plane is not None and self.item.body:
                actor.mapper.AddClippingPlane(plane)

    def paint(self, colour: tuple[float, float, float] | None) -> None:
        """Tint it; None gives it its own colours."""
        for actor in self.actors:
            if isinstance(self.item, Piece) and self.item.clear:
                actor.property.opacity = 1.0 if colour is None else CLEAR  # it is still seen through
            if colour is not None:
                actor.mapper.SetScalarVisibility(False)
                actor.property.color = colour
            elif isinstance(self.item, Lines):
                actor.property.color = self.item.colour
            elif not actor.mapper.GetScalarVisibility():
                actor.mapper.SetScalarVisibility(True)


class Crowd:
    """Surfaces drawn together on a renderer, those that look alike as one."""

    def __init__(self, renderer: Any) -> None:
        self._renderer = renderer
        self._drawn: list[tuple[list[Piece], Shown]] = []

    @property
    def shown(self) -> list[Shown]:
        """Return what they are drawn as."""
        return [one for _, one in self._drawn]

    def show(self, pieces: list[Piece], plane: Any) -> None:
        """Draw these and no others, cut by a plane; what they are drawn as is kept while none is drawn."""
        if pieces:
            before = self._drawn
            self._drawn = [self._as_drawn(own, plane) for own in alike(pieces)]
            for _, one in before:
                if not any(one is other for other in self.shown):
                    self._renderer.RemoveActor(one.full)
        for one in self.shown:
            one.full.visibility = bool(pieces)

    def _as_drawn(self, own: list[Piece], plane: Any) -> tuple[list[Piece], Shown]:
        for pieces, one in self._drawn:
            if len(pieces) == len(own) and all(map(same_surface, pieces, own)):
                if not all(map(is_, pieces, own)):
                    recolour(one.full, np.concatenate([piece.colours for piece in own]))
                return own, one
        item = together(own)
        one = Shown(item, surface(self._renderer, item))
        one.cut(plane)
        return own, one


def met(shown: Sequence[Shown], start: Floats, way: Floats, *, plane: Any) -> tuple[Shown, Floats] | None:
    """Return the surface that a line meets first, and the point, of what a plane leaves; None for none."""
    boxes = np.array([one.full.GetBounds() for one in shown]).reshape(-1, 3, 2)
    with np.errstate(divide="ignore", invalid="ignore"):
        ends = np.sort((boxes - start[:, None]) / way[:, None], axis=2)
    enters, leaves = np.fmax.reduce(ends[..., 0], axis=1), np.fmin.reduce(ends[..., 1], axis=1)
    found, nearest = None, np.inf
    for index in np.argsort(enters):
        if enters[index] < nearest and max(enters[index], 0.0) <= leaves[index]:
            for distance in np.sort(_crossed(shown[index], start, way)):
                point = start + way * distance
                if plane is None or plane.EvaluateFunction(point) >= 0.0:
                    if distance < nearest:
                        found, nearest = (shown[index], point), distance
                    break
    return found


def _crossed(one: Shown, start: Floats, way: Floats) -> Floats:
    """Return how far along a line, ahead of its start, it crosses a surface, (k,)."""
    if one.move is not None:
        start, way = one.move.inverse().apply(start), one.move.inverse().direction(way)
    aside = np.cross(way, np.eye(3)[np.abs(way).argmin()])
    frame = np.stack([aside, np.cross(way, aside), way], axis=1)
    seen = (one.item.points - start) @ frame  # as the line sees it: it is the origin
    x, y = np.ascontiguousarray(seen[:, :2].T)
    a, b, c = one.item.faces.T
    shares = np.stack([x[i] * y[j] - x[j] * y[i] for i, j in ((b, c), (c, a), (a, b))])
    whole = shares.sum(axis=0)
    through = ((shares >= 0.0).all(axis=0) | (shares <= 0.0).all(axis=0)) & (whole != 0.0)
    shares, corners = shares[:, through] / whole[through], one.item.faces[through].T
    depths = (shares * seen[:, 2][corners]).sum(axis=0)
    return np.asarray(depths[depths > 0.0])


def same_surface(old: Piece, new: Piece) -> bool:
    """Tell whether two pieces look the same but for their colours, wherever they came from."""
    looks = [(one.body, one.clear, one.lighted, one.shine, one.gloss, one.one_sided) for one in (old, new)]
    return looks[0] == looks[1] and all(
        a is b or np.array_equal(a, b) for a, b in ((old.points, new.points), (old.faces, new.faces))
    )
