"""Fewer triangles within a stated tolerance, and how far the surface then strays. Closed meshes only."""

from __future__ import annotations

import coal
import numpy as np

from layout3d.solid.shape import Points, Shape

__all__ = ["reduced", "strays"]

MOST_MEASURED = 20_000  # corners of the finer surface that are held against the coarser one
POINT = 1e-9  # a point, to a library that measures between bodies: a ball of this radius, [m]
STEP = 0.6  # the kernel strays by up to twice what it is asked for: it is asked again for less
MOST_TRIES = 12


def reduced(shape: Shape, tolerance: float) -> tuple[Shape, float, int]:
    """Return a shape with some of the same corners whose surface strays by ``tolerance``, [m], at most.

    Returns
    -------
    coarse : the shape itself where nothing can be spared
    strayed : see ``strays``
    count : how many corners that was measured at
    """
    asked = tolerance
    for _ in range(MOST_TRIES):
        coarse = Shape.from_manifold(shape.manifold.simplify(asked))
        if coarse is not None:
            strayed, count = strays(shape, coarse)
            if strayed <= tolerance:
                return coarse, strayed, count
        asked *= STEP
    return shape, 0.0, len(shape.vertices)


def strays(fine: Shape, coarse: Shape) -> tuple[float, int]:
    """Return the largest distance of corners of ``fine`` from the surface of ``coarse``, [m].

    And how many were measured: all, or evenly picked ones of a mesh of more than ``MOST_MEASURED``.
    """
    corners: Points = np.asarray(fine.vertices)
    picked = corners[:: max(1, -(-len(corners) // MOST_MEASURED))]
    ball, tree, here = coal.Sphere(POINT), coarse.tree, coal.Transform3s.Identity()
    ask, answer = coal.DistanceRequest(), coal.DistanceResult()
    worst = 0.0
    for corner in picked:
        answer.clear()
        distance = float(coal.distance(ball, coal.Transform3s(np.eye(3), corner), tree, here, ask, answer))
        worst = max(worst, abs(distance + POINT))
    return worst, len(picked)
