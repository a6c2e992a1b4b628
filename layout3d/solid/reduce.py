"""Fewer triangles within a stated tolerance, and how far the surface then strays. Closed meshes only."""

from __future__ import annotations

import math

import coal
import numpy as np
from numpy.typing import NDArray

from layout3d.solid.shape import Points, Shape

__all__ = ["farthest", "reduced", "reduced_for_looks"]

MOST_MEASURED = 20_000  # corners of the finer surface that are held against the coarser one
POINT = 1e-9  # a point, to a library that measures between bodies: a ball of this radius, [m]
STEP = 0.6  # the kernel strays by up to twice what it is asked for: it is asked again for less
MOST_TRIES = 12
NEAR = 3  # corners of the coarser surface whose faces are looked at first
FEW = 0.002  # of all corners: so many may keep their own faces
ALIKE = 0.7  # of the corners lost before: that many are lost for good, however small the step


def reduced(shape: Shape, tolerance: float) -> tuple[Shape, float, int]:
    """Return a shape with some of the same corners whose surface strays by ``tolerance``, [m], at most.

    Returns
    -------
    coarse : the shape itself where nothing can be spared
    strayed : the largest distance from it of corners that were measured, [m]
    count : how many corners that was measured at
    """
    picked, asked = _picked(shape, MOST_MEASURED), tolerance
    for _ in range(MOST_TRIES):
        coarse = Shape.from_manifold(shape.manifold.simplify(asked))
        if coarse is not None:
            strayed, _ = farthest(picked, coarse, enough=tolerance)
            if strayed <= tolerance:
                return coarse, strayed, len(picked)
        asked *= STEP
    return shape, 0.0, len(shape.vertices)


def reduced_for_looks(shape: Shape, tolerance: float) -> tuple[Shape, Points]:
    """Return a coarser shape, and faces (n, 3, 3) of the shape itself that belong with it.

    They aren't closed together. Every corner of the shape lies within ``tolerance``, [m], of the one or on
    the other: what is so thin that the coarser shape lost it keeps its own faces.
    """
    corners, asked, before = np.asarray(shape.vertices), tolerance, math.inf
    for _ in range(MOST_TRIES):
        coarse = Shape.from_manifold(shape.manifold.simplify(asked))
        if coarse is not None:
            lost = _distances(corners, coarse, within=tolerance) > tolerance
            if lost.mean() <= FEW or ALIKE * before <= lost.sum() <= lost.size / 4:
                return coarse, np.asarray(shape.corners)[lost[shape.faces].any(axis=1)]
            before = lost.sum()
        asked *= STEP
    return shape, np.zeros((0, 3, 3))


def _picked(fine: Shape, most: int) -> Points:
    corners: Points = np.asarray(fine.vertices)
    return corners[:: max(1, -(-len(corners) // most))]


def farthest(corners: Points, coarse: Shape, *, enough: float = math.inf) -> tuple[float, int]:
    """Return the largest distance of corners (n, 3) from a surface, [m], and whose that is.

    It ends with the first that is over ``enough``.
    """
    bounds = _to_faces_around(corners, coarse)
    far, worst = 0.0, 0
    for number in np.argsort(-bounds).tolist():
        if bounds[number] <= far or far > enough:
            break
        distance = _exact(corners[number], coarse)
        if distance > far:
            far, worst = distance, number
    return far, worst


def _distances(corners: Points, coarse: Shape, *, within: float) -> Points:
    """Return the distance of each of corners (n, 3) from a surface, [m]; below ``within`` more than it is."""
    distances = _to_faces_around(corners, coarse, within=within)
    for number in np.flatnonzero(distances > within).tolist():
        distances[number] = _exact(corners[number], coarse)
    return distances


def _exact(corner: Points, coarse: Shape) -> float:
    here = coal.Transform3s.Identity()
    ball = coal.Sphere(POINT), coal.Transform3s(np.eye(3), corner)
    found = coal.distance(*ball, coarse.tree, here, coal.DistanceRequest(), coal.DistanceResult())
    return abs(float(found) + POINT)


def _to_faces_around(corners: Points, coarse: Shape, *, within: float = 0.0) -> Points:
    """Return how far corners (n, 3) are at most from a surface, [m].

    Told from the faces round its nearest corners. Below ``within`` no nearer face is looked for.
    """
    from scipy.spatial import KDTree

    vertices, faces = np.asarray(coarse.vertices), np.asarray(coarse.faces)
    least, near = KDTree(vertices).query(corners, k=min(NEAR, len(vertices)))
    least, near = least.reshape(len(corners), -1), near.reshape(len(corners), -1)
    of_corner = np.argsort(faces.ravel(), kind="stable") // 3
    count = np.bincount(faces.ravel(), minlength=len(vertices))
    begin = np.cumsum(count) - count
    bounds: Points = least[:, 0].copy()
    for turn in range(near.shape[1]):
        open_ = np.flatnonzero(bounds > within)
        each = count[near[open_, turn]]
        index = np.repeat(open_, each)
        place = np.arange(len(index)) - np.repeat(np.cumsum(each) - each, each)
        face = of_corner[begin[near[index, turn]] + place]
        np.minimum.at(bounds, index, _to_triangles(corners[index], vertices[faces[face]]))
    return bounds


def _to_triangles(points: Points, triangles: NDArray[np.float64]) -> Points:
    """Return the distance of each point (n, 3) from its own triangle (n, 3, 3), [m]."""
    squares = np.full(len(points), np.inf)
    sides = np.roll(triangles, -1, axis=1) - triangles
    across = np.cross(sides[:, 0], sides[:, 1])
    twice = np.einsum("ij,ij->i", across, across)
    inside = twice > 0.0
    for one in range(3):
        side, way = sides[:, one], points - triangles[:, one]
        length = np.maximum(np.einsum("ij,ij->i", side, side), 1e-300)
        share = np.clip(np.einsum("ij,ij->i", way, side) / length, 0.0, 1.0)
        off = way - share[:, None] * side
        squares = np.minimum(squares, np.einsum("ij,ij->i", off, off))
        inside &= np.einsum("ij,ij->i", np.cross(side, way), across) >= 0.0
    height = np.einsum("ij,ij->i", points - triangles[:, 0], across)[inside]
    squares[inside] = np.minimum(squares[inside], height**2 / twice[inside])
    distances: Points = np.sqrt(squares)
    return distances
