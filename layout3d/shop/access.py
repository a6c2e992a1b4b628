"""What gets to a place: a hand to a bulkhead, a bulky piece through the opening, nothing behind a slab."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from layout3d.model.model import Model
from layout3d.parts.base import Built, Part, Port
from layout3d.solid.distance import ball_passes
from layout3d.solid.shape import Solid

__all__ = ["HAND", "hand_reaches", "hidden_by", "openings", "passes_turned"]

Array = NDArray[np.float64]

HAND = 0.095
"""Width of the way for a hand around a thing up to 25 mm wide, bare, [m]. MIL-STD-1472F, from memory."""
ARM = 1.5  # such a way is looked at as far as this, [m]
_WAYS = 120  # directions that it is looked for in
_TURNS = 36  # a piece is turned by steps of 5 degrees over the opening
_LEANS = 150
HIDDEN = 0.5  # a body with more than this share of its corners behind a slab's front is hidden by it


def hand_reaches(port: Port, solids: Sequence[Solid]) -> bool:
    """Tell whether a hand gets straight to the end of a fitting, from anywhere in the open.

    A ball as wide as a hand in front of the port goes straight away from there in one of many directions, and
    touches nothing.
    """
    radius = HAND / 2.0
    start = np.array(port.at) + (radius + 0.005) * np.array(port.direction)
    return any(ball_passes(start, start + ARM * way, radius, solids) for way in _directions(_WAYS))


def _directions(count: int) -> Array:
    """Return directions spread over the sphere, the six axes first, (k, 3)."""
    k = np.arange(count) + 0.5
    z, turn = 1.0 - 2.0 * k / count, math.pi * (1.0 + math.sqrt(5.0)) * k
    flat = np.sqrt(1.0 - z**2)
    spread = np.column_stack([flat * np.cos(turn), flat * np.sin(turn), z])
    ways: Array = np.vstack([np.eye(3)[::-1], -np.eye(3), spread])
    return ways


def openings(model: Model) -> list[Array]:
    """Return the outlines of the open areas at the tank's top, between braces and rim, each (k, 2), [m]."""
    from shapely import MultiPolygon, Polygon
    from shapely.ops import unary_union

    tank = model.built[model.tank_name]
    covers = []
    for body in tank.bodies:
        if body.kind in ("brace", "rim"):
            flat = body.solid.vertices[body.solid.faces][:, :, :2]
            covers += [Polygon(corners) for corners in flat if abs(_twice_area(corners)) > 1e-10]
    left = Polygon(model.tank.plan)
    if covers:
        left = left.difference(unary_union(covers).buffer(1e-6))
    parts = list(left.geoms) if isinstance(left, MultiPolygon) else [left]
    return [np.array(part.exterior.coords)[:-1] for part in parts if part.area > 1e-4]


def _twice_area(corners: Array) -> float:
    a, b, c = corners
    return float((b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]))


def passes_turned(solid: Solid, opening: Array) -> bool:
    """Tell whether a piece goes straight down through an opening once it is leaned and turned as it likes.

    Its convex hull is looked at in many positions over the middle of the opening's longest rectangle: where
    one fits the piece passes; where none does it may yet.
    """
    from shapely import Polygon

    hull = np.asarray(solid.shape.manifold.hull().to_mesh64().vert_properties)[:, :3]
    whole = Polygon(opening)
    box = np.array(whole.minimum_rotated_rectangle.exterior.coords)
    along = (box[1] - box[0]) / np.linalg.norm(box[1] - box[0])
    frame = np.array([along, [-along[1], along[0]]])
    room = np.ptp(opening @ frame.T, axis=0)
    if whole.area < 0.98 * float(np.prod(room)):
        return False  # only openings that fill their rectangle are judged
    for up in _directions(_LEANS):
        side = np.cross(up, np.eye(3)[int(np.abs(up).argmin())])
        side /= np.linalg.norm(side)
        flat = hull @ np.column_stack([side, np.cross(up, side)])
        for turn in np.arange(_TURNS) * math.pi / _TURNS:
            c, s = math.cos(turn), math.sin(turn)
            if (np.ptp(flat @ np.array([[c, -s], [s, c]]), axis=0) <= room).all():
                return True
    return False


def hidden_by(model: Model, background: Built[Part, object]) -> tuple[str, ...]:
    """Return the bodies of plumbing that lie behind the front of a background's slabs."""
    data = next(built.data for built in model.backgrounds if built.part.name == background.part.name)
    found = []
    for body in model.bodies:
        if body.group != "plumbing" or body.name in data.comes_out:
            continue
        for slab in data.slabs:
            u, v, depth = slab.panel.local(body.solid.vertices).T
            behind = slab.covers(u, v) & (depth > 0) & (depth < slab.front_at(u, v))
            if behind.mean() > HIDDEN or (body.kind == "bulkhead" and behind.mean() > 0.1):
                found.append(body.name)
                break
    return tuple(found)
