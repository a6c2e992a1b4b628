"""How cut faces are drawn: outlined, hatched by material, and filled where they are too thin to hatch."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any

import numpy as np
from numpy.typing import NDArray

from layout3d.sheets.drawing import Area, Element, Path, Point
from layout3d.sheets.figure import Face

__all__ = ["hatched"]

ANGLES = {
    "glass": 45.0,
    "background": 135.0,
    "rock": 60.0,
    "wood": 20.0,
    "stand": 160.0,
    "sump": 45.0,
    "plumbing": 45.0,
    "substrate": 80.0,
    "equipment": 110.0,
}
"""Direction of the hatching by group, [degrees]: what touches has another. ISO 128-3; the choice is ours."""
PITCH = 2.4
"""Between two lines of a hatching, [mm]: 1.6 to 3.2 is usual. ISO 128-3, from memory."""
SPARSE = {"background": 2.0, "substrate": 2.2, "rock": 1.4}
"""Large faces are hatched wider, by this factor."""
THIN = 1.1
"""A face that is thinner on the page is filled, [mm]."""


def hatched(face: Face, per_metre: float, shift: NDArray[np.float64]) -> Iterator[Element]:
    """Yield what a cut face is drawn with on a page: its shape in the view times ``per_metre``, shifted."""
    import shapely
    import shapely.affinity

    shape: Any = shapely.affinity.affine_transform(
        face.shape, [per_metre, 0.0, 0.0, per_metre, float(shift[0]), float(shift[1])]
    )
    for part in shapely.get_parts(shape):
        if part.geom_type != "Polygon" or part.area < 1e-4:
            continue
        part = part.simplify(0.02)
        rings = tuple(_points(ring) for ring in (part.exterior, *part.interiors))
        if 2.0 * part.area / part.length < THIN:
            yield Area(rings, layer="cut")
            continue
        group = face.body.group
        pitch = PITCH * SPARSE.get(group, 1.0)
        for segment in _parallel(part, math.radians(ANGLES.get(group, 45.0)), pitch):
            yield Path(_points(segment), "narrow", layer="hatching")
        for ring in rings:
            yield Path(ring, "outline", closed=True, layer="cut")


def _parallel(shape: Any, angle: float, pitch: float) -> Iterator[Any]:
    """Yield lines within a shape, at an angle, so far apart; from a fixed origin, so that pieces match."""
    import shapely

    low_x, low_y, high_x, high_y = shape.bounds
    way, across = np.array((math.cos(angle), math.sin(angle))), np.array((-math.sin(angle), math.cos(angle)))
    corners = np.array(((low_x, low_y), (high_x, low_y), (high_x, high_y), (low_x, high_y)))
    levels, reach = corners @ across, corners @ way
    first, last = math.ceil(levels.min() / pitch), math.floor(levels.max() / pitch)
    rows = np.arange(first, last + 1)[:, None] * pitch * across
    if not len(rows):
        return
    ends = np.stack([rows + (reach.min() - 1.0) * way, rows + (reach.max() + 1.0) * way], axis=1)
    for piece in shapely.get_parts(shapely.intersection(shapely.linestrings(ends), shape)):
        if piece.geom_type == "LineString" and piece.length > 0.1:
            yield piece


def _points(ring: Any) -> tuple[Point, ...]:
    found = [(float(x), float(y)) for x, y in ring.coords]
    return tuple(found[:-1] if len(found) > 2 and found[0] == found[-1] else found)
