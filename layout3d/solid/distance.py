"""Gaps and overlaps between solids, kept by pair so that moving one solid costs only its own pairs.

Gaps by a tree of bounding boxes (coal), overlaps by exact booleans (manifold3d). Round solids are polygons
within 0.01 mm of true, so a shared skin no thicker than TOUCH_THICKNESS counts as touching, not overlap.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TypeAlias

import coal
import numpy as np

from layout3d.keep import FIGURES, code_of, kept, key_of, remembered
from layout3d.solid.boolean import components, shared
from layout3d.solid.contain import inside
from layout3d.solid.depth import depth, mean_thickness, without_skins
from layout3d.solid.moving import Moving
from layout3d.solid.placement import IDENTITY, along
from layout3d.solid.shape import Faces, Placement, Points, Shape, Solid

__all__ = [
    "BESIDE",
    "Gap",
    "Overlap",
    "ball_passes",
    "boxes_of",
    "flush",
    "gap",
    "inside",
    "laps",
    "least_gap",
    "meet",
    "near_pairs",
    "overlap",
    "way_out",
]

TOUCH_THICKNESS = 2e-5  # two hundredths of a millimetre, one for each round solid, [m]
TOUCH_DEPTH = 6.0 * TOUCH_THICKNESS  # a convex skin is at most 5.2 times as wide as its mean thickness, [m]
TOUCH_VOLUME = 1e-12  # 0.001 mm³: what rounding leaves between solids that share a face, [m³]
ROUNDED = 9  # decimals of the relative placement in a pair's key: 1e-9 m and 1e-9 rad
WAY_STEPS = 48
FLUSH = 1e-6  # of normals of length 1, [-], and offsets, [m]: faces nearer to one plane than so may be flush
MIXED = np.array([1.0, 1.618, 2.718, 7.389])  # mixes a plane's numbers into one, whichever they are
BESIDE = 1e-5  # more than the tree library takes for touching, [m]
Figures: TypeAlias = tuple[float, ...]
MOST_PAIRS = 1_000  # that a solid knows by itself; past that it begins anew
NO_OVERLAP = (0.0, 0.0, 0.0, 0.0, 0.0)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Gap:
    """The shortest way between two solids: its length, [m], and its ends on each, (3,), [m].

    Where they meet the length is 0; the ends are then one point where the surfaces meet, or where one
    solid holds the other, a point of the inner one.
    """

    distance: float
    at_a: Points
    at_b: Points


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Overlap:
    """What two solids share.

    ``volume`` : [m³], all parts of it together.
    ``depth`` : [m]; of its deepest part: how wide that is in its narrowest direction (see ``solid.depth``).
    For solids that only dip into each other it is the way to move one to free it; for one that runs through
    another it is the size of the overlap, not that way.
    ``at`` : (3,), [m]; the middle of the deepest part.
    """

    volume: float
    depth: float
    at: Points


def gap(a: Solid, b: Solid) -> Gap:
    """Measure the shortest distance between two solids; 0 when they touch, overlap, or one holds the other.

    Notes
    -----
    Exact for the meshes, to about 1e-9 m. A round solid's mesh is within 0.005 mm of true, up to the radii
    told in ``primitives``.
    """
    may_hold = a.box_meets(b)
    found = _of_pair("gap", a, b, lambda relative: _gap(a.shape, b.shape, relative, may_hold=may_hold))
    return Gap(distance=found[0], at_a=a.placement.apply(found[1:4]), at_b=a.placement.apply(found[4:7]))


def least_gap(a: Solid, b: Solid) -> float:
    """Return how far two solids are apart at least, [m]; 0 where they meet: sooner told than the gap is."""
    return _of_pair("least gap", a, b, lambda relative: (_least_gap(a.shape, b.shape, relative),))[0]


def overlap(a: Solid, b: Solid) -> Overlap | None:
    """Measure what two solids share; None when they are apart or merely touch.

    Notes
    -----
    Each part of what they share is judged by itself. It is a touch, not an overlap, if its volume is at most
    ``TOUCH_VOLUME``; or if its mean thickness (twice its volume over its surface) is at most
    ``TOUCH_THICKNESS`` and its depth at most ``TOUCH_DEPTH``.
    """
    if not laps(a, b):
        return None
    volume, deep, *at = _overlap(a, b)
    return Overlap(volume=volume, depth=deep, at=a.placement.apply(at))


def laps(a: Solid, b: Solid) -> bool:
    """Tell whether two solids share space, as ``overlap`` does, and whichever of them it was asked of."""
    if not meet(a, b):
        return False
    first, other = sorted((a, b), key=lambda solid: solid.content_key)
    return _of_pair("share", first, other, lambda _: (_overlap(a, b)[0],))[0] > 0.0


def meet(a: Solid, b: Solid) -> bool:
    """Tell whether two solids touch, overlap, or one holds the other: quicker than measuring either."""
    if not a.box_meets(b):
        return False
    return _of_pair("meet", a, b, lambda relative: _meet(a.shape, b.shape, relative))[0] > 0.0


def flush(a: Solid, b: Solid, within: Points | None = None) -> bool:
    """Tell whether a face of one solid may lie flush with one of another, the two side by side or in one.

    Told by their planes alone, of the faces that come to the room which their boxes have in common.

    Parameters
    ----------
    within : a box (2, 3) to which these faces come as well, [m]
    """
    if within is not None:
        return _flush(a, b, [within])
    return _of_pair("flush", a, b, lambda _: (float(_flush(a, b, [])),))[0] > 0.0


def _flush(a: Solid, b: Solid, rooms: list[Points]) -> bool:
    boxes = np.stack([a.bounds, b.bounds, *rooms])
    low, high = boxes[:, 0].max(axis=0) - BESIDE, boxes[:, 1].min(axis=0) + BESIDE
    few, many = sorted((_planes_in(solid, low, high) for solid in (a, b)), key=len)
    few = np.concatenate([few, -few])
    # planes that are one have one number, and few others have
    numbers, others = few @ MIXED, many @ MIXED
    order = np.argsort(numbers)
    reach = FLUSH * float(MIXED.sum())
    begin, end = (np.searchsorted(numbers[order], others + way * reach) for way in (-1.0, 1.0))
    found = np.flatnonzero(end > begin)
    count = (end - begin)[found]
    at = np.arange(count.sum()) - np.repeat(np.cumsum(count) - count - begin[found], count)
    return bool((np.abs(few[order[at]] - np.repeat(many[found], count, axis=0)) <= FLUSH).all(axis=1).any())


def _planes_in(solid: Solid, low: Points, high: Points) -> Points:
    """Return the planes of the faces that come to a box: normals of length 1, and offsets, (k, 4)."""
    a, b, c = solid.vertices[_faces_in(solid.shape, solid.vertices, low, high)].transpose(1, 0, 2)
    normals = np.cross(b - a, c - a)
    length = np.linalg.norm(normals, axis=1)
    wide = length > 0.0
    normals = normals[wide] / length[wide, None]
    return np.column_stack([normals, np.einsum("ij,ij->i", normals, a[wide])])


def _of_pair(what: str, a: Solid, b: Solid, measure: Callable[[Placement], Figures]) -> Figures:
    """Return what is measured of two solids, kept under their shapes and where b stands in a's axes.

    So it stays true wherever the two stand together, and moving one solid costs only its own pairs. Beside
    that the first solid knows it by where the other stands, which is told sooner.
    """
    known = vars(a)
    if "_of_pairs" not in known:  # by all solids that are the same
        known["_of_pairs"] = remembered("of pairs", a, make=dict, size=lambda _: 100 * MOST_PAIRS)
    own: dict[tuple[str, bytes], Figures] = known["_of_pairs"]
    found = own.get((what, b.content_key))
    if found is None:
        relative = a.placement.inverse() @ b.placement
        numbers = np.concatenate([relative.rotation.ravel(), relative.offset]).round(ROUNDED) + 0.0
        key = key_of(what, code_of("solid"), a.shape, b.shape, numbers)
        found = kept(key, FIGURES, lambda: measure(relative), worth=0.0)
        if len(own) >= MOST_PAIRS:
            own.clear()
        own[what, b.content_key] = found
    return found


def way_out(moving: Solid, still: Solid, direction: Points, *, within: float = math.inf) -> float:
    """Measure how far a solid has to go in a direction until it no longer meets another, [m].

    Parameters
    ----------
    direction : (3,), of length 1
    within : a way that is longer need not be measured, [m]

    Returns
    -------
    0 where they do not meet; infinity for a way longer than ``within``. At that distance the exact meshes are
    apart. It is the first such place at steps of a 48th of the way that surely frees it (between two planes
    square to it), narrowed down to a thousandth of that step: a gap narrower than a step may be passed over.
    """
    way = moving.placement.inverse().direction(direction)
    what = f"way out {way.round(ROUNDED).tolist()} within {within}"
    return _of_pair(what, moving, still, lambda _: (_way_out(moving, still, direction, within),))[0]


def near_pairs(solids: Sequence[Solid], margin: float) -> list[tuple[int, int]]:
    """Pairs of solids whose bounding boxes come within a margin of each other: the only ones worth measuring.

    Parameters
    ----------
    margin : [m]; below 0, they have to overlap by so much

    Returns
    -------
    Indices (i, j), i < j, in rising order.
    """
    if len(solids) < 2:
        return []
    boxes = np.stack([solid.bounds for solid in solids])
    meets = np.ones((len(solids), len(solids)), dtype=np.bool_)
    for low, high in zip(boxes[:, 0].T, boxes[:, 1].T + margin, strict=True):
        meets &= low[:, None] <= high
    first, second = np.nonzero(np.triu(meets & meets.T, k=1))
    return list(zip(first.tolist(), second.tolist(), strict=True))


def ball_passes(
    start: Points, end: Points, radius: float, solids: Sequence[Solid], *, boxes: Points | None = None
) -> bool:
    """Tell whether a ball goes straight from one place to another, both (3,), and touches no solid's skin.

    Exact for the meshes: what a ball sweeps is a capsule. ``boxes`` are the solids' (``boxes_of``), for who
    asks often.
    """
    low, top = boxes_of(solids) if boxes is None else boxes
    least, most = np.minimum(start, end) - radius, np.maximum(start, end) + radius
    near = np.flatnonzero(((least[:, None] <= top) & (low <= most[:, None])).all(axis=0)).tolist()
    if not near:
        return True
    way = (np.asarray(end) - np.asarray(start)).tolist()
    length = math.hypot(*way)
    middle = (np.asarray(start) + np.asarray(end)) / 2.0
    turned = coal.Transform3s(_upright(way[0] / length, way[1] / length, way[2] / length), middle)
    capsule, request = coal.Capsule(radius, length), coal.CollisionRequest()
    for solid in map(solids.__getitem__, near):
        found = coal.CollisionResult()
        coal.collide(capsule, turned, solid.shape.tree, _transform(solid.placement), request, found)
        if found.isCollision():
            return False
    return True


def boxes_of(solids: Sequence[Solid]) -> Points:
    """Return the least and greatest coordinates of solids, (2, 3, n), [m]."""
    return np.array([solid.bounds for solid in solids]).reshape(-1, 2, 3).transpose(1, 2, 0).copy()


def _upright(x: float, y: float, z: float) -> Points:
    """Return a rotation (3, 3) that carries z to a way of length 1.

    Duff and others, Building an Orthonormal Basis, Revisited, JCGT 6(1), 2017: by hand, for speed.
    """
    sign = math.copysign(1.0, z)
    a = -1.0 / (sign + z)
    b = x * y * a
    return np.array([[1.0 + sign * x * x * a, b, x], [sign * b, sign + y * y * a, y], [-sign * x, -y, z]])


def _gap(a: Shape, b: Shape, relative: Placement, *, may_hold: bool) -> Figures:
    """Distance, place on a, place on b, in a's axes."""
    result = coal.DistanceResult()
    distance = float(
        coal.distance(
            a.tree, coal.Transform3s(), b.tree, _transform(relative), coal.DistanceRequest(), result
        )
    )
    at_a = np.asarray(result.getNearestPoint1(), dtype=np.float64).reshape(3).tolist()
    at_b = np.asarray(result.getNearestPoint2(), dtype=np.float64).reshape(3).tolist()
    if distance <= 0.0:
        return (0.0, *at_a, *at_a)
    held = _held(a, b, relative) if may_hold else None
    if held is not None:
        return (0.0, *held.tolist(), *held.tolist())
    return (distance, *at_a, *at_b)


