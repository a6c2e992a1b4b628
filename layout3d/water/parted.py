"""Whether things that stand or lie loose in a space part it: known from the room close around each.

Fixed bodies leave a space of a vessel's inside, the same wherever loose things are moved. A cluster of loose
things lies in a box with room all around, and boxes lie apart. Take a piece of the space in a box. If just
one piece is left of it by the cluster that reaches the box's sides, then any way through the box can be led
round the cluster, and what hung together still does. What reaches no side is closed in. So each box tells by
itself what its cluster closes in, and a thing that is moved is looked at alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from layout3d.keep import remembered
from layout3d.solid.boolean import clusters, components, difference, intersection, side_by_side
from layout3d.solid.level import surely_one_below
from layout3d.solid.primitives import box
from layout3d.solid.shape import Placement, Points, Solid

__all__ = ["Parted", "parted"]

ROOM = 0.001  # around a cluster to the sides of its box, [m]
AT_SIDE = 1e-7  # how near to a side, or to the rim, a piece comes that reaches it, [m]
Box = tuple[Points, Points]


@dataclass(frozen=True, kw_only=True)
class Parted:
    """A vessel's inside less bodies in it that part no waters but what is ``shut``.

    ``shut`` are all the pieces that don't hang together with the open space, in no order.
    """

    inside: Solid
    fixed: tuple[Solid, ...]
    loose: tuple[tuple[Solid, ...], ...]
    shut: tuple[Solid, ...]

    def surely_one_below(self, level: float) -> bool:
        """Tell whether the open space below a level, [m], surely hangs together; False where it may not."""
        left, _ = _left(self.inside, self.fixed)
        if left is None or not remembered(
            "one below", left, level, make=lambda: surely_one_below(left, level)
        ):
            return False
        return all(self._goes_round(cluster, level) for cluster in self.loose)

    def _goes_round(self, cluster: tuple[Solid, ...], level: float) -> bool:
        low, high = _box(cluster)
        if low[2] >= level or high[2] <= level:  # over it, or known already
            return True
        found = _round(self.inside, self.fixed, cluster, level)
        shut = _round(self.inside, self.fixed, cluster) or ()
        return found is not None and len(found) == sum(piece.bounds[1, 2] <= level for piece in shut)


def parted(inside: Solid, fixed: Sequence[Solid], loose: Sequence[Solid]) -> Parted | None:
    """Return what loose things do to a space; None where only cutting all of them out of it can tell.

    Parameters
    ----------
    inside : of a vessel, open at its highest face
    fixed : bodies that are cut out of it first
    loose : bodies that are cut out of that
    """
    left, shut = _left(inside, tuple(fixed))
    if left is None:
        return None
    near = [solid for solid in loose if _reach(solid.bounds + np.array([[-ROOM], [ROOM]]), inside.bounds)]
    parts = tuple(tuple(cluster) for cluster in clusters(near, 2.0 * ROOM))
    closed = [_closed_in(inside, fixed, shut, cluster) for cluster in parts]
    unsure = {
        solid for cluster, pieces in zip(parts, closed, strict=True) if pieces is None for solid in cluster
    }
    if unsure:
        # cut out with what is fixed: then the rest is looked at again
        held = [solid for solid in loose if solid in unsure]
        return parted(inside, (*fixed, *held), [solid for solid in loose if solid not in unsure])
    boxes = [_box(cluster) for cluster in parts]
    apart = [piece for piece in shut if not any(_reach(np.stack(ends), piece.bounds) for ends in boxes)]
    for pieces in closed:
        apart += pieces or ()
    return Parted(inside=inside, fixed=tuple(fixed), loose=parts, shut=tuple(apart))


def _closed_in(
    inside: Solid, fixed: Sequence[Solid], shut: Sequence[Solid], cluster: tuple[Solid, ...]
) -> tuple[Solid, ...] | None:
    """Return all that is closed in in the box of a cluster; None where that isn't sure."""
    low, high = _box(cluster)
    for piece in shut:
        held = (low < piece.bounds[0]).all() and (piece.bounds[1] < high).all()
        if not held and _reach(np.stack([low, high]), piece.bounds):
            return None
    return _round(inside, fixed, cluster)


def _left(inside: Solid, fixed: tuple[Solid, ...]) -> tuple[Solid | None, tuple[Solid, ...]]:
    """Return what fixed bodies leave that is open at the top, and what not; None where that isn't sure."""

    def make() -> tuple[Solid | None, tuple[Solid, ...]]:
        parts = components(left) if (left := difference(inside, fixed)) is not None else ()
        top = inside.bounds[1, 2] - AT_SIDE
        opened = [part for part in parts if part.bounds[1, 2] >= top]
        if not opened or parts[0] is not opened[0]:  # a cover may lie over it
            return None, ()
        return side_by_side(opened), tuple(part for part in parts if part.bounds[1, 2] < top)

    return remembered("left by fixed bodies", inside, *fixed, make=make, size=_size)


def _size(found: tuple[Solid | None, tuple[Solid, ...]]) -> int:
    return 100 * sum(len(solid.vertices) for solid in (found[0], *found[1]) if solid is not None)


def _box(cluster: Sequence[Solid]) -> Box:
    return (
        np.min([solid.bounds[0] for solid in cluster], axis=0) - ROOM,
        np.max([solid.bounds[1] for solid in cluster], axis=0) + ROOM,
    )


def _round(
    inside: Solid, fixed: Sequence[Solid], cluster: Sequence[Solid], level: float | None = None
) -> tuple[Solid, ...] | None:
    """Return what a cluster closes in, of the space below a level; None where it may part the space."""
    low, high = _box(cluster)
    near = tuple(solid for solid in fixed if _reach(np.stack([low, high]), solid.bounds))
    return remembered(
        "closed in",
        inside,
        near,
        cluster,
        level,
        make=lambda: (_looked_round(inside, near, cluster, (low, high), level),),
    )[0]


def _looked_round(
    inside: Solid, near: Sequence[Solid], cluster: Sequence[Solid], ends: Box, level: float | None
) -> tuple[Solid, ...] | None:
    low, high = ends
    rim = float(inside.bounds[1, 2])
    top = high.copy()
    top[2] = min(high[2], rim if level is None else level)
    room = intersection(inside, box(top - low).solid(Placement.at(low)))
    before = difference(room, near) if room is not None else None
    if before is None:
        return ()
    after = difference(before, cluster)
    capped = 2 if top[2] < high[2] else 3  # where the room ends at the rim or the level is no side of the box

    def to_side(piece: Solid) -> bool:
        ends_at = (piece.bounds[0] - low, (top - piece.bounds[1])[:capped])
        return min(float(end.min()) for end in ends_at) <= AT_SIDE

    def to_rim(piece: Solid) -> bool:
        return level is None and bool(piece.bounds[1, 2] >= rim - AT_SIDE)

    left = components(after) if after is not None else ()
    went_on, goes_on = (
        [piece for piece in pieces if to_side(piece)] for pieces in (components(before), left)
    )
    # each that went on still does, by one piece; and if it was open by this place alone, it still is
    if len(goes_on) != len(went_on) or sum(map(to_rim, goes_on)) != sum(map(to_rim, went_on)):
        return None
    return tuple(piece for piece in left if not to_side(piece) and not to_rim(piece))


def _reach(one: Points, other: Points) -> bool:
    return bool((one[0] <= other[1]).all() and (other[0] <= one[1]).all())
