"""Whether things that stand or lie in a space part it: known from the room close around each.

Fixed bodies leave a space of a vessel's inside, the same wherever other things are moved. A cluster of these
lies in a box with room all around. Take a piece of the space in a box. If just one piece is left of it by the
cluster that reaches the box's sides, then any way through the box can be led round the cluster, and what hung
together still does. What reaches no side is closed in. So each box tells by itself what its cluster closes
in, and a thing that is moved is looked at alone. Clusters are set in one after another: what was set in
before, and reaches into the box of the next, stands there. So are the things of a cluster, each in a box of
its own, which is far less to cut; the cluster is looked at as a whole where that isn't sure for one of them.

Most things need no cut to tell. What a thing of one shell has in common with what stands there already are
mostly balls: one for a stone that lies in the bed. Then it parts no piece of the space, whatever goes on in
it (Mayer and Vietoris' sequence with Alexander's duality, Hatcher, Algebraic Topology, 2.2 and 3.3: without
loops in what two bodies share, each closed surface of both together is one of either; so no place between
them is closed in that neither closes in by itself).

Plumbing goes through walls that are hollowed for it. These are fixed as they were before, and the hollows
belong to the cluster: they make room where the pipes took it, and may join what hung together already.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TypeAlias

import numpy as np

from layout3d.keep import FIGURES, Form, code_of, file_away, kept, key_of, recalled, remembered
from layout3d.parts.base import Rough
from layout3d.plain import form_of
from layout3d.solid.boolean import clusters, components, cropped, difference, intersection, side_by_side, trim
from layout3d.solid.carved import taken_of
from layout3d.solid.distance import flush, meet
from layout3d.solid.level import surely_one_below
from layout3d.solid.nearby import lies_in
from layout3d.solid.primitives import box
from layout3d.solid.shape import Placement, Points, Shape, Solid
from layout3d.solid.store import TOLD
from layout3d.water.share import planes_of

__all__ = ["Hollowed", "Parted", "parted"]

GRID, OFF_GRID = 0.02, 0.00037  # of boxes with hollows; their sides lie on no round measure, [m]
ROOM = 0.001  # around a cluster to the sides of its box, [m]
AT_SIDE = 1e-7  # how near to a side, or to the rim, a piece comes that reaches it; skins are thinner, [m]
Pieces: TypeAlias = tuple[Solid, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Hollowed:
    """A fixed body as it was before it was hollowed, and what is left of it."""

    rough: Rough
    left: tuple[Solid, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Cluster:
    """Things near each other in a box (2, 3), [m], with what is hollowed for them in it.

    ``near`` is what stands in the box, rough, and ``carved`` the same when it is hollowed: whole, whatever of
    it lies elsewhere. ``singly`` are its things as clusters of their own.
    """

    solids: tuple[Solid, ...]
    hollowed: tuple[Hollowed, ...]
    bounds: Points
    near: tuple[Solid, ...] = ()
    carved: tuple[Solid, ...] = ()
    singly: tuple[_Cluster, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Parted:
    """A vessel's inside less bodies in it that part no waters but what is ``shut``.

    ``shut`` are all the pieces that don't hang together with the open space, in no order.
    """

    inside: Solid
    fixed: tuple[Solid, ...]
    loose: tuple[_Cluster, ...]
    shut: tuple[Solid, ...]

    def apart_below(self, level: float) -> Pieces | None:
        """Return the waters below a level, [m], that hang together with no others; None where it isn't sure.

        They are what clusters close in below the level and not below the rim, such as the bore of a pipe.
        """
        left, _ = _left(self.inside, self.fixed)
        if left is None:
            return None
        key = key_of("one below", code_of("solid"), left, level)
        if not kept(key, FIGURES, lambda: (float(surely_one_below(left, level)),))[0]:
            return None
        found = [self._apart(cluster, level) for cluster in self.loose]
        for own, pieces in zip(self.loose, found, strict=True):
            if pieces is None:
                return None
            # what another cluster comes to may be parted by that, what lies in its box is told by both
            others = [cluster for cluster in self.loose if cluster is not own]
            if any(_holds(each, piece) or _touches(each, piece) for piece in pieces for each in others):
                return None
        return tuple(piece for pieces in found for piece in pieces or ())

    def _apart(self, cluster: _Cluster, level: float) -> Pieces | None:
        if cluster.singly and all(self._apart(each, level) == () for each in cluster.singly):
            return ()
        low, high = cluster.bounds
        if low[2] >= level or high[2] <= level:  # over it, or known already
            return ()
        if _no_wall(self.inside, cluster, level):
            return ()
        found = _round(self.inside, cluster, level)
        if found is None:
            return None
        # the level leaves alone what is shut under it, and that is known; what is shut through it may be cut
        shut = [_place(piece) for piece in _round(self.inside, cluster) or () if piece.bounds[0, 2] < level]
        apart = tuple(piece for piece in found if _place(piece) not in shut)
        return apart if len(found) - len(apart) == len(shut) else None


def parted(
    inside: Solid,
    fixed: Sequence[Solid],
    loose: Sequence[Solid],
    hollowed: Sequence[Hollowed] = (),
    pipes: Sequence[Solid] = (),
) -> Parted | None:
    """Return what loose things do to a space; None where only cutting all of them out of it can tell.

    Parameters
    ----------
    inside : of a vessel, open at its highest face
    fixed : bodies that are cut out of it first
    loose : bodies that are cut out of that
    hollowed : fixed bodies that are hollowed for some pipes
    pipes : bodies that are set in with the hollows, before the loose ones
    """
    standing = (*fixed, *(each.rough.solid for each in hollowed))
    left, shut = _left(inside, standing)
    if left is None:
        return None
    parts = _set_in(fixed, hollowed, _clustered(inside, loose, hollowed, pipes))
    # these are told from their own boxes, before any with hollows in it, which are far more to cut
    unsure = [each for each in parts if hollowed and not each.hollowed and _unsure(inside, each)]
    apart, sure = list(shut), list[_Cluster]()
    for cluster in () if unsure else parts:
        found = _closed_in(inside, apart, cluster.singly) if cluster.singly else None
        if found is None:
            cluster = replace(cluster, singly=())  # nothing is known of these
            found = _closed_in(inside, apart, (cluster,))
        if found is None:
            unsure.append(cluster)
        else:
            apart = found
            sure.append(cluster)
    if unsure:
        # cut out with what is fixed: then the rest is looked at again
        within = {solid for cluster in unsure for solid in cluster.solids}
        held, free = ([solid for solid in loose if (solid in within) is so] for so in (True, False))
        if held and (pipes or hollowed):  # what isn't sure by itself may be with these near it
            return parted(inside, fixed, free, hollowed, (*pipes, *held))
        carved = [each for each in hollowed if any(each in cluster.hollowed for cluster in unsure)]
        joined = [solid for solid in pipes if solid in within]
        return parted(
            inside,
            (*fixed, *(solid for each in carved for solid in each.left), *held, *joined),
            free,
            [each for each in hollowed if each not in carved],
            [solid for solid in pipes if solid not in within],
        )
    return Parted(inside=inside, fixed=standing, loose=tuple(sure), shut=tuple(apart))


def _clustered(
    inside: Solid, loose: Sequence[Solid], hollowed: Sequence[Hollowed], pipes: Sequence[Solid]
) -> tuple[_Cluster, ...]:
    """Return things and hollows in clusters, those with hollows first; boxes of these lie apart."""
    reached = inside.bounds + np.array([[-ROOM], [ROOM]])

    def near(solids: Sequence[Solid]) -> list[Solid]:
        return [solid for solid in solids if _reach(solid.bounds, reached)]

    within, others = near(pipes), near(loose)
    hollows = [near(cropped(each.rough.works, each.rough.solid.bounds)) for each in hollowed]
    carving = {work for works in hollows for work in works}
    groups = clusters(
        list(dict.fromkeys([*within, *(work for works in hollows for work in works)])), 2.0 * ROOM
    )
    with_hollows: list[list[Solid]] = []
    for group in (group for group in groups if not carving.isdisjoint(group)):
        joined = group
        while met := [each for each in with_hollows if _reach(_box_of(each), _box_of(joined))]:
            with_hollows = [each for each in with_hollows if each not in met]
            joined = [solid for each in (*met, joined) for solid in each]
        with_hollows.append(joined)
    known = {*within, *others}
    boxes = [_box_of(group) for group in with_hollows]
    wide = [_on_grid(bounds) for bounds in boxes]
    for index, bounds in enumerate(wide):
        if not any(_reach(bounds, other) for other in (*wide[:index], *wide[index + 1 :])):
            boxes[index] = bounds
    loose_groups = [group for group in groups if carving.isdisjoint(group)]
    loose_groups += clusters(others, 2.0 * ROOM)
    return tuple(
        _Cluster(
            solids=tuple(solid for solid in group if solid in known),
            hollowed=tuple(
                each
                for each, works in zip(hollowed, hollows, strict=True)
                if not set(works).isdisjoint(group)
            ),
            bounds=bounds,
        )
        for group, bounds in (
            *zip(with_hollows, boxes, strict=True),
            *((group, _box_of(group)) for group in loose_groups),
        )
    )


def _box_of(members: Sequence[Solid]) -> Points:
    low = np.min([solid.bounds[0] for solid in members], axis=0) - ROOM
    return np.stack([low, np.max([solid.bounds[1] for solid in members], axis=0) + ROOM])


def _on_grid(bounds: Points) -> Points:
    """Return a box let out so that it stays the same for pipes a little longer or shorter."""
    low, high = np.floor(bounds[0] / GRID) * GRID, np.ceil(bounds[1] / GRID) * GRID
    return np.stack([low - OFF_GRID, high + OFF_GRID])


def _set_in(
    fixed: Sequence[Solid], hollowed: Sequence[Hollowed], parts: Sequence[_Cluster]
) -> tuple[_Cluster, ...]:
    """Return clusters with what stands in the box of each as it is set in after those before it."""
    done: list[_Cluster] = []
    fixed_boxes = np.array([solid.bounds for solid in fixed]).reshape(-1, 2, 3)
    boxes = np.array([cluster.bounds for cluster in parts]).reshape(-1, 2, 3)
    for number, cluster in enumerate(parts):
        bounds = cluster.bounds
        met = [done[index] for index in _reached(bounds, boxes[:number])]
        near, carved = [fixed[index] for index in _reached(bounds, fixed_boxes)], list[Solid]()
        near += [solid for other in met for solid in other.solids if _reach(bounds, solid.bounds)]
        for each in hollowed:
            if each in cluster.hollowed:
                carved += each.left
            elif any(each in other.hollowed for other in met):
                near += each.left
                continue
            if _reach(bounds, each.rough.solid.bounds):
                near.append(each.rough.solid)
        if cluster.hollowed:
            rough = {each.rough.solid for each in cluster.hollowed}
            carved += [solid for solid in near if solid not in rough]
        done.append(_taken_apart(replace(cluster, near=tuple(near), carved=tuple(carved))))
    return tuple(done)


def _taken_apart(cluster: _Cluster) -> _Cluster:
    """Return a cluster with its things as clusters of their own, the largest first."""
    if cluster.hollowed or len(cluster.solids) == 1:
        return cluster
    singly: list[_Cluster] = []
    there = list(cluster.near)
    for solid in sorted(cluster.solids, key=lambda each: -float(np.prod(np.ptp(each.bounds, axis=0)))):
        bounds = _box_of([solid])
        near = tuple(each for each in there if _reach(bounds, each.bounds))
        singly.append(_Cluster(solids=(solid,), hollowed=(), bounds=bounds, near=near))
        there.append(solid)
    return replace(cluster, singly=tuple(singly))


def _closed_in(inside: Solid, shut: list[Solid], parts: Sequence[_Cluster]) -> list[Solid] | None:
    """Return all that is closed in once clusters are set in, by what was before; None where it isn't sure."""
    for cluster in parts:
        far = [piece for piece in shut if not _touches(cluster, piece)]
        if len(far) == len(shut) and _no_wall(inside, cluster):
            continue
        if any(piece not in far and not _holds(cluster, piece) for piece in shut):
            return None
        pieces = _round(inside, cluster)
        if pieces is None:
            return None
        shut = [*(piece for piece in far if not _holds(cluster, piece)), *pieces]
    return shut


