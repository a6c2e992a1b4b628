"""Finds where the surface of a mesh runs through itself, or lies folded flat on itself.

A closed mesh may still fold over itself; its booleans and volumes are then wrong by the size of the fold. It
is not mended here: see ``parts.forms.mesh``. A cut along faces that lie flush may leave a flat fold.
"""

from __future__ import annotations

from typing import Any

import coal
import numpy as np
from numpy.typing import NDArray

from layout3d.solid.placement import Points

__all__ = ["FOLDED", "HAIR", "crossings", "unfolded"]

_SHRUNK = 1e-4  # each face is drawn in by this share of itself, so that neighbours come apart
FOLDED = 0.002  # of a volume that flat folds may add or take, [-]
HAIR = 1e-10  # so far corners of flat folds are set aside, [m]
_MOST = 1_000_000  # pairs
_AGAINST = -1.0 + 1e-6  # cosine between ways that faces look, from which one lies flat on the other, [-]


def crossings(
    vertices: Points, faces: NDArray[np.int64], among: NDArray[np.int64] | None = None
) -> NDArray[np.int64]:
    """Return the pairs of faces that run through each other.

    Parameters
    ----------
    vertices : (n, 3) float, [m]
    faces : (m, 3) int
    among : (a,) int, faces of which a pair must have one; None for all

    Returns
    -------
    (k, 2) int, indices of faces, each pair once. Faces with an edge in common are never a pair, faces with
    one corner in common only where they cross beyond it; what crosses by less than a ten-thousandth of the
    faces' size is not told.
    """
    chosen = np.arange(len(faces)) if among is None else np.asarray(among, dtype=np.int64)
    if not len(chosen) or not len(faces):
        return np.zeros((0, 2), dtype=np.int64)
    corners = vertices[faces]
    # the library takes faces that come within a fixed distance of each other as met: make theirs large
    edge = float(np.linalg.norm(corners[:, 1] - corners[:, 0], axis=1).mean())
    corners = (corners + _SHRUNK * (corners.mean(axis=1, keepdims=True) - corners)) / edge
    request, result, here = coal.CollisionRequest(), coal.CollisionResult(), coal.Transform3s()
    request.num_max_contacts = _MOST
    request.enable_contact = False
    whole = _tree(corners)
    some = whole if among is None else _tree(corners[chosen])
    coal.collide(some, here, whole, here, request, result)
    met = np.array([(pair.b1, pair.b2) for pair in result.getContacts()], dtype=np.int64).reshape(-1, 2)
    met[:, 0] = chosen[met[:, 0]]
    met = np.unique(np.sort(met[met[:, 0] != met[:, 1]], axis=1), axis=0)
    same = faces[met[:, 0]][:, :, None] == faces[met[:, 1]][:, None, :]
    shared = same.sum(axis=(1, 2))
    apart, touching = met[shared == 0], met[shared == 1]
    first, second, corner = faces[touching[:, 0]], faces[touching[:, 1]], same[shared == 1]
    beyond = _opposite_pierces(vertices, first, corner.any(axis=2), second)
    beyond |= _opposite_pierces(vertices, second, corner.any(axis=1), first)
    return np.concatenate([apart, touching[beyond]])


def unfolded(vertices: Points, faces: NDArray[Any]) -> Points:
    """Return vertices with those of faces that lie flat on the neighbour across an edge a hair aside, (n, 3).

    Parameters
    ----------
    vertices : (n, 3) float, [m]
    faces : (m, 3) int
    """
    a, b, c = (vertices[faces[:, k]] for k in range(3))
    normal = np.cross(b - a, c - a)
    size = np.linalg.norm(normal, axis=1)
    begin, end = faces.T.ravel().astype(np.int64), np.roll(faces, -1, axis=1).T.ravel()
    edge = np.minimum(begin, end) * len(vertices) + np.maximum(begin, end)
    order = np.argsort(edge)
    beside, face = np.flatnonzero(np.diff(edge[order]) == 0), order % len(faces)
    one, other = face[beside], face[beside + 1]
    against = np.einsum("ij,ij->i", normal[one], normal[other]) < _AGAINST * size[one] * size[other]
    folded, moved = np.unique(faces[[*one[against], *other[against]]]), vertices.copy()
    moved[folded] += np.random.default_rng(0).uniform(-HAIR, HAIR, (len(folded), 3))
    return moved


def _tree(corners: Points) -> object:
    """Return the search tree of loose faces, (m, 3, 3)."""
    tree = coal.BVHModelOBB()
    tree.beginModel(len(corners), 3 * len(corners))
    tree.addVertices(np.ascontiguousarray(corners.reshape(-1, 3)))
    tree.addTriangles(np.arange(3 * len(corners), dtype=np.int64).reshape(-1, 3))
    tree.endModel()
    return tree


def _opposite_pierces(
    vertices: Points, one: NDArray[np.int64], at: NDArray[np.bool_], other: NDArray[np.int64]
) -> NDArray[np.bool_]:
    """Tell for each pair whether the edge of ``one`` opposite its corner ``at`` goes through ``other``."""
    corner = at.argmax(axis=1)
    rows = np.arange(len(one))
    begin, end = vertices[one[rows, (corner + 1) % 3]], vertices[one[rows, (corner + 2) % 3]]
    a, b, c = (vertices[other[:, k]] for k in range(3))
    normal = np.cross(b - a, c - a)
    before, after = (np.sum(normal * (point - a), axis=1) for point in (begin, end))
    through: NDArray[np.bool_] = before * after < 0.0
    share = np.where(through, before / np.where(through, before - after, 1.0), 0.0)
    point = begin + share[:, None] * (end - begin)
    for p, q in ((a, b), (b, c), (c, a)):
        through &= np.sum(np.cross(q - p, point - p) * normal, axis=1) > 0.0
    return through
