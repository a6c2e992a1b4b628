"""Where two solids touch: points and normals of the exact meshes. Nothing is judged, and no force told."""

from __future__ import annotations

from dataclasses import dataclass

import coal
import numpy as np
from numpy.typing import NDArray

from layout3d.keep import FIGURES, code_of, kept, key_of, remembered
from layout3d.solid.distance import BESIDE
from layout3d.solid.shape import Faces, Points, Solid

__all__ = ["Touch", "touches", "touching"]

MOST_PAIRS = 20_000  # pairs of triangles that are looked at
FACING = (
    -0.2
)  # faces bear each other where the cosine between their normals is below this: opposite, 78 degrees off
CROSSING = 1e-3  # sine of the least angle between edges that cross; where they run along, their ends count
BETWEEN = 1e-3  # sine of the angle by which a way out may lie beyond those of an edge's two faces
ALIKE = 3  # decimals by which normals count as one patch's: 0.06 degrees
NEXT = [1, 2, 0]  # the corner at which each edge of a face ends
ALONG = 1e-9  # how far past a triangle's edge a point may lie, as a share of the triangle, [-]

Pairs = NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Touch:
    """Where two solids touch: ``points`` (n, 3), [m], and unit ``normals`` (n, 3) out of b, into a.

    Of a flat patch only the corners of its convex outline are there: those between them add nothing to what
    it can bear.
    """

    points: Points
    normals: Points


def touching(a: Solid, b: Solid, *, apart: float, into: float = 0.0) -> Touch:
    """Find where two solids touch.

    Parameters
    ----------
    apart : places count where the surfaces are at most so far apart, [m]
    into : or share space to at most this depth, [m]

    Returns
    -------
    Corners of one mesh over faces of the other, and edges that cross; empty where there are none.
    """
    key = key_of("touching", code_of("solid"), a, b, apart, into)
    row = np.reshape(
        kept(key, FIGURES, lambda: tuple(touches(a, b, apart, into).ravel().tolist())), (2, -1, 3)
    )
    return Touch(points=row[0], normals=row[1])


def touches(a: Solid, b: Solid, apart: float, into: float = 0.0) -> Points:
    """Return the points and the normals where two solids touch, (2, n, 3): as ``touching``, and not kept."""
    pairs = _near_faces(a, b, max(apart, into))
    if not len(pairs):
        return np.zeros((2, 0, 3))
    sides = [_side(solid, chosen) for solid, chosen in ((a, pairs[:, 0]), (b, pairs[:, 1]))]
    facing = np.einsum("ij,ij->i", sides[0][1], sides[1][1]) < FACING
    if not facing.all():
        sides = [(faces[facing], normals[facing], beyond[facing]) for faces, normals, beyond in sides]
    (faces_a, normal_a, _), (faces_b, normal_b, _) = sides
    # the corners of either over the faces of the other
    corners, faces = np.concatenate([faces_a, faces_b]), np.concatenate([faces_b, faces_a])
    over, face = _corners_over(corners, faces, np.concatenate([normal_b, normal_a]), apart, into)
    across, way = _edges_across(sides[0], sides[1], apart, into)
    points = np.concatenate([over, across])
    normals = np.concatenate([np.concatenate([normal_b, -normal_a])[face], way])
    chosen = _outlines(points, normals)
    return np.stack([points[chosen], normals[chosen]])


def _near_faces(a: Solid, b: Solid, margin: float) -> Pairs:
    """Return the faces of either solid, in pairs (k, 2), that come within a margin of each other."""
    asked = coal.CollisionRequest()
    asked.enable_contact = True
    asked.num_max_contacts = MOST_PAIRS
    asked.security_margin, asked.break_distance = margin, BESIDE
    here, there = (coal.Transform3s(each.placement.rotation, each.placement.offset) for each in (a, b))
    pairs: set[tuple[int, int]] = set()
    for tree, numbers in b.shape.trees:
        result = coal.CollisionResult()
        coal.collide(a.shape.tree, here, tree, there, asked, result)
        pairs |= {(each.b1, numbers[each.b2]) for each in result.getContacts()}
    return np.array(sorted(pairs), dtype=np.int64).reshape(-1, 2)  # in an order of their own


def _cross(a: Points, b: Points) -> Points:
    """Return the cross products along the last axis, as the library's, which takes several times as long."""
    first = a[..., 1] * b[..., 2] - a[..., 2] * b[..., 1]
    product = np.zeros((*first.shape, 3))
    product[..., 0] = first
    product[..., 1] = a[..., 2] * b[..., 0] - a[..., 0] * b[..., 2]
    product[..., 2] = a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0]
    return product


def _normals(faces: Points) -> Points:
    across = _cross(faces[:, 1] - faces[:, 0], faces[:, 2] - faces[:, 0])
    normals: Points = across / np.maximum(_length(across), 1e-300)[:, None]
    return normals


def _length(ways: Points) -> Points:
    """Return lengths along the last axis, as the library's, which is slow to begin."""
    lengths: Points = np.sqrt((ways * ways).sum(axis=-1))
    return lengths


def _corners_over(
    corners: Points, faces: Points, normals: Points, apart: float, into: float
) -> tuple[Points, Pairs]:
    """Return corners (k, 3, 3) that lie over the face (k, 3, 3) they are paired with, and its number."""
    from_face = corners - faces[:, :1]
    height = np.einsum("ijk,ik->ij", from_face, normals)
    one, two = faces[:, 1] - faces[:, 0], faces[:, 2] - faces[:, 0]
    aa, ab, bb = (np.einsum("ij,ij->i", u, v)[:, None] for u, v in ((one, one), (one, two), (two, two)))
    ca, cb = (np.einsum("ijk,ik->ij", from_face, u) for u in (one, two))
    doubled = np.maximum(aa * bb - ab * ab, 1e-300)
    u, v = (bb * ca - ab * cb) / doubled, (aa * cb - ab * ca) / doubled
    over = (u >= -ALONG) & (v >= -ALONG) & (u + v <= 1 + ALONG) & (height <= apart) & (height >= -into)
    at = corners - height[:, :, None] * normals[:, None, :] / 2
    return at[over], over.nonzero()[0]


