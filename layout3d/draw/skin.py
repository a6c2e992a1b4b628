"""Surfaces made ready to draw: sharp edges split, long faces divided, hollows found. Arrays in own axes."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Any, cast

import numpy as np
from numpy.typing import NDArray

from layout3d.draw.mesh import array_of, cells_of, held, mesh_of, run
from layout3d.solid.shape import Shape, hung_together

__all__ = ["Skin", "pane_skin", "sharp_edges", "smooth_skin"]

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]

LONGEST_EDGE = 0.06  # m: light is kept at vertices, so a large opaque face needs one at least so often
LONGEST_ROUND_EDGE = 0.09  # m: the same along pipes, whose many sides would make too many faces
SPARED = 2e-4
"""So far the sides of a round thing that was made stray from what they are computed with, or twice that, [m]:
a third of a pixel of a picture of a whole tank."""
_ROUND = 150  # faces from which a shape is taken for a round one, or for one that is fine but for flat backs
SMOOTH = 20.0  # degrees between faces of a pane that are one bent face
NARROW = 0.035  # m: a pane's face narrower than this is its edge, seen through the length of the glass


@dataclass(frozen=True, slots=True)
class Skin:
    """A surface: ``points`` and ``normals`` (n, 3), ``faces`` (m, 3), ``hollow`` (n,) in -1 … 1.

    ``narrow`` (n,) tells the vertices of a pane's narrow faces. ``colours`` (n, 3) 0 … 1 are a scan's own.
    """

    points: Floats
    normals: Floats
    faces: Ints
    hollow: Floats
    narrow: NDArray[np.bool_]
    colours: Floats | None = None


@lru_cache(maxsize=512)
def smooth_skin(
    shape: Shape, crease: float, *, divided: bool = True, hollows: bool = True, made: bool = False
) -> Skin:
    """Return a shape's surface with normals smooth up to ``crease`` [degrees] between faces.

    Long faces are ``divided`` where light is to be kept at their corners. ``hollows`` are looked for where
    something hangs on them. What was ``made``, not grown, gets as few faces as show it within ``SPARED``.
    """
    from vtkmodules.vtkFiltersCore import vtkPolyDataNormals

    points = np.asarray(shape.vertices)
    faces: NDArray[np.integer] = np.asarray(shape.faces)
    longest = LONGEST_EDGE if len(faces) < _ROUND else LONGEST_ROUND_EDGE
    if made and len(faces) >= _ROUND:
        simple = shape.manifold.simplify(SPARED).to_mesh64()
        points, faces = np.asarray(simple.vert_properties)[:, :3], np.asarray(simple.tri_verts)
    hollow = _hollow(points, faces) if hollows else np.zeros(len(points))
    if divided:
        points, hollow, faces = _divided(points, hollow, faces, longest)
    mesh = mesh_of(points, faces)
    mesh.GetPointData().SetScalars(held(hollow))
    kept = {"Consistency": False, "AutoOrientNormals": False, "NonManifoldTraversal": False}
    mesh = run(vtkPolyDataNormals(), mesh, FeatureAngle=crease, Splitting=True, **kept)
    found = mesh.GetPointData()
    return Skin(
        points=array_of(mesh.GetPoints().GetData()).astype(np.float64),
        normals=array_of(found.GetNormals()).astype(np.float64),
        faces=cells_of(mesh.GetPolys(), 3),
        hollow=array_of(found.GetScalars()).astype(np.float64),
        narrow=np.zeros(mesh.GetNumberOfPoints(), dtype=bool),
    )


@lru_cache(maxsize=256)
def pane_skin(shape: Shape) -> Skin:
    """Return a pane's surface, face by face, with its narrow faces told apart from its broad ones.

    A bent pane's face is one, however many flat strips it is made of.
    """
    corners = np.asarray(shape.corners)
    across = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    twice = np.linalg.norm(across, axis=1)
    kept = twice > 1e-14
    corners, across, twice = corners[kept], across[kept], twice[kept]
    normals = across / twice[:, None]
    narrow = _narrow_faces(corners, normals, twice / 2.0, np.asarray(shape.faces)[kept])
    count = len(corners)
    return Skin(
        points=corners.reshape(-1, 3),
        normals=np.repeat(normals, 3, axis=0),
        faces=np.arange(3 * count, dtype=np.int32).reshape(-1, 3),
        hollow=np.zeros(3 * count),
        narrow=np.repeat(narrow, 3),
    )


def _narrow_faces(
    corners: Floats, normals: Floats, area: Floats, faces: NDArray[np.integer]
) -> NDArray[np.bool_]:
    """Tell the faces that lie in a smooth patch narrower than ``NARROW``."""
    count = len(faces)
    edges = np.sort(np.stack([faces, np.roll(faces, -1, axis=1)], axis=2), axis=2).reshape(-1, 2)
    order = np.lexsort((edges[:, 1], edges[:, 0]))
    same = (edges[order[1:]] == edges[order[:-1]]).all(axis=1)
    one, other = order[:-1][same] // 3, order[1:][same] // 3
    smooth = np.einsum("ij,ij->i", normals[one], normals[other]) > np.cos(np.radians(SMOOTH))
    both = (np.concatenate(pair)[np.tile(smooth, 2)] for pair in ((one, other), (other, one)))
    _, patch = np.unique(hung_together(count, *both), return_inverse=True)
    total = np.bincount(patch, weights=area)
    longest = np.zeros(len(total))
    for axis in range(3):
        low, high = np.full(len(total), np.inf), np.full(len(total), -np.inf)
        np.minimum.at(low, patch, corners[:, :, axis].min(axis=1))
        np.maximum.at(high, patch, corners[:, :, axis].max(axis=1))
        longest = np.maximum(longest, high - low)
    return np.asarray((total / np.maximum(longest, 1e-9) < NARROW)[patch])


@lru_cache(maxsize=256)
def sharp_edges(shape: Shape, angle: float = 30.0) -> Floats:
    """Return the edges where faces meet at more than ``angle`` [degrees], (k, 2, 3), own axes."""
    from vtkmodules.vtkFiltersCore import vtkFeatureEdges

    kinds = dict.fromkeys(("BoundaryEdges", "NonManifoldEdges", "ManifoldEdges", "Coloring"), False)
    mesh = mesh_of(np.asarray(shape.vertices), np.asarray(shape.faces))
    edges = run(vtkFeatureEdges(), mesh, FeatureAngle=angle, FeatureEdges=True, **kinds)
    ends = array_of(edges.GetPoints().GetData())[cells_of(edges.GetLines(), 2)]
    return np.asarray(ends, dtype=np.float64)


def _squares(points: Floats, faces: NDArray[np.integer]) -> Floats:
    """Return the squares of the lengths of the sides of faces, from each corner to the next, (3, m)."""
    corners = [points[faces[:, k]].T for k in range(3)]
    sides = (corners[k - 2] - corners[k] for k in range(3))
    return np.stack([side[0] ** 2 + side[1] ** 2 + side[2] ** 2 for side in sides])


def _divided(
    points: Floats, values: Floats, faces: NDArray[np.integer], longest: float
) -> tuple[Floats, Floats, NDArray[np.int64]]:
    """Halve the longest side of faces, again and again, until none is longer than ``longest``, [m].

    Faces on both sides of a halved edge are parted there: no gap opens. ``values`` (n,) are the corners' own,
    and those of new ones lie midway.
    """
    long, done = faces.astype(np.int64), []
    while True:
        squares = _squares(points, long)
        over = squares.max(axis=0) > longest**2
        done.append(long[~over])
        long, squares = long[over], squares[:, over]
        if not len(long):
            return points, values, np.concatenate(done)
        # the longest side of each comes first
        turn = (np.argmax(squares, axis=0)[:, None] + np.arange(3)) % 3
        long = np.take_along_axis(long, turn, axis=1)
        ends = np.stack([long, np.roll(long, -1, axis=1)], axis=2)
        edges = ends.min(axis=2) * len(points) + ends.max(axis=2)
        halved = np.unique(edges[:, 0])
        place = np.minimum(np.searchsorted(halved, edges), len(halved) - 1)
        middle = np.where(halved[place] == edges, len(points) + place, -1)
        one, other = np.divmod(halved, len(points))
        points = np.concatenate([points, (points[one] + points[other]) / 2.0])
        values = np.concatenate([values, (values[one] + values[other]) / 2.0])
        (a, b, c), (ab, bc, ca) = long.T, middle.T
        on_left, on_right = ca >= 0, bc >= 0
        parts = (
            np.stack([a, ab, np.where(on_left, ca, c)], axis=1),
            np.stack([ca, ab, c], axis=1)[on_left],
            np.stack([ab, b, np.where(on_right, bc, c)], axis=1),
            np.stack([ab, bc, c], axis=1)[on_right],
        )
        long = np.concatenate(parts)


def _hollow(points: Floats, faces: Any) -> Floats:
    """Return how hollow (1) or ridged (-1) a surface is at its vertices, over a few edges around, (n,)."""
    count = len(points)
    if count > 400_000 or len(faces) < 400:
        return np.zeros(count)
    start, end = faces.ravel(), np.roll(faces, -1, axis=1).ravel()

    def gathered(values: Floats) -> Floats:
        """Sum what stands at the corners of the faces, (k,) or (k, 3), over each vertex."""
        columns = np.reshape(values, (len(start), -1)).T
        sums = [np.bincount(start, weights=column, minlength=count) for column in columns]
        return np.asarray(np.stack(sums, axis=1).reshape(count, *values.shape[1:]), dtype=np.float64)

    degree = np.maximum(np.bincount(start, minlength=count), 1)
    corners = points[faces]
    across = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    normals = gathered(np.repeat(across, 3, axis=0))
    normals /= np.maximum(np.linalg.norm(normals, axis=1, keepdims=True), 1e-30)
    around = gathered(points[end]) / degree[:, None]
    squares = gathered(np.sum((points[end] - points[start]) ** 2, axis=1))
    edge = np.maximum(np.sqrt(squares / degree), 1e-9)
    bend = np.einsum("ij,ij->i", around - points, normals) / edge
    for _ in range(2):
        bend = 0.5 * bend + 0.5 * gathered(bend[end]) / degree
    return cast(Floats, np.clip(bend * 5.0, -1.0, 1.0))
