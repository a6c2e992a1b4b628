"""Closed triangle meshes as plain arrays: building blocks and limits shared by the seeded forms.

A mesh is a pair ``(vertices (n, 3) float64 [m], faces (m, 3) int64)``, closed and turned outward.
No booleans except the union of shells, no file formats, no textures.
"""

from __future__ import annotations

import functools
import itertools
import math
from collections.abc import Iterator, Sequence
from typing import cast

import numpy as np
from numpy.typing import NDArray

from layout3d.parts.forms.noise import Floats

__all__ = [
    "Faces",
    "Mesh",
    "bearing",
    "eased",
    "fit",
    "geodesic",
    "lofted",
    "not_seen",
    "require",
    "require_one_of",
    "require_size",
    "summed_around",
    "thickened",
    "unit",
    "united",
]

Faces = NDArray[np.int64]
Mesh = tuple[Floats, Faces]

MOST_EASING = 60  # rounds
EDGE_ON = (
    1e-3  # of what faces span on average as seen from the middle: what spans less counts as edge-on, [-]
)
VIEW = 40  # cells along each side of a box around all directions
SMALLEST, LARGEST = 0.005, 5.0  # a natural part's side, [m]: else it is a slip of units


def require(name: str, value: float, low: float, high: float, unit: str = "") -> float:
    """Return ``value`` as a float if it lies in [low, high]; else a ValueError tells name, value, limits."""
    number = float(value)
    if not (math.isfinite(number) and low <= number <= high):
        span = f"{low:g} to {high:g}" + (f" {unit}" if unit else "")
        raise ValueError(f"{name} must be {span}, got {value!r}" + (f" {unit}" if unit else ""))
    return number


def require_one_of(name: str, value: str, known: Sequence[str]) -> str:
    """Return ``value`` if it is one of ``known``; else a ValueError lists them."""
    if value not in known:
        raise ValueError(f"{name} must be one of {', '.join(known)}, got {value!r}")
    return value


def require_size(size: Sequence[float]) -> Floats:
    """Return three side lengths as an array if each is a believable size of a natural part."""
    if len(size) != 3:
        raise ValueError(f"size must be 3 lengths in m, got {size!r}")
    names = ("size[0]", "size[1]", "size[2]")
    sides = [require(n, s, SMALLEST, LARGEST, "m") for n, s in zip(names, size, strict=True)]
    if max(sides) > 40.0 * min(sides):
        raise ValueError(
            "size must have its longest side at most 40 times its shortest, got "
            + ", ".join(f"{side:g} m" for side in sides)
        )
    return np.array(sides)


def fit(vertices: Floats, size: Floats) -> Floats:
    """Stretch so that the bounding box is exactly ``size``, its base centred on the origin."""
    low, high = vertices.min(axis=0), vertices.max(axis=0)
    part = (vertices - low) / (high - low)  # exactly 0 and 1 at the ends
    start = np.array([-size[0] / 2.0, -size[1] / 2.0, 0.0])
    return cast(Floats, np.where(part == 1.0, start + size, start + part * size))


def unit(vectors: Floats) -> Floats:
    """Return vectors (..., 3) at length 1."""
    return cast(Floats, vectors / np.sqrt(np.sum(vectors * vectors, axis=-1, keepdims=True)))


def bearing(angle: float, rise: float = 0.0) -> Floats:
    """Return the way at an angle round z, [rad], from x, which rises so much over a level length of 1."""
    return np.array([math.cos(angle), math.sin(angle), rise])


def summed_around(vertices: Floats, start: Faces, end: Faces) -> Floats:
    """Return for each vertex the sum of those its edges (k,), ``start`` to ``end``, lead to, (n, 3)."""
    sums = [np.bincount(start, weights=vertices[end, k], minlength=len(vertices)) for k in range(3)]
    return np.stack(sums, axis=1)


