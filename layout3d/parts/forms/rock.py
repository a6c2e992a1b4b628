"""Seeded rocks as closed meshes: boulder, slab, crag, lava. Outer form only; no pores, no colour."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, cast

import numpy as np

from layout3d.parts.forms.mesh import (
    Faces,
    Mesh,
    bearing,
    eased,
    fit,
    geodesic,
    require,
    require_one_of,
    require_size,
    summed_around,
    unit,
)
from layout3d.parts.forms.noise import Floats, Noise, coordinates, draws

if TYPE_CHECKING:
    import manifold3d

__all__ = ["ROCK_FORMS", "rock"]

ROCK_FORMS = ("boulder", "slab", "crag", "lava")
DETAIL = {"boulder": 5000, "slab": 6000, "crag": 6000, "lava": 9000}  # triangles, where none are asked for


def rock(
    seed: int, *, form: str, size: Sequence[float], roughness: float = 0.5, detail: int | None = None
) -> Mesh:
    """Make a rock of a wanted size; the same seed gives the same rock.

    Parameters
    ----------
    seed : whole number, 0 or more
    form : 'boulder' (rounded by water), 'slab' (split along its bedding, broken edges), 'crag'
        (angular, broken along joints) or 'lava' (clinkery and pitted)
    size : lengths of the bounding box along x, y, z, [m], 0.005 to 5, at most 40 to 1
    roughness : 0 (worn smooth) to 1 (raw), [-]
    detail : about how many triangles, 200 to 200,000; None takes 5,000 to 8,000 by form

    Returns
    -------
    vertices : (n, 3) float, [m]; lowest point at z = 0, the box centred on x = y = 0, exactly ``size``
    faces : (m, 3) int, closed and turned outward

    Raises
    ------
    ValueError : an unknown form, or a value outside the limits above.
    """
    require_one_of("form", form, ROCK_FORMS)
    sides = require_size(size)
    rough = require("roughness", roughness, 0.0, 1.0)
    count = int(require("detail", DETAIL[form] if detail is None else detail, 200, 200_000, "triangles"))
    build = {"boulder": _boulder, "slab": _slab, "crag": _crag, "lava": _lava}[form]
    vertices, faces = eased(build(seed, sides, rough, count))
    return fit(vertices, sides), faces


def _reach(size: Floats) -> float:
    """Return the length that relief is measured by: of a flat or long rock, not much over its least side."""
    return float(min(np.prod(size) ** (1.0 / 3.0), 1.8 * np.min(size)))


def _normals(vertices: Floats, faces: Faces) -> Floats:
    """Return unit normals at the vertices, weighted by face area."""
    a, b, c = (vertices[faces[:, k]] for k in range(3))
    across = np.cross(b - a, c - a)
    total = np.stack(
        [
            sum(np.bincount(faces[:, k], weights=across[:, axis], minlength=len(vertices)) for k in range(3))
            for axis in range(3)
        ],
        axis=1,
    )
    return cast(Floats, total / np.maximum(np.sqrt(np.sum(total * total, axis=1, keepdims=True)), 1e-30))


def _softened(vertices: Floats, faces: Faces, rounds: int, weight: float = 0.5) -> Floats:
    """Draw each vertex towards the middle of its neighbours: wears edges and corners."""
    start, end = faces[:, [0, 1, 2]].ravel(), faces[:, [1, 2, 0]].ravel()
    count = np.maximum(np.bincount(start, minlength=len(vertices)), 1)
    for _ in range(rounds):
        middle = summed_around(vertices, start, end) / count[:, None]
        vertices = (1.0 - weight) * vertices + weight * middle
    return vertices


def _directions(rng: np.random.Generator, count: int) -> Floats:
    """Return directions spread over the ball: a spiral, each nudged at random."""
    k = (np.arange(count) + 0.5) / count
    rise = np.clip(1.0 - 2.0 * k + 0.7 * (rng.random(count) - 0.5) / math.sqrt(count), -1.0, 1.0)
    angle = np.pi * (1.0 + math.sqrt(5.0)) * np.arange(count) + 2.0 * np.pi * rng.random()
    angle = angle + 1.6 * (rng.random(count) - 0.5) / math.sqrt(count) * 3.0
    flat = np.sqrt(1.0 - rise * rise)
    return np.stack([flat * np.cos(angle), flat * np.sin(angle), rise], axis=1)


def _cut(points: Floats, normals: Floats, offsets: Floats, sharpness: float) -> Floats:
    """Pull points on the unit ball in to a body bounded by planes; low sharpness rounds the edges."""
    lean = np.maximum(np.sum(points[:, None] * normals, axis=2), 0.0) / offsets
    whole = np.sqrt(np.sum(points * points, axis=1)) ** sharpness
    return cast(Floats, points / (np.sum(lean**sharpness, axis=1) + whole)[:, None] ** (1.0 / sharpness))


def _boulder(seed: int, size: Floats, rough: float, count: int) -> Mesh:
    points, faces = geodesic(count)
    rng, noise = draws(seed, 1), Noise(seed, 2)
    normals = _directions(rng, 11)
    points = _cut(points, normals, 0.62 + 0.33 * rng.random(11), 9.0 + 7.0 * rough)
    points = points + 0.20 * noise.vector(points * 0.9, 2)
    body = fit(points, size)
    reach = _reach(size)
    normal = _normals(body, faces)
    lumps = noise.fractal(body / (0.42 * reach), 3, gain=0.45)
    grain = noise.fractal(body / (0.075 * reach) + 50.0, 4, gain=0.55)
    # Hollows left by knocks: shallow dishes in a few places only.
    dents = np.minimum(noise.fractal(body / (0.22 * reach) + 90.0, 1) + 0.25, 0.0)
    shift = reach * (0.035 * lumps + (0.002 + 0.010 * rough) * grain + (0.02 + 0.04 * rough) * dents)
    return body + shift[:, None] * normal, faces


def _lava(seed: int, size: Floats, rough: float, count: int) -> Mesh:
    points, faces = geodesic(count)
    rng, noise = draws(seed, 3), Noise(seed, 4)
    points = _cut(points, _directions(rng, 9), 0.6 + 0.4 * rng.random(9), 10.0)
    points = points + 0.26 * noise.vector(points * 1.0, 2)
    body = fit(points, size)
    reach = _reach(size)
    # All of it is moved towards or away from the middle, so that no wall can run through another.
    middle = np.array([0.0, 0.0, 0.5 * size[2]])
    outward = unit(body - middle)
    clinker = noise.fractal(body / (0.45 * reach), 3, gain=0.5, ridged=True)
    body = body + (reach * (0.05 + 0.06 * rough) * (clinker - 0.4))[:, None] * outward
    # Burst bubbles: round bowls of three sizes; walls no steeper than the facets can follow.
    pits = np.zeros(len(body))
    for wide, deep, share in ((0.36, 0.085, 0.55), (0.215, 0.062, 0.62), (0.135, 0.040, 0.65)):
        nearest, _, number = noise.cells(body / (wide * reach) + 10.0 * wide, jitter=0.75)
        part = nearest / (0.34 + 0.16 * number / share)
        bowl = np.clip(1.0 - part * part, 0.0, 1.0) ** 0.7
        deeper = np.maximum(pits, deep * bowl) + 0.25 * np.minimum(pits, deep * bowl)
        pits = np.where(number < share, deeper, pits)
    grit = noise.fractal(body / (0.07 * reach), 2)
    shift = reach * (-(0.75 + 0.5 * rough) * pits + 0.006 * (0.4 + rough) * grit)
    return body + shift[:, None] * outward, faces


def _cut_block(planes: Sequence[tuple[Floats, float]]) -> manifold3d.Manifold:
    """Return the body behind planes, each a normal (any length) and its distance from the origin."""
    import manifold3d

    body = manifold3d.Manifold.cube((8.0, 8.0, 8.0), True)
    for normal, offset in planes:
        body = body.trim_by_plane(tuple(-unit(normal)), -offset)
    return body


def _assembled(blocks: Sequence[manifold3d.Manifold], size: Floats, count: int, *, flat: float) -> Mesh:
    """Unite blocks, stretch them to ``size``, cut a flat to stand on, and divide the faces evenly."""
    import manifold3d

    body = manifold3d.Manifold.batch_boolean(list(blocks), manifold3d.OpType.Add)
    body = max(body.decompose(), key=lambda piece: float(piece.volume()))
    low, high = np.array(body.bounding_box()[:3]), np.array(body.bounding_box()[3:])
    body = body.translate(tuple(-(low + high) / 2.0)).scale(tuple(size / (high - low)))
    if flat:
        body = body.trim_by_plane((0.0, 0.0, 1.0), (flat - 0.5) * float(size[2]))
    edge = math.sqrt(float(body.surface_area()) / count * 2.31)  # side of an even triangle of that area
    out = body.refine_to_length(1.3 * edge).to_mesh64()
    return np.array(out.vert_properties[:, :3]), np.array(out.tri_verts, dtype=np.int64)


def _crag(seed: int, size: Floats, rough: float, count: int) -> Mesh:
    rng, noise = draws(seed, 5), Noise(seed, 6)
    # Three sets of joints, as in broken bedrock: bedding near level, two steep sets across each other.
    dip, strike = 0.35 * (rng.random(2) - 0.5), 2.0 * np.pi * rng.random()
    steep = strike + np.array([0.0, 1.2 + 0.7 * rng.random()])
    sets = np.array(
        [
            [dip[0], dip[1], 1.0],
            [math.cos(steep[0]), math.sin(steep[0]), 0.5 * (rng.random() - 0.5)],
            [math.cos(steep[1]), math.sin(steep[1]), 0.5 * (rng.random() - 0.5)],
        ]
    )

    def block(middle: Floats, half: Floats, chips: int) -> manifold3d.Manifold:
        planes = []
        for k in range(3):
            for way in (1.0, -1.0):
                normal = way * sets[k] + 0.28 * (rng.random(3) - 0.5)
                planes.append((normal, half[k] * (0.85 + 0.3 * rng.random())))
        for normal in _directions(rng, chips):
            planes.append((normal, float(np.max(half)) * (0.80 + 0.35 * rng.random())))
        return _cut_block(planes).translate(tuple(middle))

    blocks = [block(np.zeros(3), np.array([0.78, 0.8, 0.8]), 12)]
    for _ in range(5):
        angle, out = 2.0 * np.pi * rng.random(), 0.35 + 0.35 * rng.random()
        middle = np.array([out * math.cos(angle), out * math.sin(angle), -0.55 + 0.9 * rng.random()])
        blocks.append(block(middle, 0.38 + 0.25 * rng.random(3), 7))
    vertices, faces = _assembled(blocks, size, count, flat=0.06)
    reach = _reach(size)
    vertices = _softened(vertices, faces, 1, 0.45 - 0.4 * rough)
    bend = noise.vector(vertices / (0.7 * reach), 2)
    chips = noise.vector(vertices / (0.16 * reach) + 30.0, 4, gain=0.55)
    across = np.sum(vertices * sets[0], axis=1) / (0.045 * reach)
    bedding = noise.fractal(coordinates(across, vertices[:, 0] / reach, vertices[:, 1] / reach), 2)
    normal = _normals(vertices, faces)
    vertices = vertices + reach * (0.032 * bend + (0.006 + 0.014 * rough) * chips)
    # Flakes knocked off the faces, large and small.
    flakes = 0.034 * noise.scars(vertices / (0.40 * reach) + 5.0) + 0.016 * noise.scars(
        vertices / (0.17 * reach)
    )
    shift = reach * (0.012 * rough * bedding + (0.6 + 0.8 * rough) * flakes)
    return vertices + shift[:, None] * normal, faces


def _slab(seed: int, size: Floats, rough: float, count: int) -> Mesh:
    rng, noise = draws(seed, 7), Noise(seed, 8)
    # One broken outline for all layers; each layer's edges stand a little in or out of it, and the
    # topmost layers are broken off part of the way across.
    sides = 9
    facing = 2.0 * np.pi * (np.arange(sides) + 0.8 * rng.random(sides)) / sides
    offset = 0.70 + 0.28 * rng.random(sides)
    layers = 5 + int(3 * rng.random())
    thick = 0.5 + rng.random(layers)
    edges = np.concatenate([[0.0], np.cumsum(thick)]) / float(np.sum(thick)) * 2.0 - 1.0
    loose = 0.04 + 0.11 * rough
    blocks = []
    for k in range(layers):
        lowest, top = float(edges[k]), float(edges[k + 1])
        planes = [
            (np.array([0.03 * (rng.random() - 0.5), 0.03 * (rng.random() - 0.5), 1.0]), top),
            (np.array([0.0, 0.0, -1.0]), -lowest + 0.3 * (top - lowest)),
        ]
        for angle, out in zip(facing, offset, strict=True):
            turned = angle + 0.25 * loose / 0.15 * (rng.random() - 0.5)
            bevel = 0.5 * (rng.random() - 0.35)
            planes.append((bearing(turned, bevel), out * (1.0 + loose * (2.0 * rng.random() - 1.3))))
        for _ in range(2):
            corner = 2.0 * np.pi * rng.random()
            planes.append((bearing(corner, 0.1), 0.72 + 0.25 * rng.random()))
        if k >= layers - 2:
            away = 2.0 * np.pi * rng.random()
            planes.append((bearing(away, 0.2), -0.1 + 0.55 * rng.random()))
        blocks.append(_cut_block(planes))
    vertices, faces = _assembled(blocks, size, count, flat=0.0)
    reach = math.sqrt(float(size[0] * size[1]))
    layer = float(size[2]) / layers
    bend = noise.vector(vertices / (0.45 * reach), 2)
    flat = np.array([1.0, 1.0, 0.0])
    tight = np.array([1.0, 1.0, 2.2])
    chips = noise.vector(tight * vertices / (0.11 * reach) + 30.0, 4, gain=0.6)
    grain = noise.fractal(vertices / (0.05 * reach) + 60.0, 3)
    sag = noise.fractal(vertices * flat / (0.5 * reach) + 7.0, 2)
    vertices = vertices + reach * 0.05 * bend * flat + reach * (0.012 + 0.02 * rough) * chips * flat
    vertices[:, 2] += layer * (0.9 * sag + (0.10 + 0.15 * rough) * grain + 0.25 * rough * chips[:, 2])
    return vertices, faces
