"""Solids with closed forms, which the geometry kernel is measured by; no part of a scene is made of one.

Round ones are polygons, widened so that a polygon has the area of its circle, and a ball the volume of its. A
ball has enough sides that a gap to another is right to 0.01 mm, up to a radius of 25 mm.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import manifold3d
import numpy as np
from numpy.typing import ArrayLike, NDArray

from layout3d.errors import MeshRefused
from layout3d.solid.outline import circle, closed_loop, loop_area, refuse_unless_above_zero, sides
from layout3d.solid.shape import Points, Shape

BALL_SIDES, MOST_BALL_SIDES = 1.55, 200  # sides round a ball for each side round a cylinder of its radius


def cone(r0: float, r1: float, height: float) -> Shape:
    """Return a cone or frustum along z: radius ``r0`` at 0, ``r1`` at ``height``; one may be 0, [m]."""
    refuse_unless_above_zero("cone", height=height, larger_radius=max(r0, r1))
    if min(r0, r1) < 0:
        raise MeshRefused(f"cone: a radius is below 0: {min(r0, r1):g} m")
    return revolve([(0.0, 0.0), (r0, 0.0), (r1, height), (0.0, height)])


def ball(radius: float, *, n: int | None = None) -> Shape:
    """Return a ball round the origin, [m]; ``n`` sides around it if given: of 40 it has 800 faces."""
    refuse_unless_above_zero("ball", radius=radius)
    return ellipsoid((radius, radius, radius), n=n)


def ellipsoid(radii: ArrayLike, *, n: int | None = None) -> Shape:
    """Return an ellipsoid round the origin with half axes ``radii`` (3,), [m], along x, y, z."""
    half = np.asarray(radii, dtype=np.float64).reshape(3)
    for name, radius in zip("xyz", half, strict=True):
        refuse_unless_above_zero("ellipsoid", **{f"radii.{name}": float(radius)})
    # an octahedron's faces split into rows and pushed out: even triangles, half as many as rings of latitude.
    # Widened to the true volume, its corners stand out by 7.74 r / n², where a chord strays by 4.93 r / n²
    n = n or min(8 * math.ceil(BALL_SIDES * sides(float(half.max())) / 8), MOST_BALL_SIDES)
    mesh = manifold3d.Manifold.sphere(1.0, n).to_mesh64()
    unit = Shape.trusted(np.asarray(mesh.vert_properties)[:, :3], mesh.tri_verts)
    widened = (4.0 / 3.0 * math.pi / unit.volume) ** (1.0 / 3.0)
    return Shape.of(unit.vertices * (widened * half), unit.faces)


def revolve(profile: ArrayLike, *, n: int | None = None) -> Shape:
    """Return the shape turned round z from a closed outline.

    Parameters
    ----------
    profile : (k, 2) float of (radius, z), [m], radius 0 or more, turning either way
    n : sides; by default from the largest radius

    Notes
    -----
    The volume is exactly that of the true turned shape (Pappus), since each circle keeps its area.

    Raises
    ------
    MeshRefused : the outline crosses itself, crosses the axis, or has no area.
    """
    return _turned(profile, 2.0 * math.pi, n)


def torus_sector(bend_radius: float, radius: float, angle: float, *, inside_radius: float = 0.0) -> Shape:
    """Return a bent round bar, or with an ``inside_radius`` a bent tube: a part of a torus round z.

    It starts on the x axis at (``bend_radius``, 0, 0), heading along y, and turns round z by ``angle``.

    Parameters
    ----------
    bend_radius : of the centre line, [m], above ``radius``
    radius, inside_radius : of the bar and of the bore, [m]
    angle : [rad], above 0 up to a whole turn
    """
    refuse_unless_above_zero("torus_sector", radius=radius, angle=angle, wall=radius - inside_radius)
    if not bend_radius > radius:
        raise MeshRefused(
            f"torus_sector: bend_radius {bend_radius:g} m must be above the radius {radius:g} m"
        )
    if angle > 2.0 * math.pi + 1e-9:
        raise MeshRefused(f"torus_sector: angle {angle:g} rad is more than a whole turn")
    n = sides(radius)
    shift = np.array([bend_radius, 0.0])
    bore = [circle(inside_radius, n) + shift] if inside_radius > 0 else []
    return _turned(circle(radius, n) + shift, angle, None, holes=bore)


def _turned(profile: ArrayLike, angle: float, n: int | None, *, holes: Sequence[ArrayLike] = ()) -> Shape:
    """Turn an outline of (radius, z) round z by an angle; each arc keeps its area."""
    loops = [closed_loop(profile, 1.0), *(closed_loop(hole, -1.0) for hole in holes)]
    flat = np.concatenate(loops)
    largest = float(flat[:, 0].max())
    if flat[:, 0].min() < -1e-12 * largest:
        raise MeshRefused("revolve: the outline crosses the axis")
    section = manifold3d.CrossSection(loops, manifold3d.FillRule.Positive)
    if not math.isclose(section.area(), sum(loop_area(loop) for loop in loops), rel_tol=1e-6):
        raise MeshRefused("revolve: the outline crosses itself")
    whole = angle > 2.0 * math.pi - 1e-9
    count = n or sides(largest)
    if not whole:
        count = max(math.ceil(count * angle / (2.0 * math.pi)), 1)
    step = angle / count
    radii = np.where(flat[:, 0] < 1e-12 * largest, 0.0, flat[:, 0]) * math.sqrt(step / math.sin(step))
    turns = count if whole else count + 1
    at = (np.arange(turns) + (0.5 if whole else 0.0)) * step
    vertices = np.stack(
        [np.outer(np.cos(at), radii), np.outer(np.sin(at), radii), np.tile(flat[:, 1], (turns, 1))], axis=-1
    ).reshape(-1, 3)
    size, faces, begin = len(flat), [], 0
    ring = np.arange(turns if whole else turns - 1)[:, None] * size
    ring_on = (np.arange(turns if whole else turns - 1)[:, None] + 1) % turns * size
    for loop in loops:
        here = begin + np.arange(len(loop))[None, :]
        onward = begin + np.roll(np.arange(len(loop)), -1)[None, :]
        a, b, c, d = ring + here, ring_on + here, ring_on + onward, ring + onward
        faces += [np.stack([a, b, c], axis=-1).reshape(-1, 3), np.stack([a, c, d], axis=-1).reshape(-1, 3)]
        begin += len(loop)
    if not whole:
        cap = np.asarray(manifold3d.triangulate(loops), dtype=np.int64)
        faces += [cap, cap[:, ::-1] + (turns - 1) * size]
    return _on_axis_joined(vertices, np.concatenate(faces), np.tile(radii == 0.0, turns), size)


def _on_axis_joined(
    vertices: Points, faces: NDArray[np.int64], on_axis: NDArray[np.bool_], size: int
) -> Shape:
    """Make one vertex of all copies of a point on the axis, and drop the faces that vanish with it."""
    index = np.arange(len(vertices))
    index = np.where(on_axis, index % size, index)
    faces = index[faces]
    real = (faces[:, 0] != faces[:, 1]) & (faces[:, 1] != faces[:, 2]) & (faces[:, 2] != faces[:, 0])
    used, packed = np.unique(faces[real], return_inverse=True)
    return Shape.of(vertices[used], packed.reshape(-1, 3))
