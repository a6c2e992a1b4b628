"""Fewer triangles within a stated tolerance, and how far the surface then strays. Closed meshes only."""

from __future__ import annotations

import math

import coal
import numpy as np

from layout3d.solid.shape import Points, Shape

__all__ = ["farthest", "reduced"]

MOST_MEASURED = 20_000  # corners of the finer surface that are held against the coarser one
POINT = 1e-9  # a point, to a library that measures between bodies: a ball of this radius, [m]
STEP = 0.6  # the kernel strays by up to twice what it is asked for: it is asked again for less
MOST_TRIES = 12


def reduced(shape: Shape, tolerance: float, *, most: int = MOST_MEASURED) -> tuple[Shape, float, int]:
    """Return a shape with some of the same corners whose surface strays by ``tolerance``, [m], at most.

    Parameters
    ----------
    most : corners that are measured; of a mesh of more, evenly picked ones

    Returns
    -------
    coarse : the shape itself where nothing can be spared
    strayed : the largest distance from it of corners that were measured, [m]
    count : how many corners that was measured at
    """
    picked, asked = _picked(shape, most), tolerance
    count = len(picked)
    for _ in range(MOST_TRIES):
        coarse = Shape.from_manifold(shape.manifold.simplify(asked))
        if coarse is not None:
            strayed, worst = farthest(picked, coarse, enough=tolerance)
            if strayed <= tolerance:
                return coarse, strayed, count
            picked = np.concatenate([picked[worst : worst + 1], picked])  # the first to be asked next time
        asked *= STEP
    return shape, 0.0, len(shape.vertices)


def _picked(fine: Shape, most: int) -> Points:
    corners: Points = np.asarray(fine.vertices)
    return corners[:: max(1, -(-len(corners) // most))]


def farthest(corners: Points, coarse: Shape, *, enough: float = math.inf) -> tuple[float, int]:
    """Return the largest distance of corners (n, 3) from a surface, [m], and whose that is.

    It ends with the first that is over ``enough``.
    """
    ball, tree, here = coal.Sphere(POINT), coarse.tree, coal.Transform3s.Identity()
    ask, answer = coal.DistanceRequest(), coal.DistanceResult()
    far, worst = 0.0, 0
    kept = set(map(tuple, np.asarray(coarse.vertices).tolist()))  # these lie on it
    for number, place in enumerate(map(tuple, corners.tolist())):
        if place in kept:
            continue
        answer.clear()
        corner = coal.Transform3s(np.eye(3), corners[number])
        distance = abs(float(coal.distance(ball, corner, tree, here, ask, answer)) + POINT)
        if distance > far:
            far, worst = distance, number
        if far > enough:
            break
    return far, worst
