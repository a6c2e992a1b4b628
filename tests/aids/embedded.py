"""Whether a surface runs through itself, measured exactly, and whether the library takes it in as it is."""

from __future__ import annotations

import numpy as np

from layout3d.solid.folds import crossings
from layout3d.solid.shape import Points, Shape

__all__ = ["deepest_crossing", "misread"]


def deepest_crossing(shape: Shape) -> float:
    """Return how far two faces of a shape at most reach through each other, [m]; 0.0 where none do.

    Of each pair that may cross: how far the corners of each stand on both sides of the other's plane, and for
    how long the two run along the line in which these planes meet; the least of these.
    """
    faces = shape.faces.astype(np.int64)
    pairs = crossings(shape.vertices, faces)
    corners = shape.corners
    one, other = corners[pairs[:, 0]], corners[pairs[:, 1]]
    normal_one, normal_other = _normals(one), _normals(other)
    over_other = np.einsum("pij,pj->pi", one - other[:, :1], normal_other)
    over_one = np.einsum("pij,pj->pi", other - one[:, :1], normal_one)
    deep = np.minimum.reduce(
        [over_other.max(axis=1), -over_other.min(axis=1), over_one.max(axis=1), -over_one.min(axis=1)]
    )
    line = np.cross(normal_one, normal_other)
    line /= np.maximum(np.linalg.norm(line, axis=1, keepdims=True), 1e-300)
    middle = one.mean(axis=1, keepdims=True)
    begin_one, end_one = _met(one - middle, over_other, line)
    begin_other, end_other = _met(other - middle, over_one, line)
    long = np.minimum(end_one, end_other) - np.maximum(begin_one, begin_other)
    return float(np.minimum(deep, long).max(initial=0.0))


def misread(shape: Shape) -> float:
    """Return by how much the library's volume of a shape that it takes in is not its own, as a share, [-]."""
    return abs(float(shape.manifold.volume()) - shape.volume) / shape.volume


def _normals(corners: Points) -> Points:
    normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    lengths: Points = normals / np.maximum(np.linalg.norm(normals, axis=1, keepdims=True), 1e-300)
    return lengths


def _met(corners: Points, heights: Points, line: Points) -> tuple[Points, Points]:
    """Return where along a line faces (p, 3, 3) begin and end to meet the plane under their corners."""
    along = np.einsum("pij,pj->pi", corners, line)
    begin, end = np.full(len(corners), np.inf), np.full(len(corners), -np.inf)
    for k in range(3):
        a, b = heights[:, k], heights[:, k - 1]
        met = (a < 0.0) != (b < 0.0)
        share = np.where(met, a / np.where(met, a - b, 1.0), 0.0)
        at = along[:, k] + share * (along[:, k - 1] - along[:, k])
        begin, end = np.where(met, np.minimum(begin, at), begin), np.where(met, np.maximum(end, at), end)
    return begin, end
