"""Union, difference, common part, cutting and outlines of solids, by exact mesh booleans (manifold3d).

Results stand in the scene's axes (identity placement). A rest below 1e-15 m³ is rounding, and dropped.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import Any

import manifold3d
import numpy as np
from numpy.typing import ArrayLike

from layout3d.keep import remembered
from layout3d.solid.contain import inside
from layout3d.solid.placement import Placement, Points, along
from layout3d.solid.primitives import box
from layout3d.solid.shape import Shape, Solid
from layout3d.solid.store import stored_result

__all__ = [
    "RunningUnion",
    "clusters",
    "common_part",
    "components",
    "cropped",
    "difference",
    "flat_outline",
    "intersection",
    "section",
    "shared",
    "side_by_side",
    "trim",
    "union",
    "whole",
]

SAME_POINT = 1e-10  # rounding of a cut point, [m]
BYTES_A_FACE = 200  # of a solid in the boolean library, about
WORTH_KEEPING = 400  # faces of all operands; fewer are done sooner than read from a file
ASIDE = 0.001  # of a box to where what reaches out of it is cut, [m]
NOTHING = 1e-15  # a cube of 0.01 mm, [m³]: below every gap and cut anyone can make


def union(solids: Iterable[Solid]) -> Solid | None:
    """Join solids into one; None where there are none.

    Overlaps count once. Parts that stay apart stay so within the one result (see :func:`components`).
    """
    given = list(dict.fromkeys(solids))  # what stands twice counts once
    if len(given) == 1:
        return given[0]
    return _kept("union", given, lambda: _joined(given)) if given else None


def difference(solid: Solid, cutters: Iterable[Solid], *, loose: Iterable[Solid] = ()) -> Solid | None:
    """Take all ``cutters`` out of ``solid``, then all that are ``loose``; None where nothing is left.

    What is left before the loose ones, and before those that hang together in fewer faces than others do, is
    held in memory, so that moving one of these cuts no other out anew; what one cutter alone leaves is not.
    """
    near = [cutter for cutter in dict.fromkeys(cutters) if solid.box_meets(cutter)]
    last = [cutter for cutter in dict.fromkeys(loose) if solid.box_meets(cutter) and cutter not in near]
    if not near and not last:
        return solid

    def make() -> Any:
        # never read from a file: the library does not take its own cut mesh in again as it was
        done = [solid, *near]
        if len(done) == 2 and not last:
            return _cut([operand.manifold for operand in done])
        left = _held("left of", done, lambda: _cut([operand.manifold for operand in done]))
        together = clusters(last)
        if len(together) > 1:
            large = max(together, key=lambda cluster: sum(len(each.faces) for each in cluster))
            together.remove(large)
            before = left
            left = _held("left of", [*done, *large], lambda: _cut([before, _together(large)]))
        return _cut([left, *map(_together, together)])

    return _kept(f"difference, {len(last)} loose", [solid, *near, *last], make)


def intersection(a: Solid, b: Solid) -> Solid | None:
    """Return what two solids share; None where they share nothing."""
    if not a.box_meets(b):
        return None
    return _kept("intersection", (a, b), lambda: a.manifold ^ b.manifold)


def shared(a: Solid, b: Solid) -> Solid | None:
    """Return what two solids share, cut once whichever of the two is asked for."""
    return intersection(*sorted((a, b), key=lambda solid: solid.content_key))


def cropped(solids: Iterable[Solid], bounds: Points) -> list[Solid]:
    """Return what of solids lies in a box, those that pass it by left out.

    Whatever is cut with this instead of the solids hangs on what is near it alone, and is kept where they
    change farther off. The cut lies a little outside of the box, so that it makes no faces in its sides.

    Parameters
    ----------
    bounds : lowest and highest corner of the box, (2, 3), [m]
    """
    low, high = bounds[0] - ASIDE, bounds[1] + ASIDE
    near, passed = [], False
    for solid in solids:
        least, most = solid.bounds
        if (least <= high).all() and (most >= low).all():
            near.append(solid)
            passed = passed or bool((least < low).any() or (most > high).any())
    if not passed:
        return near

    def make() -> tuple[Solid, ...]:
        room = box(high - low).solid(Placement.at(low))
        held = ((solid.bounds[0] >= low).all() and (solid.bounds[1] <= high).all() for solid in near)
        parts = (
            solid if whole else intersection(solid, room) for solid, whole in zip(near, held, strict=True)
        )
        return tuple(part for part in parts if part is not None)

    return list(remembered("cropped", bounds, tuple(near), make=make, size=_faces_of))


class RunningUnion:
    """Unions of the first, the first two, … of a row of solids; the next row goes on from where it parts."""

    def __init__(self) -> None:
        self._row: list[tuple[Solid, Any]] = []

    def of(self, solids: Sequence[Solid]) -> Any:
        """Return the union (manifold3d.Manifold) of one or more solids, joined in this order."""
        alike = 0
        while alike < min(len(self._row), len(solids)) and self._row[alike][0] == solids[alike]:
            alike += 1
        del self._row[alike:]
        for solid in solids[alike:]:
            joined = self._row[-1][1] + solid.manifold if self._row else solid.manifold
            joined.num_tri()  # the library puts work off: done here, it is done once
            self._row.append((solid, joined))
        return self._row[-1][1]


def common_part(
    solid: Solid, together: Sequence[Solid], singly: Sequence[Solid], running: RunningUnion
) -> Solid | None:
    """Return what a solid shares with any of others; None where it shares nothing.

    Parameters
    ----------
    together : others that are joined first, in this order: quicker where they share much with each other
    singly : others that are cut one by one: quicker where little is shared, or they are large
    running : holds what was joined for the solid before; the result is the same without it
    """
    if len(together) + len(singly) == 1:
        return shared(solid, *together, *singly)

    def make() -> Any:
        cut = [part.manifold for other in singly if (part := intersection(solid, other)) is not None]
        if together:
            cut.append(solid.manifold ^ running.of(together))
        return cut[0] if len(cut) == 1 else manifold3d.Manifold.batch_boolean(cut, manifold3d.OpType.Add)

    return _kept(f"common part, {len(together)} joined", (solid, *together, *singly), make)


def whole(result: Solid | None, of: str) -> Solid:
    """Return the result of a boolean that leaves something of a thing; a fault of the program where not."""
    if result is None:
        raise RuntimeError(f"fault of the program: nothing is left of a {of}")
    return result


def components(solid: Solid) -> tuple[Solid, ...]:
    """Return the parts that hang together, largest first; a cavity stays with the part around it.

    Empty where rounding has left nothing but skins turned inside out.
    """
    if len(solid.shape.shells) == 1:
        return (solid,)
    shells = [shell for shell in _shells(solid) if abs(shell.volume) > NOTHING]
    outer = sorted((s for s in shells if s.volume > 0), key=lambda s: s.volume, reverse=True)
    cavities = [s for s in shells if s.volume < 0]
    if not outer:
        return ()
    holds: list[list[Shape]] = [[shell] for shell in outer]
    for cavity in cavities:
        # the smallest part around it; one always is, for the whole is a solid
        around = [k for k, shell in enumerate(outer) if _box_holds(shell, cavity)] or [0]
        while len(around) > 1 and not inside(outer[around[-1]].solid(), cavity.vertices[:1])[0]:
            around.pop()
        holds[around[-1]].append(cavity)
    return tuple(_merged(group).solid() for group in holds)


def clusters(solids: Sequence[Solid], apart: float = 0.0) -> list[list[Solid]]:
    """Part solids into those whose boxes hang together, each in the order given.

    Parameters
    ----------
    apart : boxes hang together where they come nearer to each other than this along all axes, [m]
    """
    if not solids:
        return []
    boxes = np.stack([solid.bounds for solid in solids])
    reaches = (boxes[:, None, 0] <= boxes[None, :, 1] + apart).all(axis=2)
    meets = reaches & reaches.T
    label = np.arange(len(solids))
    while True:  # the lowest number spreads from box to box
        lowest = np.where(meets, label, len(solids)).min(axis=1)
        if (lowest == label).all():
            break
        label = lowest
    return [[solids[k] for k in np.flatnonzero(label == number).tolist()] for number in np.unique(label)]


def side_by_side(solids: Sequence[Solid]) -> Solid:
    """Return one or more solids that lie apart from each other as one."""
    if len(solids) == 1:
        return solids[0]
    starts = np.cumsum([0, *(len(solid.vertices) for solid in solids[:-1])])
    return Shape.trusted(
        np.concatenate([solid.vertices for solid in solids]),
        np.concatenate([solid.faces + start for solid, start in zip(solids, starts, strict=True)]),
    ).solid()


def trim(solid: Solid, *, normal: ArrayLike, offset: float) -> Solid | None:
    """Cut a solid with a plane and keep the side where ``dot(p, normal) <= offset``.

    Parameters
    ----------
    normal : (3,) float, of any length above 0
    offset : [m] if ``normal`` has unit length

    Returns
    -------
    The part kept; the solid itself where the plane passes it; None where nothing is kept.
    """
    facing = np.asarray(normal, dtype=np.float64)
    length = float(np.linalg.norm(facing))
    if not length > 0:
        raise ValueError("trim: normal must have a length")
    heights = along(solid.vertices, facing / length)
    distance = offset / length
    if heights.max() <= distance:
        return solid
    if heights.min() >= distance:
        return None
    away = tuple((-facing / length).tolist())
    what = f"trim {' '.join(number.hex() for number in (*away, float(distance)))}"
    return _kept(what, (solid,), lambda: solid.manifold.trim_by_plane(away, -distance))


def section(solid: Solid, *, origin: ArrayLike, normal: ArrayLike) -> list[Points]:
    """Outlines where a plane cuts a solid.

    Parameters
    ----------
    origin : (3,) float, [m]; a point of the plane
    normal : (3,) float, of any length above 0

    Returns
    -------
    Closed polylines, each (k, 3) float, [m], the first point repeated at the end; anticlockwise round
    material and clockwise round holes, seen against ``normal`` (from the side it points to). Empty where
    the plane passes the solid. Where a flat face lies exactly in the plane, the cut just behind it is given.
    """
    point = np.asarray(origin, dtype=np.float64)
    facing = np.asarray(normal, dtype=np.float64)
    length = float(np.linalg.norm(facing))
    if not length > 0:
        raise ValueError("section: normal must have a length")
    height = along(solid.vertices - point, facing / length)
    # a vertex in the plane counts as ahead of it: then a face is either cut through two edges or not at all
    behind = height < 0.0
    count = behind[solid.faces].sum(axis=1)
    cut = (count > 0) & (count < 3)
    faces = solid.faces[cut]
    if not len(faces):
        return []
    odd = np.argmax(behind[faces] == (count[cut] == 1)[:, None], axis=1)
    turned = np.take_along_axis(faces, (odd[:, None] + np.arange(3)) % 3, axis=1)
    into = np.sort(turned[:, [0, 2]], axis=1)  # the two cut edges of each face, in the order of its turn
    out = np.sort(turned[:, [0, 1]], axis=1)
    swap = count[cut] == 2
    begin, end = np.where(swap[:, None], out, into), np.where(swap[:, None], into, out)

    edges, index = np.unique(np.concatenate([begin, end]), axis=0, return_inverse=True)
    index = index.ravel()
    a, b = solid.vertices[edges[:, 0]], solid.vertices[edges[:, 1]]
    ha, hb = height[edges[:, 0]], height[edges[:, 1]]
    points = a + (b - a) * (ha / (ha - hb))[:, None]
    follows: dict[int, list[int]] = {}
    for first, second in zip(index[: len(begin)].tolist(), index[len(begin) :].tolist(), strict=True):
        follows.setdefault(first, []).append(second)
    return [loop for loop in (_outline(points[trail]) for trail in _trails(follows)) if len(loop)]


def flat_outline(
    solid: Solid, *, right: ArrayLike, out: ArrayLike, origin: ArrayLike = (0.0, 0.0, 0.0)
) -> list[Points]:
    """Return the outline of a solid as it is seen against ``out``, with ``right`` to the right.

    Parameters
    ----------
    right, out : (3,) float, any length above 0, square to each other
    origin : (3,) float, [m]; the point of the scene that comes to 0, 0

    Returns
    -------
    Rings, each (k, 2) float, [m], open; anticlockwise round the solid, clockwise round what one sees through.
    """
    turned = solid.moved(Placement.from_frame(origin, right, out).inverse())
    return [np.asarray(ring, dtype=np.float64) for ring in turned.manifold.project().to_polygons()]


def _trails(follows: dict[int, list[int]]) -> Iterable[list[int]]:
    while follows:
        start = next(iter(follows))
        trail, here = [start], start
        while here in follows:
            following = follows[here].pop()
            if not follows[here]:
                del follows[here]
            here = following
            trail.append(here)
            if here == start:
                break
        yield trail


def _outline(points: Points) -> Points:
    """Drop points that repeat the one before or lie on a straight run; fewer than three are nothing."""
    step = np.linalg.norm(np.diff(points, axis=0), axis=1)
    kept = points[:-1][step > SAME_POINT]
    ahead, back = np.roll(kept, -1, axis=0) - kept, kept - np.roll(kept, 1, axis=0)
    bend = np.linalg.norm(np.cross(ahead, back), axis=1)
    straight = bend <= SAME_POINT * np.linalg.norm(ahead + back, axis=1)
    straight[1:] &= ~straight[:-1]  # never two in a row, so that a fine curve is not eaten up
    kept = kept[~straight]
    if len(kept) < 3:
        return np.zeros((0, 3))
    return np.concatenate([kept, kept[:1]])


def _shells(solid: Solid) -> list[Shape]:
    """Each connected piece of a solid's surface by itself; a cavity's piece is inside out."""
    return Shape.parted(solid.vertices, solid.faces, solid.shape.shell_of_face)


def _joined(solids: Sequence[Solid]) -> Any:
    return manifold3d.Manifold.batch_boolean([solid.manifold for solid in solids], manifold3d.OpType.Add)


def _cut(operands: Sequence[Any]) -> Any:
    """Take all but the first (manifold3d.Manifold) out of it."""
    if len(operands) == 1:
        return operands[0]
    return manifold3d.Manifold.batch_boolean(list(operands), manifold3d.OpType.Subtract)


def _faces_of(solids: Iterable[Solid]) -> int:
    """Return about what solids take in memory, [bytes]."""
    return BYTES_A_FACE * sum(solid.face_count for solid in solids)


def _together(solids: Sequence[Solid]) -> Any:
    """Return a cluster of solids as one (manifold3d.Manifold), held in memory."""
    return solids[0].manifold if len(solids) == 1 else _held("cluster", solids, lambda: _joined(solids))


def _held(what: str, solids: Sequence[Solid], make: Callable[[], Any]) -> Any:
    """Return what the library makes of solids (manifold3d.Manifold), held in memory."""

    def made() -> Any:
        result = make()
        result.num_tri()  # the library puts work off: done here, it is done once
        return result

    return remembered(what, tuple(solids), make=made, size=lambda held: BYTES_A_FACE * held.num_tri())


def _kept(what: str, operands: Sequence[Solid], make: Callable[[], Any]) -> Solid | None:
    """Return the result of a boolean, kept under its operands; one of few faces only in memory."""
    if sum(len(operand.faces) for operand in operands) >= WORTH_KEEPING:
        shape = stored_result(what, operands, lambda: Shape.from_manifold(make()))
    else:
        shape = remembered(
            what,
            tuple(operands),
            make=lambda: (Shape.from_manifold(make()),),
            size=lambda found: sum(each.vertices.nbytes + each.faces.nbytes for each in found if each),
        )[0]
    return None if shape is None or abs(shape.volume) <= NOTHING else shape.solid()


def _box_holds(shell: Shape, cavity: Shape) -> bool:
    (low, high), (least, most) = shell.bounds, cavity.bounds
    return bool((low <= least).all() and (most <= high).all())


def _merged(shapes: Sequence[Shape]) -> Shape:
    if len(shapes) == 1:
        return shapes[0]
    shifts = np.cumsum([0, *(len(shape.vertices) for shape in shapes[:-1])])
    return Shape.trusted(
        np.concatenate([shape.vertices for shape in shapes]),
        np.concatenate([shape.faces + shift for shape, shift in zip(shapes, shifts, strict=True)]),
    )