Sides = tuple[Points, Points, Points]
"""Faces (k, 3, 3), their normals (k, 3), and for each of their edges the normal beyond it (k, 3, 3)."""


def _side(solid: Solid, chosen: Pairs) -> Sides:
    known = vars(solid.shape)  # by all shapes that are the same
    if "_across" not in known:
        known["_across"] = remembered(
            "beyond edges", solid.shape, make=lambda: _across(solid), size=lambda found: found.nbytes
        )
    looked = solid.faces[np.concatenate([chosen, known["_across"][chosen].ravel()])]
    corners = solid.placement.apply(solid.shape.vertices[looked.ravel()]).reshape(-1, 3, 3)
    normals = _normals(corners)
    count = len(chosen)
    return corners[:count], normals[:count], normals[count:].reshape(-1, 3, 3)


def _across(solid: Solid) -> Faces:
    """Return the face beyond each edge of every face, (m, 3)."""
    corners, span = solid.faces.astype(np.int64), len(solid.vertices)
    ends = np.roll(corners, -1, axis=1)
    ways, back = (corners * span + ends).ravel(), (ends * span + corners).ravel()
    order = np.argsort(ways)
    place = np.minimum(np.searchsorted(ways[order], back), len(ways) - 1)
    return (order[place] // 3).reshape(-1, 3).astype(np.int32)


def _edges_across(a: Sides, b: Sides, apart: float, into: float) -> tuple[Points, Points]:
    """Return where edges of paired faces cross within reach, and the way out of b square to both.

    An edge is touched only in a way out that lies between those of its two faces: not one that lies in a
    flat face, and not along a side.
    """
    (faces_a, normal_a, beyond_a), (faces_b, normal_b, beyond_b) = a, b
    start_a, start_b = faces_a[:, :, None, :], faces_b[:, None, :, :]
    along_a, along_b = faces_a[:, NEXT, None, :] - start_a, faces_b[:, None, NEXT, :] - start_b
    across = _cross(along_a, along_b)
    size, length_a, length_b = _length(across), _length(along_a), _length(along_b)
    crossing = size > CROSSING * length_a * length_b
    between = start_b - start_a
    squared = np.where(crossing, size, 1.0) ** 2
    on_a = np.einsum("...k,...k->...", _cross(between, along_b), across) / squared
    on_b = np.einsum("...k,...k->...", _cross(between, along_a), across) / squared
    out = across / np.sqrt(squared)[..., None]
    leaning = np.einsum("ijkl,il->ijk", out, normal_b - normal_a)
    out = out * np.where(leaning < 0.0, -1.0, 1.0)[..., None]
    height = -np.einsum("...k,...k->...", between, out)
    within = crossing & (on_a > 0.0) & (on_a < 1.0) & (on_b > 0.0) & (on_b < 1.0)
    within &= (height <= apart) & (height >= -into)
    pair, edge_a, edge_b = within.nonzero()  # few are left
    out, run_a, run_b = out[within], along_a[pair, edge_a, 0], along_b[pair, 0, edge_b]
    at = faces_b[pair, edge_b] + on_b[within][:, None] * run_b + (height[within] / 2)[:, None] * out
    told = _between(normal_a[pair], -out, beyond_a[pair, edge_a], run_a)
    told &= _between(normal_b[pair], out, beyond_b[pair, edge_b], run_b)
    return at[told], out[told]


def _between(first: Points, way: Points, second: Points, edge: Points) -> NDArray[np.bool_]:
    """Tell whether a way square to an edge lies between the normals of its two faces; none does in a fold."""
    edge = edge / _length(edge)[:, None]
    after = np.einsum("...k,...k->...", _cross(first, way), edge)
    before = np.einsum("...k,...k->...", _cross(way, second), edge)
    outward = np.einsum("...k,...k->...", way, first + second)
    told: NDArray[np.bool_] = (after >= -BETWEEN) & (before >= -BETWEEN) & (outward > 0.0)
    return told


def _outlines(points: Points, normals: Points) -> NDArray[np.int64]:
    """Return which points are left of all: the corners of the outline of each patch of one normal."""
    patches: dict[tuple[float, ...], list[int]] = {}
    for index, normal in enumerate(map(tuple, normals.round(ALIKE).tolist())):
        patches.setdefault(normal, []).append(index)
    kept: list[int] = []
    for members in patches.values():
        axis = int(np.abs(normals[members[0]]).argmax())  # dropped: a convex outline stays one in a shadow
        plan = points[members].round(7)[:, [k for k in range(3) if k != axis]]
        first = {(x, y): index for (x, y), index in zip(plan[::-1].tolist(), members[::-1], strict=True)}
        kept += [first[place] for place in _corners_of(list(first))]
    return np.array(sorted(kept), dtype=np.int64)


def _corners_of(places: list[tuple[float, float]]) -> list[tuple[float, float]]:
    """Return the corners of the convex hull of places, all of them different."""
    if len(places) < 3:
        return places
    from shapely import multipoints

    hull = multipoints(np.array(places)).convex_hull
    rings = hull.exterior.coords if hull.geom_type == "Polygon" else hull.coords
    return list(dict.fromkeys(rings))