def eased(mesh: Mesh) -> Mesh:
    """Smooth a mesh where its surface runs through itself, until it does so nowhere; the rest is left alone.

    Rough skin folds over itself in hollow corners, which no volume and no boolean bears. Most forms are at
    rest after one to five rounds and lose less than 1 % of their volume.

    Raises
    ------
    ValueError : it doesn't come to rest.
    """
    from layout3d.solid.folds import crossings

    vertices, faces = mesh
    hidden = not_seen(mesh)
    start, end = faces[:, [0, 1, 2]].ravel(), faces[:, [1, 2, 0]].ravel()
    count = np.maximum(np.bincount(start, minlength=len(vertices)), 1)
    pairs = crossings(vertices, faces[hidden])
    for number in range(MOST_EASING):
        if not len(pairs):
            return vertices, faces
        patch = np.zeros(len(vertices), dtype=bool)
        patch[faces[hidden[pairs]].ravel()] = True
        for _ in range(1 + number // 8):  # the wider the longer it takes
            patch[end[patch[start]]] = True
        for _ in range(2):
            summed = summed_around(vertices, start, end)
            vertices = np.where(patch[:, None], 0.4 * vertices + 0.6 * summed / count[:, None], vertices)
        hidden = not_seen((vertices, faces))
        pairs = crossings(vertices, faces[hidden], np.flatnonzero(patch[faces[hidden]].any(axis=1)))
    raise ValueError("the form folds over itself: take another seed, or a smoother one")


def not_seen(mesh: Mesh) -> Faces:
    """Return which faces of a closed surface may not be the only ones that are seen in their direction.

    Seen from its middle a surface that goes once around it has one face more in each direction that looks
    away than look back. So a face runs through another only where some look back, or are seen edge-on.
    Boulders and clinker have no such place, whatever their seed.

    Returns
    -------
    (k,) int, rising; all faces where the surface doesn't go around its middle just once
    """
    vertices, faces = mesh
    ways = unit(vertices - (vertices.min(axis=0) + vertices.max(axis=0)) / 2.0)
    a, b, c = (np.ascontiguousarray(ways[faces[:, k]].T) for k in range(3))
    (ax, ay, az), (bx, by, bz), (cx, cy, cz) = a, b, c
    spanned = ax * (by * cz - bz * cy) + ay * (bz * cx - bx * cz) + az * (bx * cy - by * cx)
    ab, bc, ca = (ax * bx + ay * by + az * bz), (bx * cx + by * cy + bz * cz), (cx * ax + cy * ay + cz * az)
    # solid angles: Van Oosterom, Strackee 1983, IEEE Trans. Biomed. Eng. 30(2), 125-126, eq. 8 (from memory)
    view = 2.0 * float(np.arctan2(spanned, 1.0 + ab + bc + ca).sum())
    if not abs(view - 4.0 * math.pi) < 1.0:
        return np.arange(len(faces))
    doubtful = ~(spanned > EDGE_ON * spanned.mean())
    if not doubtful.any():
        return np.zeros(0, dtype=np.int64)
    low, high = np.minimum(np.minimum(a, b), c), np.maximum(np.maximum(a, b), c)
    bulge = ((high - low) ** 2).sum(axis=0)  # what is seen of a face leaves the box of its corners by less
    ends = (low - bulge, high + bulge)
    first, last = (np.clip((end + 1.0) * (VIEW / 2.0), 0, VIEW - 1).astype(np.int64) for end in ends)
    counts = np.zeros((VIEW + 1,) * 3, dtype=np.int64)
    for corner, sign in _block_corners(first[:, doubtful], last[:, doubtful]):
        np.add.at(counts, corner, sign)
    below = np.zeros_like(counts)
    below[1:, 1:, 1:] = _running(_running(counts)[:-1, :-1, :-1] != 0)
    return np.flatnonzero(sum(sign * below[corner] for corner, sign in _block_corners(first, last)))


def _block_corners(first: Faces, last: Faces) -> Iterator[tuple[tuple[Faces, ...], int]]:
    """Yield corners of blocks of cells, ``first`` to ``last``, (3, n), with their signs in sums over them."""
    for upper in itertools.product((False, True), repeat=3):
        at = np.where(np.array(upper)[:, None], last + 1, first)
        yield (at[0], at[1], at[2]), (-1) ** (3 - sum(upper))


def _running(cells: Faces) -> Faces:
    return cells.cumsum(axis=0).cumsum(axis=1).cumsum(axis=2)


def geodesic(count: int) -> Mesh:
    """Return a unit ball of about ``count`` even triangles: an icosahedron with each face cut in n² parts."""
    vertices, faces = _cut_icosahedron(max(1, round(math.sqrt(count / 20.0))))
    return vertices.copy(), faces.copy()


@functools.lru_cache(maxsize=4)
def _cut_icosahedron(n: int) -> Mesh:
    g = (1.0 + math.sqrt(5.0)) / 2.0
    corners = np.array(
        [
            *((-1, g, 0), (1, g, 0), (-1, -g, 0), (1, -g, 0), (0, -1, g), (0, 1, g)),
            *((0, -1, -g), (0, 1, -g), (g, 0, -1), (g, 0, 1), (-g, 0, -1), (-g, 0, 1)),
        ]
    ) / math.sqrt(1.0 + g * g)
    triangles = [
        *((0, 11, 5), (0, 5, 1), (0, 1, 7), (0, 7, 10), (0, 10, 11), (1, 5, 9), (5, 11, 4)),
        *((11, 10, 2), (10, 7, 6), (7, 1, 8), (3, 9, 4), (3, 4, 2), (3, 2, 6), (3, 6, 8)),
        *((3, 8, 9), (4, 9, 5), (2, 4, 11), (6, 2, 10), (8, 6, 7), (9, 8, 1)),
    ]
    rows = [(i, j) for i in range(n + 1) for j in range(n + 1 - i)]
    index = {ij: k for k, ij in enumerate(rows)}
    pattern = []
    for i in range(n):
        for j in range(n - i):
            pattern.append((index[i, j], index[i + 1, j], index[i, j + 1]))
            if i + j < n - 1:
                pattern.append((index[i + 1, j], index[i + 1, j + 1], index[i, j + 1]))
    steps = np.array(rows, dtype=np.int64)
    # Points shared by faces are named by the corners they hang on and whole-number weights, so that
    # welding never compares floats.
    names: dict[tuple[tuple[int, int], ...], int] = {}
    points: list[Floats] = []
    faces = []
    for a, b, c in triangles:
        here = []
        for i, j in steps.tolist():
            weights = tuple(sorted((k, w) for k, w in ((a, n - i - j), (b, i), (c, j)) if w))
            at = names.setdefault(weights, len(names))
            if at == len(points):
                points.append(sum((w * corners[k] for k, w in weights), np.zeros(3)))
            here.append(at)
        faces.append(np.array(here, dtype=np.int64)[np.array(pattern, dtype=np.int64)])
    vertices = np.array(points)
    vertices /= np.sqrt(np.sum(vertices * vertices, axis=1, keepdims=True))
    return vertices, np.concatenate(faces)


def lofted(rings: Floats) -> Mesh:
    """Close a stack of rings to a mesh: rings are joined in order, the two ends by a fan to their middle.

    Parameters
    ----------
    rings : (k, n, 3) float, k rings of n points each, turning left seen against the way the stack runs

    Returns
    -------
    mesh of 2 n (k - 1) + 2 n triangles
    """
    k, n, _ = rings.shape
    vertices = np.concatenate([rings.reshape(-1, 3), [rings[0].mean(axis=0)], [rings[-1].mean(axis=0)]])
    j = np.arange(n)
    nxt = (j + 1) % n
    a = (np.arange(k - 1)[:, None] * n + j).ravel()
    b = (np.arange(k - 1)[:, None] * n + nxt).ravel()
    first, last = k * n, k * n + 1
    faces = np.concatenate(
        [
            np.stack([a, b, b + n], axis=1),
            np.stack([a, b + n, a + n], axis=1),
            np.stack([np.full(n, first), nxt, j], axis=1),
            np.stack([np.full(n, last), (k - 1) * n + j, (k - 1) * n + nxt], axis=1),
        ]
    )
    return vertices, faces.astype(np.int64)


def thickened(sheet: Floats, faces: Faces, offset: Floats) -> Mesh:
    """Close an open sheet to a slab: one side at ``+offset``, one at ``-offset``, walls along its border.

    Parameters
    ----------
    sheet : (n, 3) float;  faces : (m, 3) int, turned the way ``offset`` (n, 3) points
    """
    n = len(sheet)
    start, end = faces[:, [0, 1, 2]].ravel(), faces[:, [1, 2, 0]].ravel()
    border = ~np.isin(start * n + end, end * n + start)
    a, b = start[border], end[border]
    walls = [np.stack([b, a, a + n], axis=1), np.stack([b, a + n, b + n], axis=1)]
    return np.concatenate([sheet + offset, sheet - offset]), np.concatenate(
        [faces, faces[:, ::-1] + n, *walls]
    )


def united(meshes: Sequence[Mesh], *, largest_only: bool = False) -> Mesh:
    """Unite overlapping shells into one boundary; ``largest_only`` drops all but the biggest piece.

    Raises
    ------
    RuntimeError : a shell was not closed, which only a fault of the form's builder can cause.
    """
    import manifold3d

    bodies = []
    for vertices, faces in meshes:
        body = manifold3d.Manifold(
            manifold3d.Mesh64(
                np.ascontiguousarray(vertices, dtype=np.float64), np.ascontiguousarray(faces, dtype=np.uint64)
            )
        )
        if body.status() != manifold3d.Error.NoError:
            raise RuntimeError(f"forms.mesh.united was given a shell that is not closed: {body.status()}")
        bodies.append(body)
    whole = manifold3d.Manifold.batch_boolean(bodies, manifold3d.OpType.Add)
    if largest_only:
        whole = max(whole.decompose(), key=lambda piece: float(piece.volume()))
    out = whole.to_mesh64()
    return np.array(out.vert_properties[:, :3], dtype=np.float64), np.array(out.tri_verts, dtype=np.int64)
