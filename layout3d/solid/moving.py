"""One solid tried at many places among others that stay: what it meets there, and how near it comes.

Told by the collision library alone: nothing is cut, and nothing kept by pair. What hangs on the shapes and
not on the place is made once, with the object, or when it is first asked for.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property

import coal
import numpy as np
from numpy.typing import NDArray

from layout3d.keep import FIGURES, code_of, kept, key_of
from layout3d.solid.contain import inside
from layout3d.solid.placement import Placement, Points
from layout3d.solid.shape import Solid

__all__ = ["Course", "Moving", "corners_of"]

AT_ONCE = 16  # places on a way that are looked at together: most ways that are tried are soon barred


class Moving:
    """A solid that is moved from where it stands, and others that stay."""

    def __init__(self, solid: Solid, others: Sequence[Solid]) -> None:
        self._solid, self._others = solid, tuple(others)
        self._corners = corners_of(solid)
        boxes = np.array([other.bounds for other in others]).reshape(-1, 2, 3)
        self._low, self._high = boxes[:, 0], boxes[:, 1]
        self._theirs: dict[int, Other] = {}

    def met(self, move: Placement) -> list[int]:
        """Return the numbers of the others that it touches, cuts, holds or is held by, rising."""
        course = self.course(move, [move.offset])
        (near,) = course.near
        return [index for index in np.flatnonzero(near).tolist() if course.meets(0, index)]

    def course(self, move: Placement, offsets: Sequence[Points] | Points) -> Course:
        """Return it at places (n, 3) of the scene's origin, [m], turned at each as a move turns it."""
        return Course(self, move, np.asarray(offsets))

    def nearer(self, move: Placement, margin: float) -> dict[int, float]:
        """Return the distances to the others, by number, whose box is within a margin of its own, [m]."""
        course = self.course(move, [move.offset])
        (near,) = course.nearer(margin)
        return {index: course.distance(0, index) for index in np.flatnonzero(near).tolist()}

    @cached_property
    def _tree(self) -> object:
        return self._solid.shape.tree

    @cached_property
    def _shells(self) -> Points:
        return self._solid.placement.apply(self._solid.shape.shells)

    def _other(self, index: int) -> Other:
        found = self._theirs.get(index)
        if found is None:
            found = self._theirs[index] = Other(self._others[index])
        return found


class Other:
    """What stays, as the collision library takes it; its tree is the shape's."""

    def __init__(self, solid: Solid) -> None:
        self.solid, self.tree = solid, solid.shape.tree
        self.placed = coal.Transform3s(solid.placement.rotation, solid.placement.offset)
        self.shells = solid.placement.apply(solid.shape.shells)


class Course:
    """A solid at some places, turned alike at each: what it is near to, and what it meets.

    ``boxes`` (n, 2, 3) are its lowest and highest corners there, [m].
    """

    def __init__(self, moving: Moving, move: Placement, offsets: Points) -> None:
        own = moving._solid.placement
        self._moving, self._rotation, self._offsets = moving, move.rotation, offsets
        self._turned = move.rotation @ own.rotation
        self._from = move.rotation @ own.offset
        self._shells = move.direction(moving._shells)
        self._held: dict[int, tuple[NDArray[np.bool_], NDArray[np.bool_]]] = {}
        self._inside: dict[int, dict[int, bool]] = {}
        corners = move.direction(moving._corners)
        self.boxes = np.stack([corners.min(axis=0) + offsets, corners.max(axis=0) + offsets], axis=1)

    @cached_property
    def near(self) -> NDArray[np.bool_]:
        """Tell which of the others its box meets at each place, (n, others)."""
        return self.nearer(0.0)

    def nearer(self, margin: float) -> NDArray[np.bool_]:
        """Tell which of the others' boxes are within a margin of its own at each place, (n, others)."""
        others = self._moving
        found = np.ones((len(self.boxes), len(others._low)), dtype=bool)
        for axis in range(3):
            low, high = self.boxes[:, :, axis, None].transpose(1, 0, 2)
            found &= (low <= others._high[:, axis] + margin) & (others._low[:, axis] <= high + margin)
        return found

    def meets(self, place: int, index: int) -> bool:
        """Tell whether it touches, cuts, holds or is held by another there."""
        result = coal.CollisionResult()
        coal.collide(*self._pair(place, index), coal.CollisionRequest(), result)
        return bool(result.isCollision()) or self._holds(place, index)

    def distance(self, place: int, index: int) -> float:
        """Return the distance to another there, [m]; 0 where they meet."""
        pair = self._pair(place, index)
        distance = float(coal.distance(*pair, coal.DistanceRequest(), coal.DistanceResult()))
        return 0.0 if distance <= 0.0 or self._holds(place, index) else distance

    def _pair(self, place: int, index: int) -> tuple[object, object, object, object]:
        """Return it there and another, each as tree and transform: what the collision library asks for."""
        there = coal.Transform3s(self._turned, self._from + self._offsets[place])
        other = self._moving._other(index)
        return self._moving._tree, there, other.tree, other.placed

    def _holds(self, place: int, index: int) -> bool:
        """Tell whether it holds another or is held by it, given that their surfaces do not meet."""
        may_be_held, may_hold = self._boxes_hold(index)
        moving, other = self._moving, self._moving._other(index)
        if may_be_held[place]:
            known = self._inside.setdefault(index, {})
            if place not in known:
                near = place + np.flatnonzero(may_be_held[place : place + AT_ONCE])
                points = (self._shells + self._offsets[near, None]).reshape(-1, 3)
                found = np.asarray(inside(other.solid, points).reshape(len(near), -1).any(axis=1))
                known |= {int(k): bool(held) for k, held in zip(near, found, strict=True)}
            if known[place]:
                return True
        if not may_hold[place]:
            return False
        back = Placement(self._rotation, self._offsets[place]).inverse()
        return bool(inside(moving._solid, back.apply(other.shells)).any())

    def _boxes_hold(self, index: int) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
        """Tell for each place whether a part of it is in another's box, and of that in its own, (n,) both."""
        found = self._held.get(index)
        if found is None:
            moving, own = self._moving, self._shells + self._offsets[:, None]
            found = self._held[index] = (
                _some_within(own, moving._low[index], moving._high[index]),
                _some_within(moving._other(index).shells, self.boxes[:, None, 0], self.boxes[:, None, 1]),
            )
        return found


def corners_of(solid: Solid) -> Points:
    """Return the corners of a solid's convex hull where it stands, (n, 3), [m]."""

    def make() -> tuple[float, ...]:
        hull = solid.manifold.hull().to_mesh64()
        return tuple(np.array(hull.vert_properties, dtype=np.float64)[:, :3].ravel().tolist())

    own = vars(solid)
    if "_corners" not in own:
        key = key_of("corners of the hull", code_of("solid"), solid)
        own["_corners"] = np.array(kept(key, FIGURES, make, worth=0.0)).reshape(-1, 3)
        own["_corners"].flags.writeable = False
    corners: Points = own["_corners"]
    return corners


def _some_within(points: Points, low: Points, high: Points) -> NDArray[np.bool_]:
    """Tell for each row of points (n, s, 3) whether one of them is in a box."""
    return np.asarray(((points >= low) & (points <= high)).all(axis=-1).any(axis=-1))