def _unsure(inside: Solid, cluster: _Cluster) -> bool:
    """Tell whether it isn't sure what a cluster closes in, whatever was closed in before it was set in."""
    if cluster.singly and not any(_unsure(inside, each) for each in cluster.singly):
        return False
    return not _no_wall(inside, cluster) and _round(inside, cluster) is None


def _holds(cluster: _Cluster, piece: Solid) -> bool:
    """Tell whether a piece lies within the box of a cluster: all of it is seen there."""
    low, high = cluster.bounds
    return bool((low < piece.bounds[0]).all() and (piece.bounds[1] < high).all())


def _touches(cluster: _Cluster, piece: Solid) -> bool:
    """Tell whether what is set in with a cluster may come to a piece, or open it."""
    if cluster.hollowed:
        return _reach(cluster.bounds, piece.bounds)
    return any(meet(solid, piece) for solid in cluster.solids)


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


def _no_wall(inside: Solid, cluster: _Cluster, level: float | None = None) -> bool:
    """Tell whether a cluster surely parts no piece of the space below a level: it is one thing that does not.

    False where the thing is hollow or comes to the inside's sides, or where faces lie flush: whether they
    leave a slit is for the cut to tell.
    """
    if cluster.hollowed or len(cluster.solids) != 1:
        return False
    solid = cluster.solids[0]
    near = tuple(each for each in cluster.near if each.box_meets(solid))
    key = key_of("no wall", code_of("solid", "water"), inside, solid, near, level)

    def make() -> tuple[float]:
        return (float(_lies_within(cluster.bounds, inside) and _shares_balls(solid, near, level)),)

    return kept(key, FIGURES, make, worth=0.001)[0] > 0.0