def _least_gap(a: Shape, b: Shape, relative: Placement) -> float:
    result = coal.CollisionResult()
    coal.collide(a.tree, coal.Transform3s(), b.tree, _transform(relative), coal.CollisionRequest(), result)
    if result.isCollision() or _held(a, b, relative) is not None:
        return 0.0
    return max(float(result.distance_lower_bound) - BESIDE, 0.0)


def _overlap(a: Solid, b: Solid) -> Figures:
    """Return volume, depth and place, in a's axes, of what two solids share; all 0 where they merely touch.

    They are cut as they stand: that cut may be known, and takes least where walls lie square to the axes.
    """
    return kept(key_of("overlap", code_of("solid"), a, b), FIGURES, lambda: _measured(a, b), worth=0.0)


def _measured(a: Solid, b: Solid) -> Figures:
    cut = shared(a, b)
    if cut is None:
        return NO_OVERLAP
    all_of_it = Shape.trusted(a.placement.inverse().apply(cut.vertices), cut.faces)
    common = without_skins(all_of_it, thickness=TOUCH_THICKNESS, width=TOUCH_DEPTH, volume=TOUCH_VOLUME)
    if common is None:
        return NO_OVERLAP
    volume, deepest, at = 0.0, 0.0, np.zeros(3)
    for part in components(common.solid()):
        if part.volume <= TOUCH_VOLUME:
            continue
        deep, middle = depth(part)
        if mean_thickness(part) <= TOUCH_THICKNESS and deep <= TOUCH_DEPTH:
            continue
        volume += part.volume
        if deep > deepest:
            deepest, at = deep, middle
    return (volume, deepest, *at.tolist()) if volume > 0.0 else NO_OVERLAP


