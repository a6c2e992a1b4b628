"""One solid tried at many places among others that stay: what it meets there, and how near it comes.

Told by the collision library alone: nothing is cut, and nothing kept by pair. What hangs on the shapes and
not on the place is made once, with the object.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence

import coal
import numpy as np

from layout3d.solid.contain import inside
from layout3d.solid.placement import Placement, Points
from layout3d.solid.shape import Solid

__all__ = ["Moving"]


class Moving:
    """A solid that is moved from where it stands, and others that stay."""

    def __init__(self, solid: Solid, others: Sequence[Solid]) -> None:
        self._solid, self._others = solid, tuple(others)
        hull = solid.manifold.hull().to_mesh64()
        self._corners = np.array(hull.vert_properties, dtype=np.float64)[:, :3]
        self._shells = solid.placement.apply(solid.shape.shells)
        boxes = [other.bounds for other in others]
        self._low = np.array([low for low, _ in boxes]).reshape(-1, 3)
        self._high = np.array([high for _, high in boxes]).reshape(-1, 3)
        self._tree = solid.shape.tree
        self._placed = [(other.shape.tree, _transform(other.placement)) for other in others]
        self._their_shells = [other.placement.apply(other.shape.shells) for other in others]

    def corners(self, move: Placement) -> Points:
        """Return the corners of its convex hull, moved, (n, 3), [m]: as far as it reaches."""
        return move.apply(self._corners)

    def met(self, move: Placement, among: Collection[int] | None = None) -> list[int]:
        """Return the numbers of the others that it touches, cuts, holds or is held by, rising.

        Of those ``among`` alone, if given.
        """
        box = _box(self.corners(move))
        near = [index for index in self._near(box, 0.0) if among is None or index in among]
        if not near:
            return []
        there = self._there(move)
        return [index for index in near if self._collides(there, index) or self._holds(move, box, index)]

    def nearer(self, move: Placement, margin: float) -> dict[int, float]:
        """Return the distances to the others, by number, whose box is within a margin of its own, [m]."""
        box = _box(self.corners(move))
        there = self._there(move)
        return {index: self._distance(move, there, box, index) for index in self._near(box, margin)}

    def _near(self, box: Points, margin: float) -> list[int]:
        near = (box[0] <= self._high + margin) & (self._low <= box[1] + margin)
        return np.flatnonzero(near.all(axis=1)).tolist()

    def _there(self, move: Placement) -> object:
        own = self._solid.placement
        return coal.Transform3s(move.rotation @ own.rotation, move.rotation @ own.offset + move.offset)

    def _collides(self, there: object, index: int) -> bool:
        tree, placed = self._placed[index]
        result = coal.CollisionResult()
        coal.collide(self._tree, there, tree, placed, coal.CollisionRequest(), result)
        return bool(result.isCollision())

    def _distance(self, move: Placement, there: object, box: Points, index: int) -> float:
        tree, placed = self._placed[index]
        distance = float(
            coal.distance(self._tree, there, tree, placed, coal.DistanceRequest(), coal.DistanceResult())
        )
        return 0.0 if distance <= 0.0 or self._holds(move, box, index) else distance

    def _holds(self, move: Placement, box: Points, index: int) -> bool:
        """Tell whether it holds another or is held by it, given that their surfaces do not meet."""
        own = move.apply(self._shells)
        if _some_within(own, self._low[index], self._high[index]) and inside(self._others[index], own).any():
            return True
        theirs = self._their_shells[index]
        if not _some_within(theirs, *box):
            return False
        return bool(inside(self._solid, move.inverse().apply(theirs)).any())


def _transform(placement: Placement) -> object:
    return coal.Transform3s(placement.rotation, placement.offset)


def _box(points: Points) -> Points:
    return np.stack([points.min(axis=0), points.max(axis=0)])


def _some_within(points: Points, low: Points, high: Points) -> bool:
    return bool(((points >= low) & (points <= high)).all(axis=1).any())
