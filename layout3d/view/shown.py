"""Something on the screen: what is drawn, its actors, where they stand and what tints them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from layout3d.draw.pieces import Lines, Piece
from layout3d.solid.placement import Placement

__all__ = ["Shown", "same_surface"]

CLEAR = 0.18  # what a clear thing that is tinted hides of what is behind it


@dataclass(frozen=True, slots=True)
class Shown:
    """Something that is drawn, and its actor; and the same for what takes its place while things move."""

    item: Any = None
    full: Any = None
    coarse: Piece | None = None
    light: Any = None

    @property
    def actors(self) -> list[Any]:
        """Return its one or two actors."""
        return [actor for actor in (self.full, self.light) if actor is not None]

    def stand(self, move: Placement | None) -> None:
        """Draw it moved from where it was made; None for not at all."""
        from vtkmodules.vtkCommonMath import vtkMatrix4x4

        matrix = None
        if move is not None:
            matrix = vtkMatrix4x4()
            matrix.DeepCopy([*np.column_stack([move.rotation, move.offset]).ravel(), 0.0, 0.0, 0.0, 1.0])
        for actor in self.actors:
            actor.SetUserMatrix(matrix)

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


def same_surface(old: Piece, new: Piece) -> bool:
    """Tell whether two pieces look the same, wherever they came from."""
    return (
        (old.body, old.clear, old.lighted) == (new.body, new.clear, new.lighted)
        and old.points.shape == new.points.shape
        and old.faces.shape == new.faces.shape
        and np.array_equal(old.colours, new.colours)
        and np.array_equal(old.points, new.points)
        and np.array_equal(old.faces, new.faces)
    )