def _way_out(moving: Solid, still: Solid, direction: Points, within: float) -> float:
    led = Moving(moving, [still])

    def meets(distance: float) -> bool:
        return led.clear(IDENTITY, distance * direction, 0) < 0.0

    if not meets(0.0):
        return 0.0
    surely = float(along(still.vertices, direction).max() - along(moving.vertices, direction).min())
    step = surely / WAY_STEPS
    past = range(1, WAY_STEPS)
    free = next((k * step for k in past if (k - 1) * step > within or not meets(k * step)), surely)
    low, high = free - step, free
    while high - low > step * 1e-3 and low <= within:
        middle = (low + high) / 2
        low, high = (middle, high) if meets(middle) else (low, middle)
    return high if low <= within else math.inf


def _meet(a: Shape, b: Shape, relative: Placement) -> Figures:
    met = _surfaces_meet(a, b, relative) or _held(a, b, relative) is not None
    return (float(met),)


def _surfaces_meet(a: Shape, b: Shape, relative: Placement) -> bool:
    one, other = a, b
    if not (a.has_tree and b.has_tree):
        # trees of large meshes are dear: what lies beside the other's box meets nothing of it
        moved = relative.apply(b.vertices)
        low = np.maximum(a.bounds[0], moved.min(axis=0)) - BESIDE
        high = np.minimum(a.bounds[1], moved.max(axis=0)) + BESIDE
        near = (_faces_in(a, a.vertices, low, high), _faces_in(b, moved, low, high))
        if not (len(near[0]) and len(near[1])):
            return False
        one, other = (
            shape
            if shape.has_tree or 2 * len(faces) > len(shape.faces)
            else Shape.of_faces(shape.vertices, faces)
            for shape, faces in zip((a, b), near, strict=True)
        )
    here, there, asked = coal.Transform3s(), _transform(relative), coal.CollisionRequest()
    return any(
        coal.collide(tree, here, still, there, asked, coal.CollisionResult())
        for tree, _ in one.trees
        for still, _ in other.trees
    )


def _faces_in(shape: Shape, vertices: Points, low: Points, high: Points) -> Faces:
    """Return the faces whose boxes reach into a box, with the vertices where they are looked at, (k, 3)."""
    # a face lies beside the box where all its corners lie beyond the same side of it
    beyond = np.zeros(len(vertices), dtype=np.uint8)
    for axis in range(3):
        column = vertices[:, axis]
        beyond |= (column < low[axis]).astype(np.uint8) << np.uint8(2 * axis)
        beyond |= (column > high[axis]).astype(np.uint8) << np.uint8(2 * axis + 1)
    a, b, c = shape.faces.T
    near: Faces = shape.faces[(beyond[a] & beyond[b] & beyond[c]) == 0]
    return near


def _held(a: Shape, b: Shape, relative: Placement) -> Points | None:
    """Find a point of one shape inside the other (in a's axes), given that their surfaces do not meet."""
    for point_set, other in (
        (relative.apply(b.shells), a.solid()),
        (a.shells, Solid(b, relative)),
    ):
        within = point_set[inside(other, point_set)]
        if len(within):
            return np.asarray(within[0], dtype=np.float64)
    return None


def _transform(placement: Placement) -> object:
    return coal.Transform3s(placement.rotation, placement.offset)
