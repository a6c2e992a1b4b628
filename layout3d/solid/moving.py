"""One solid tried at many places among others that stay: what it meets there, and how near it comes.

Told by the collision library alone: nothing is cut, and nothing kept by pair. What hangs on the shapes and
not on the place is made once, with the object, or when it is first asked for.
"""

from __future__ import annotations

import heapq
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property

import coal
import numpy as np
from numpy.typing import NDArray

from layout3d.keep import FIGURES, code_of, kept, key_of
from layout3d.solid.contain import inside
from layout3d.solid.placement import Placement, Points
from layout3d.solid.shape import Solid

__all__ = ["CLEAR", "Course", "Moving", "corners_of", "met_along"]

OFTEN = 5  # that a solid is asked for a point in it before it is taken into the kernel
HAIR = 1e-9  # between boxes, more than rounding, [m]
FIRST = 16  # places of a way that are looked at before farther ones: what bars it is mostly near
SURE = 1e-5  # by so much less is it taken to be clear of another than the collision library says, [m]
CLEAR = 10.0  # as far off as matters, [m]
MOST_TURNS = 50  # in which it is known where its corners are


class Moving:
    """A solid that is moved from where it stands, and others that stay."""

    def __init__(self, solid: Solid, others: Sequence[Solid]) -> None:
        self._solid, self._others = solid, tuple(others)
        self._corners = corners_of(solid)
        boxes = np.array([other.bounds for other in others]).reshape(-1, 2, 3)
        self._low, self._high, self._ends = boxes[:, 0], boxes[:, 1], boxes.reshape(-1, 6).tolist()
        self._theirs: dict[int, Other] = {}
        self._turns: dict[bytes, _Turn] = {}

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

    def clear(self, move: Placement, offset: Points, index: int) -> float:
        """Return how far another is from it, or less, [m], turned as by a move and shifted by an offset (3,).

        Below 0 where it touches, cuts, holds or is held by that.
        """
        result = coal.CollisionResult()
        coal.collide(*self._pair(self._turn(move), offset, index), coal.CollisionRequest(), result)
        if result.isCollision() or self._holds(move, offset, index):
            return -1.0
        return min(max(float(result.distance_lower_bound) - SURE, 0.0), CLEAR)

    def box(self, move: Placement, offset: Points) -> Points:
        """Return its lowest and highest corner there, (2, 3), [m]."""
        return self._turn(move).box + offset

    def _pair(self, turn: _Turn, offset: Points, index: int) -> tuple[object, object, object, object]:
        """Return it there and another, each as tree and transform: what the collision library asks for."""
        other = self._other(index)
        return self._tree, coal.Transform3s(turn.rotation, turn.start + offset), other.tree, other.placed

    def _holds(self, move: Placement, offset: Points, index: int) -> bool:
        """Tell whether it holds another or is held by it, given that their surfaces do not meet.

        What is in one piece is held in whole, and so is its box.
        """
        turn, other, theirs = self._turn(move), self._other(index), self._ends[index]
        box = (turn.box + offset).ravel().tolist()
        may_be = len(turn.shells) > 1 or _in_box(box, theirs)
        if may_be and other.holds(turn.shells + offset):
            return True
        if len(other.shells) == 1 and not _in_box(theirs, box):
            return False
        back = Placement(move.rotation, offset).inverse()
        return bool(inside(self._solid, back.apply(other.shells)).any())

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

    def _turn(self, move: Placement) -> _Turn:
        turn = move.rotation.tobytes()
        found = self._turns.get(turn)
        if found is None:
            if len(self._turns) >= MOST_TURNS:
                self._turns.clear()
            own, corners = self._solid.placement, move.direction(self._corners)
            found = self._turns[turn] = _Turn(
                rotation=move.rotation @ own.rotation,
                start=move.rotation @ own.offset,
                shells=move.direction(self._shells),
                box=np.stack([corners.min(axis=0), corners.max(axis=0)]),
            )
        return found


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Turn:
    """A solid as a move turns it, but not shifted: its own axes, their origin, its shells and its box."""

    rotation: Points
    start: Points
    shells: Points
    box: Points


class Other:
    """What stays, as the collision library takes it; its tree is the shape's."""

    def __init__(self, solid: Solid) -> None:
        self.solid, self.tree = solid, solid.shape.tree
        self.placed = coal.Transform3s(solid.placement.rotation, solid.placement.offset)
        self.shells = solid.placement.apply(solid.shape.shells)
        self._asked, self._kernel = 0, None

    def holds(self, points: Points) -> bool:
        """Tell whether one of some points is inside; asked often, the kernel takes the mesh in for it."""
        self._asked += 1
        if self._asked == OFTEN:
            self._kernel = self.solid.shape.manifold
        return bool(inside(self.solid, points).any())


