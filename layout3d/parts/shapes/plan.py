"""Plan geometry of convex footprints: winding, normals, edges moved in or out. No holes, nothing concave."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from layout3d.solid.outline import loop_area

__all__ = [
    "CORNER",
    "Polygon",
    "clockwise",
    "convex_fault",
    "edge_normals",
    "edges_kept",
    "is_square",
    "move_edges",
    "turning",
    "wound",
]

Polygon = NDArray[np.float64]

CORNER = math.radians(15.0)
"""Where an edge turns by less there is no corner: round glass is drawn as a polygon, [rad]."""


def clockwise(polygon: Polygon) -> bool:
    """Tell whether a (k, 2) polygon's corners run clockwise."""
    return loop_area(polygon) < 0


def wound(polygon: Polygon) -> Polygon:
    """Return the (k, 2) polygon counter-clockwise, with the same first edge."""
    return np.roll(polygon[::-1], 2, axis=0) if clockwise(polygon) else polygon


def turning(outline: Polygon) -> Polygon:
    """Return the points of a (k, 2) outline at which it turns a corner, (m, 2); a round edge has none."""
    ways = np.roll(outline, -1, axis=0) - outline
    ways /= np.linalg.norm(ways, axis=1, keepdims=True)
    turned: Polygon = outline[np.sum(ways * np.roll(ways, 1, axis=0), axis=1) < math.cos(CORNER)]
    return turned


def convex_fault(polygon: Polygon) -> str:
    """Say why a counter-clockwise (k, 2) polygon is no convex footprint; '' if it is one."""
    if len(polygon) < 3:
        return f"{len(polygon)} corners"
    edges = np.roll(polygon, -1, axis=0) - polygon
    lengths = np.linalg.norm(edges, axis=1)
    if lengths.min() < 1e-3:
        return f"corners {int(lengths.argmin()) + 1} and the next lie on one spot"
    following = np.roll(edges, -1, axis=0)
    turn = edges[:, 0] * following[:, 1] - edges[:, 1] * following[:, 0]
    bad = np.flatnonzero(turn <= 1e-9)
    if len(bad):
        return f"corner {(int(bad[0]) + 1) % len(polygon) + 1} turns inward or not at all"
    angle = np.arctan2(turn, np.sum(edges * following, axis=1))
    if abs(float(angle.sum()) - 2 * np.pi) > 1e-6:
        return "its edges cross"
    return ""


def is_square(polygon: Polygon) -> bool:
    """Tell whether a (k, 2) convex footprint is a rectangle along the axes."""
    return len(polygon) == 4 and float(np.abs(edge_normals(polygon)).min(axis=1).max()) < 1e-9


def edge_normals(polygon: Polygon) -> Polygon:
    """Return the (k, 2) inward unit normals of a counter-clockwise polygon's edges."""
    edges = np.concatenate([polygon[1:], polygon[:1]]) - polygon
    normals = np.column_stack([-edges[:, 1], edges[:, 0]])
    unit: Polygon = normals / np.linalg.norm(normals, axis=1, keepdims=True)
    return unit


def edges_kept(before: Polygon, after: Polygon) -> bool:
    """Tell whether moved edges still run the way they did; one that doesn't has vanished."""
    one, other = (np.concatenate([row[1:], row[:1]]) - row for row in (before, after))
    return bool((np.sum(one * other, axis=1) > 0).all())


def move_edges(polygon: Polygon, distances: NDArray[np.float64] | float) -> Polygon:
    """Move each edge inward by its distance (outward if negative) and return the corners anew.

    Parameters
    ----------
    polygon : (k, 2) float, [m], convex, counter-clockwise
    distances : (k,) float or one for all, [m]

    Returns
    -------
    (k, 2) float, [m]; meaningful while no edge vanishes.
    """
    normals = edge_normals(polygon)
    d = np.broadcast_to(np.asarray(distances, dtype=float), (len(polygon),))
    c = np.sum(normals * polygon, axis=1) + d
    before_n, before_c = (np.concatenate([row[-1:], row[:-1]]) for row in (normals, c))
    det = before_n[:, 0] * normals[:, 1] - before_n[:, 1] * normals[:, 0]
    x = (before_c * normals[:, 1] - before_n[:, 1] * c) / det
    y = (before_n[:, 0] * c - before_c * normals[:, 0]) / det
    return np.column_stack([x, y])