def _shares_balls(solid: Solid, near: Sequence[Solid], level: float | None) -> bool:
    """Tell whether all that a solid has in common with others, and with what is over a level, are balls.

    Balls make no loop where each shares one piece, or nothing, with just one of those before it.
    """
    if len(solid.shape.shells) > 1:
        return False
    top = np.inf if level is None else level
    if top < solid.bounds[1, 2] + AT_SIDE:
        over = trim(solid, normal=(0.0, 0.0, -1.0), offset=-top)
        if over is None or np.abs(solid.vertices[:, 2] - top).min() < AT_SIDE or not _balls(over):
            return False
    parts: list[tuple[Solid, Solid]] = []
    for other in near:
        if not meet(other, solid):
            continue
        part = taken_of(other, solid)
        if part is None or part.bounds[1, 2] > top - AT_SIDE or flush(other, solid) or not _balls(part):
            return False
        met = [(a, b) for a, b in parts if b.box_meets(part)]
        if any(flush(a, other, solid.bounds) for a, _ in met):
            return False
        shared = [common for _, b in met if (common := intersection(b, other)) is not None]
        if len(shared) > 1 or any(len(components(common)) > 1 for common in shared):
            return False
        parts.append((other, part))
    return True


def _balls(solid: Solid) -> bool:
    """Tell whether each shell of a solid is a sphere round something: then it is balls, side by side."""
    shape = solid.shape
    shells = Shape.parted(shape.vertices, shape.faces, shape.shell_of_face)
    # Euler: two more corners and faces than edges, of which there are three for two faces
    return all(2 * len(each.vertices) - len(each.faces) == 4 and each.volume > 0.0 for each in shells)


