"""Plain shapes: boxes, round bars and tubes, prisms, swept bars, heights on a grid. No threads, no fillets.

Round shapes are polygons, widened so that a polygon has the area of its circle. They have enough sides that a
gap between any two of them is right to 0.01 mm, up to a radius of 38 mm; above that the number of sides stops
growing, and the error grows with the radius. The axes go through the middles of sides, not through corners.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import manifold3d
import numpy as np
from numpy.typing import ArrayLike, NDArray

from layout3d.errors import MeshRefused
from layout3d.solid.outline import circle, closed_loop, loop_area, refuse_unless_above_zero, sides
from layout3d.solid.shape import Faces, Points, Shape

__all__ = [
    "box",
    "cylinder",
    "heightfield",
    "prism",
    "sides",
    "sweep",
    "tube",
]


def box(size: ArrayLike, *, centre: bool = False) -> Shape:
    """Return a box from the origin to ``size`` (3,), [m]; with ``centre``, its middle is at the origin."""
    lengths = np.asarray(size, dtype=np.float64).reshape(3)
    for name, length in zip("xyz", lengths, strict=True):
        refuse_unless_above_zero("box", **{f"size.{name}": float(length)})
    grid = np.array([[x, y, z] for x in (0, 1) for y in (0, 1) for z in (0, 1)], dtype=np.float64)
    faces = [[0, 1, 3], [0, 3, 2], [4, 6, 7], [4, 7, 5], [0, 4, 5], [0, 5, 1]]
    faces += [[2, 3, 7], [2, 7, 6], [0, 2, 6], [0, 6, 4], [1, 5, 7], [1, 7, 3]]
    return _closed((grid - 0.5 if centre else grid) * lengths, np.array(faces))


def cylinder(radius: float, height: float, *, n: int | None = None) -> Shape:
    """Return a round bar along z from 0 to ``height``, [m]; ``n`` sides if given."""
    refuse_unless_above_zero("cylinder", radius=radius, height=height)
    return _closed(*_upright([closed_loop(circle(radius, n), 1.0)], height))


def tube(outside_radius: float, inside_radius: float, height: float) -> Shape:
    """Return a round tube along z from 0 to ``height``, [m]; wall and bore have their true areas."""
    refuse_unless_above_zero(
        "tube", inside_radius=inside_radius, height=height, wall=outside_radius - inside_radius
    )
    n = sides(outside_radius)
    return prism(circle(outside_radius, n), height, holes=[circle(inside_radius, n)])


def prism(polygon: ArrayLike, height: float, *, holes: Sequence[ArrayLike] = ()) -> Shape:
    """Return the shape with an upright outline: ``polygon`` in plan, from z = 0 to ``height``.

    Parameters
    ----------
    polygon : (k, 2) float, [m]; turning either way, last point not repeated (it may be)
    height : [m], above 0
    holes : outlines of holes, each (k, 2) float, [m], inside the polygon and clear of each other

    Raises
    ------
    MeshRefused : the outline crosses itself, a hole leaves it, or it has no area.
    """
    refuse_unless_above_zero("prism", height=height)
    loops = [closed_loop(polygon, 1.0), *(closed_loop(hole, -1.0) for hole in holes)]
    expected = sum(loop_area(loop) for loop in loops)
    true = manifold3d.CrossSection(loops, manifold3d.FillRule.Positive).area()
    even = manifold3d.CrossSection(loops, manifold3d.FillRule.EvenOdd).area()
    # the plane kernel rounds points to about 1e-8 m
    slack = 1e-7 * sum(
        float(np.hypot(*(loop - np.concatenate([loop[1:], loop[:1]])).T).sum()) for loop in loops
    )
    if not all(math.isclose(area, expected, rel_tol=1e-6, abs_tol=slack) for area in (true, even)):
        raise MeshRefused("prism: the outline crosses itself, or a hole crosses or leaves it")
    return Shape.of(*_upright(loops, height))


def _upright(loops: Sequence[Points], height: float) -> tuple[Points, NDArray[Any]]:
    """Return vertices and faces over an outline and its holes, each turned its way, from z = 0 on."""
    flat = np.concatenate(loops)
    cap = np.asarray(manifold3d.triangulate(loops), dtype=np.int64)
    count = len(flat)
    walls = []
    begin = 0
    for loop in loops:
        here = begin + np.arange(len(loop))
        onward = np.concatenate([here[1:], here[:1]])
        walls += [
            np.column_stack([here, onward, onward + count]),
            np.column_stack([here, onward + count, here + count]),
        ]
        begin += len(loop)
    vertices = np.concatenate(
        [np.column_stack([flat, np.zeros(count)]), np.column_stack([flat, np.full(count, height)])]
    )
    return vertices, np.concatenate([cap[:, ::-1], cap + count, *walls])


def _closed(vertices: Points, faces: NDArray[Any]) -> Shape:
    """Return a shape that closes by the way it is made, unless its figures leave it no volume."""
    shape = Shape.trusted(vertices, faces)
    return shape if 0.0 < shape.volume < math.inf else Shape.of(vertices, faces)


def sweep(path: ArrayLike, radius: float, *, inside_radius: float = 0.0, n: int | None = None) -> Shape:
    """Return a round bar, or with an ``inside_radius`` a tube, along a polyline, with flat ends.

    Parameters
    ----------
    path : (k, 3) float, [m], k of 2 or more; points that repeat the one before are dropped
    radius, inside_radius : [m]
    n : sides of the circle

    Returns
    -------
    The shape; its volume is the circle's (or ring's) area times the length of the polyline. Legs are mitred
    where they meet. That the bar does not run through itself further along is not tested.

    Raises
    ------
    MeshRefused : the path is a point, doubles back, or bends tighter than the radius allows.
    """
    refuse_unless_above_zero("sweep", radius=radius, wall=radius - inside_radius)
    points = np.asarray(path, dtype=np.float64).reshape(-1, 3)
    if not np.isfinite(points).all():
        raise MeshRefused("sweep: a point of the path is not finite")
    points = points[np.concatenate([[True], np.linalg.norm(np.diff(points, axis=0), axis=1) > 1e-9])]
    if len(points) < 2:
        raise MeshRefused("sweep: the path has no length")
    n = n or sides(radius)
    outer = _rings(points, circle(radius, n))
    rings = [outer, _rings(points, circle(inside_radius, n))[:, ::-1]] if inside_radius > 0 else [outer]
    count = len(points)
    faces: list[NDArray[Any]] = [_skin(count, n, number * count * n) for number in range(len(rings))]
    if len(rings) == 1:
        fan = np.column_stack([np.zeros(n - 2, dtype=np.int64), np.arange(1, n - 1), np.arange(2, n)])
        faces += [fan[:, ::-1], fan + (count - 1) * n]
    else:
        here = np.arange(n)
        onward = np.roll(here, -1)
        # the bore's ring runs the other way round
        inner, inner_onward = count * n + (n - 1 - here), count * n + (n - 1 - onward)
        ring = np.concatenate(
            [np.column_stack([here, inner, inner_onward]), np.column_stack([here, inner_onward, onward])]
        )
        faces += [ring, ring[:, ::-1] + (count - 1) * n]
    return Shape.of(np.concatenate([ring.reshape(-1, 3) for ring in rings]), np.concatenate(faces))


def heightfield(x: ArrayLike, y: ArrayLike, z: ArrayLike, base: float) -> Shape:
    """Return the shape between a level base and heights on a grid.

    Parameters
    ----------
    x, y : (nx,) and (ny,) float, [m], rising, two or more
    z : (nx, ny) float, [m], nowhere below ``base``
    base : [m]

    Notes
    -----
    Each cell is split into four faces round its middle, at the mean of its corners: the volume is then
    exactly that of the ruled (bilinear) surface, and a mirrored grid gives the mirrored shape.

    Raises
    ------
    MeshRefused : sizes do not match, x or y do not rise, or a height is below the base.
    """
    across, along = np.asarray(x, dtype=np.float64).ravel(), np.asarray(y, dtype=np.float64).ravel()
    heights = np.asarray(z, dtype=np.float64)
    nx, ny = len(across), len(along)
    if nx < 2 or ny < 2 or heights.shape != (nx, ny):
        raise MeshRefused(f"heightfield: heights {heights.shape} do not match {nx} by {ny} grid lines")
    if not (np.diff(across) > 0).all() or not (np.diff(along) > 0).all():
        raise MeshRefused("heightfield: x and y must rise")
    if not np.isfinite(heights).all() or heights.min() < base:
        raise MeshRefused(f"heightfield: a height is below the base at {base:g} m, or not finite")
    grid_x, grid_y = np.meshgrid(across, along, indexing="ij")
    top = np.column_stack([grid_x.ravel(), grid_y.ravel(), heights.ravel()])
    number = np.arange(nx * ny).reshape(nx, ny)
    a, b, c, d = (number[:-1, :-1], number[1:, :-1], number[1:, 1:], number[:-1, 1:])
    quads = np.stack([a, b, c, d], axis=-1).reshape(-1, 4)
    middles = top[quads].mean(axis=1)
    centre = nx * ny + np.arange(len(quads))
    faces = [np.column_stack([quads[:, i], quads[:, (i + 1) % 4], centre]) for i in range(4)]
    rim = np.concatenate([number[:, 0], number[-1, 1:], number[-2::-1, -1], number[0, -2:0:-1]])
    under = nx * ny + len(quads) + np.arange(len(rim))
    rim_on, under_on = np.roll(rim, -1), np.roll(under, -1)
    last = np.full(len(rim), under[-1] + 1)
    faces += [
        np.column_stack([rim, under, under_on]),
        np.column_stack([rim, under_on, rim_on]),
        np.column_stack([under_on, under, last]),
    ]
    foot = np.column_stack([top[rim, :2], np.full(len(rim), base)])
    hub = [[across[[0, -1]].mean(), along[[0, -1]].mean(), base]]
    return Shape.of(np.concatenate([top, middles, foot, hub]), np.concatenate(faces))


def _rings(points: Points, circle: Points) -> NDArray[np.float64]:
    """Carry a circle along a polyline: (k, n, 3), mitred at the bends, never twisted."""
    steps = np.diff(points, axis=0)
    length = np.linalg.norm(steps, axis=1)
    along = steps / length[:, None]
    helper = np.eye(3)[int(np.argmin(np.abs(along[0])))]
    right = np.cross(helper, along[0])
    right /= np.linalg.norm(right)
    rings = np.zeros((len(points), len(circle), 3))
    rings[0] = points[0] + circle @ np.stack([right, np.cross(along[0], right)])
    for i in range(1, len(points)):
        heading = along[i - 1]
        if i == len(points) - 1:
            normal = heading
        else:
            normal = heading + along[i]
            if np.linalg.norm(normal) < 1e-6:
                raise MeshRefused(f"sweep: the path doubles back at point {i}")
        reach = ((points[i] - rings[i - 1]) @ normal) / (heading @ normal)
        if reach.min() < 0.0:
            raise MeshRefused(
                f"sweep: the path bends tighter near point {i} than the radius allows",
                remedy="use a larger bend radius, or fewer points in the bend",
            )
        rings[i] = rings[i - 1] + reach[:, None] * heading
    return rings


def _skin(count: int, n: int, begin: int) -> Faces:
    """Faces between rings that follow each other."""
    ring = (np.arange(count - 1) * n)[:, None]
    here, onward = np.arange(n)[None, :], np.roll(np.arange(n), -1)[None, :]
    a, b, c, d = ring + here, ring + onward, ring + onward + n, ring + here + n
    faces = np.concatenate([np.stack([a, b, c], axis=-1), np.stack([a, c, d], axis=-1)]).reshape(-1, 3)
    return (faces + begin).astype(np.int32)