class Course:
    """A solid at some places, turned alike at each: what it is near to, and what it meets.

    ``boxes`` (n, 2, 3) are its lowest and highest corners there, [m].
    """

    def __init__(self, moving: Moving, move: Placement, offsets: Points) -> None:
        self._moving, self._move, self._offsets = moving, move, offsets
        self._turn = moving._turn(move)
        self.boxes = self._turn.box + offsets[:, None]

    @cached_property
    def near(self) -> NDArray[np.bool_]:
        """Tell which of the others its box meets at each place, (n, others)."""
        return self.nearer(0.0)

    def nearer(self, margin: float) -> NDArray[np.bool_]:
        """Tell which of the others' boxes are within a margin of its own at each place, (n, others)."""
        low, high = self._moving._low, self._moving._high + margin
        begins, ends = self.boxes[:, 0], self.boxes[:, 1] + margin
        found = np.zeros((len(begins), len(low)), dtype=bool)
        begin, end = begins.min(axis=0, initial=np.inf), ends.max(axis=0, initial=-np.inf)
        near = np.flatnonzero(((begin <= high) & (low <= end)).all(axis=1))  # most are off all the way
        found[:, near] = True
        for axis in range(3):
            found[:, near] &= (begins[:, axis, None] <= high[near, axis]) & (
                low[near, axis] <= ends[:, axis, None]
            )
        return found

    def meets(self, place: int, index: int) -> bool:
        """Tell whether it touches, cuts, holds or is held by another there."""
        return self._moving.clear(self._move, self._offsets[place], index) < 0.0

    def distance(self, place: int, index: int) -> float:
        """Return the distance to another there, [m]; 0 where they meet."""
        moving, offset = self._moving, self._offsets[place]
        pair = moving._pair(self._turn, offset, index)
        distance = float(coal.distance(*pair, coal.DistanceRequest(), coal.DistanceResult()))
        return 0.0 if distance <= 0.0 or moving._holds(self._move, offset, index) else distance


def met_along(
    courses: Sequence[Course],
    looks: Sequence[NDArray[np.bool_]],
    clear: Callable[[int, int, int], float],
    *,
    first: bool = False,
) -> tuple[int, int, int] | None:
    """Return where a solid meets one of the others on a way: which course, place and other; None for nowhere.

    Nearer places come before farther ones, and of these the middle of what is longest still to be looked at.
    Where it is clear of another, so it is as near to there as that.

    Parameters
    ----------
    courses : each along a straight line, at places evenly apart
    looks : (n, others) for each of them; which of the others are looked at where
    clear : as ``Moving.clear``, of a course by number and a place on it
    first : tell the first place on the way, not any
    """
    waiting: list[tuple[int, int, int, int, int, int]] = []
    steps = []
    for leg, (course, look) in enumerate(zip(courses, looks, strict=True)):
        offsets = course._offsets
        steps.append(float(np.linalg.norm(offsets[1] - offsets[0])) if len(offsets) > 1 else CLEAR)
        far = np.frexp(np.arange(len(offsets)) // FIRST)[1]
        for index in np.flatnonzero(look.any(axis=0)).tolist():
            places = np.flatnonzero(look[:, index])
            parts = np.flatnonzero((np.diff(places) > 1) | (np.diff(far[places]) > 0)) + 1
            for run in np.split(places, parts):
                waiting.append((leg, int(far[run[0]]), -len(run), int(run[0]), int(run[-1]), index))
    heapq.heapify(waiting)
    met: tuple[int, int, int] | None = None
    while waiting:
        leg, part, _, begin, end, index = heapq.heappop(waiting)
        if met is not None and (leg, end) >= met[:2]:
            if (leg, begin) >= met[:2]:
                continue
            end = met[1] - 1
        place = (begin + end) // 2
        off = clear(leg, place, index)
        if off < 0.0:
            met, off = (leg, place, index), 0.0
            if not first:
                break
        near = int(off / steps[leg])
        for low, high in ((begin, place - near - 1), (place + near + 1, end)):
            if low <= high:
                heapq.heappush(waiting, (leg, part, low - high - 1, low, high, index))
    return met


def corners_of(solid: Solid) -> Points:
    """Return the corners of a solid's convex hull where it stands, (n, 3), [m]."""

    def make() -> tuple[float, ...]:
        hull = solid.shape.manifold.hull().to_mesh64()
        return tuple(np.array(hull.vert_properties, dtype=np.float64)[:, :3].ravel().tolist())

    own = vars(solid)
    if "_corners" not in own:
        key = key_of("corners of the hull", code_of("solid"), solid.shape)
        own["_corners"] = solid.placement.apply(np.reshape(kept(key, FIGURES, make, worth=0.0), (-1, 3)))
        own["_corners"].flags.writeable = False
    corners: Points = own["_corners"]
    return corners


def _in_box(box: list[float], other: list[float]) -> bool:
    """Tell whether a box is in another, each its lowest corner and its highest, to within a hair."""
    inward = (1.0, 1.0, 1.0, -1.0, -1.0, -1.0)
    return all((a - b) * way > -HAIR for a, b, way in zip(box, other, inward, strict=True))
