"""How a bed bears a piece: as a plane of sand does, by friction, on what of the piece lies in it."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np

from layout3d.hold.balance import FIXED, Contact
from layout3d.keep import FIGURES, code_of, kept, key_of
from layout3d.model.around import dense
from layout3d.model.beds import bed_height
from layout3d.model.model import Model
from layout3d.parts.base import Body
from layout3d.solid.distance import gap
from layout3d.solid.shape import Points, Solid

__all__ = ["nearest_bed", "on_bed"]

COARSE = 5000  # faces: a mesh of fewer is made dense where it lies in the bed
STEP = 0.01  # to edges of this length, [m]
DOWNWARD = -0.1  # what looks down by more than this lies on the bed, [-]


def on_bed(model: Model, number: int, bodies: Sequence[Body], ground: bytes) -> Contact | None:
    """Return how a bed bears a piece: on what of it lies in the bed, or is pressed into it as it is laid.

    ``number`` counts the piece, of these bodies, in its pile; ``ground`` is the key of the tank and its beds.
    """
    most, give = (model.scene.catalog.limit(name).value for name in ("rest_gap", "bed_give"))
    solids = tuple(body.solid for body in bodies if body.kind != "foliage")
    key = key_of("lies on bed", code_of("hold", "parts", "solid", "model"), ground, solids, most, give)
    lain = kept(key, FIGURES, lambda: _lies_on(solids, bed_height(model), most, give))
    if not lain:
        return None
    normal, *corners = np.reshape(lain, (-1, 3))
    return Contact(
        upper=number,
        lower=FIXED,
        points=np.array(corners),
        normals=np.tile(normal, (len(corners), 1)),
        friction=model.scene.catalog.limit("friction_on_bed").value,
    )


def _lies_on(
    solids: Sequence[Solid], height: Callable[[Points, Points], Points], most: float, give: float
) -> tuple[float, ...]:
    """Return the normal of the plane of sand, and the corners of what lies in it; or nothing."""
    found: list[Points] = []
    for solid in solids:
        fine = solid if len(solid.faces) >= COARSE else dense(solid.shape, STEP).solid(solid.placement)
        a, b, c = fine.vertices[fine.faces].transpose(1, 0, 2)
        across = np.cross(b - a, c - a)
        down = across[:, 2] < DOWNWARD * np.linalg.norm(across, axis=1)
        found.append(fine.vertices[np.unique(fine.faces[down])])
    points = np.concatenate(found)
    tops = height(points[:, 0], points[:, 1])
    points, tops = points[tops > 0.0], tops[tops > 0.0]
    if not len(points):
        return ()
    depths = tops - points[:, 2]
    if depths.max() < -most:
        return ()
    lying = depths >= min(0.0, float(depths.max()) - give)
    points, tops = points[lying], tops[lying]
    plane = np.column_stack([points[:, :2] - points[:, :2].mean(axis=0), np.ones(len(points))])
    slope, *_ = np.linalg.lstsq(plane, tops, rcond=None)
    normal = np.array([-slope[0], -slope[1], 1.0])
    return tuple(np.concatenate([[normal / np.linalg.norm(normal)], _outline(points)]).ravel().tolist())


def _outline(points: Points) -> Points:
    """Return of points (n, 3) those at the corners of their convex outline in plan."""
    from shapely import MultiPoint

    hull = MultiPoint(points[:, :2]).convex_hull
    rings = hull.exterior.coords if hull.geom_type == "Polygon" else hull.coords
    lowest: dict[tuple[float, ...], float] = {}
    for x, y, z in points.tolist():
        lowest[x, y] = min(z, lowest.get((x, y), math.inf))
    return np.array([(*place, lowest[place]) for place in dict.fromkeys((x, y) for x, y, *_ in rings)])


def nearest_bed(beds: Sequence[Body], bodies: Sequence[Body]) -> Body:
    """Return the bed that is nearest to a piece of these bodies."""
    if len(beds) == 1:
        return beds[0]
    return min(beds, key=lambda bed: min(gap(body.solid, bed.solid).distance for body in bodies))