def _lies_within(bounds: Points, inside: Solid) -> bool:
    """Tell whether a box (2, 3) surely lies in a space, off its sides: in one that is convex."""
    planes = planes_of(inside)
    if planes is None:
        return False
    corners = np.array(list(itertools.product(*bounds.T)))
    return bool((corners @ planes[0].T - planes[1]).max() < -AT_SIDE)


def _round(inside: Solid, cluster: _Cluster, level: float | None = None) -> tuple[Solid, ...] | None:
    """Return what a cluster closes in, of the space below a level; None where it may part the space."""
    first = _key("closed in by all of", inside, cluster, level)
    known = recalled(first, _FOUND)
    if known is None:
        # a bed or a wall is far larger than most rooms, and does nothing to one elsewhere
        near, carved = (tuple(cropped(some, cluster.bounds)) for some in (cluster.near, cluster.carved))
        there = replace(cluster, near=near, carved=carved)
        key = _key("closed in", inside, there, level)
        known = kept(key, _FOUND, lambda: (_found_round(inside, there, level),))
        file_away(first, _FOUND, known)
    return known[0]


def _key(what: str, inside: Solid, cluster: _Cluster, level: float | None) -> bytes:
    inputs = (inside, cluster.near, cluster.carved, cluster.solids, cluster.bounds, level)
    return key_of(what, code_of("solid", "water"), *inputs)


def _found_round(inside: Solid, cluster: _Cluster, level: float | None) -> tuple[Solid, ...] | None:
    """Look round a cluster; where skins don't count, that it closes nothing in hangs on where things lie."""
    if not cluster.hollowed:
        return _looked_round(inside, cluster, level)
    where = [
        tuple(lies_in(solid, cluster.bounds) for solid in solids)
        for solids in (cluster.near, cluster.carved, cluster.solids)
    ]
    key = key_of("closes nothing in", code_of("solid", "water"), inside, *where, cluster.bounds, level)
    known = recalled(key, _FOUND)
    found = known[0] if known is not None else _looked_round(inside, cluster, level)
    if known is None and found == ():
        file_away(key, _FOUND, ((),))
    return found


_FOUND: Form[tuple[Pieces | None]] = form_of(
    "pieces of a space",
    size=lambda found: sum(p.shape.vertices.nbytes + p.shape.faces.nbytes for p in found[0] or ()),
    others={**TOLD, Solid: (lambda piece: piece.shape, Shape.solid)},
)


def _looked_round(inside: Solid, cluster: _Cluster, level: float | None) -> tuple[Solid, ...] | None:
    low, high = cluster.bounds
    rim = float(inside.bounds[1, 2])
    top = high.copy()
    top[2] = min(high[2], rim)
    room = intersection(inside, box(top - low).solid(Placement.at(low)))

    def below(left: Solid | None) -> Solid | None:
        # cut after all else, which is the same for each level
        return left if left is None or level is None else trim(left, normal=(0.0, 0.0, 1.0), offset=level)

    beside = difference(room, cluster.near) if room is not None else None
    capped = 2 if level is not None or rim < high[2] else 3  # there the room's end is no side of the box

    def to_side(piece: Solid) -> bool:
        ends_at = (piece.bounds[0] - low, (top - piece.bounds[1])[:capped])
        return min(float(end.min()) for end in ends_at) <= AT_SIDE

    def to_rim(piece: Solid) -> bool:
        return level is None and bool(piece.bounds[1, 2] >= rim - AT_SIDE)

    def goes_on(pieces: Sequence[Solid]) -> tuple[int, int]:
        """Return how many pieces go on beside the box, and how many of these come to the rim."""
        on = [piece for piece in pieces if to_side(piece)]
        return len(on), sum(map(to_rim, on))

    before = below(beside)
    went_on = goes_on(components(before) if before is not None else ())
    if went_on[0] > 1 or not cluster.hollowed:
        after = below(difference(beside, cluster.solids) if beside is not None else None)
        left = components(after) if after is not None else ()
        # each that went on still does, by one piece; and if it was open by this place alone, it still is
        if goes_on(left) != went_on:
            return None
    if cluster.hollowed:
        # what is hollowed adds to pieces, so that those that went on do so still, unless two become one
        after = below(difference(room, cluster.carved, loose=cluster.solids) if room is not None else None)
        # between a pipe and the foam around it rounding leaves skins
        parts = components(after) if after is not None else ()
        left = tuple(piece for piece in parts if 2.0 * piece.volume > AT_SIDE * piece.area)
        if goes_on(left) != went_on:
            return None
    return tuple(piece for piece in left if not to_side(piece) and not to_rim(piece))


def _place(piece: Solid) -> bytes:
    """Return what tells a piece from all others beside it: where its box lies, to within rounding."""
    return (piece.bounds.round(9) + 0.0).tobytes()


def _reached(one: Points, others: Points) -> list[int]:
    """Return which of boxes (n, 2, 3) a box (2, 3) reaches."""
    reaches: list[int] = np.flatnonzero(
        ((one[0] <= others[:, 1]) & (others[:, 0] <= one[1])).all(axis=1)
    ).tolist()
    return reaches


def _reach(one: Points, other: Points) -> bool:
    return bool((one[0] <= other[1]).all() and (other[0] <= one[1]).all())
