"""Shapes of what holds a pipe or tube: a snap clip on a foot, and the same on a suction cup.

Own axes: the pipe's axis is x and runs through the origin; the surface it is fixed to lies ``stand`` below,
square to z. Forms are common practice, no source; makers differ.
"""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np

from layout3d.fittings.hub import along, laid
from layout3d.fittings.port import FittingPort, FittingShape
from layout3d.fittings.rings import corners, turned
from layout3d.solid.boolean import union, whole
from layout3d.solid.outline import circle
from layout3d.solid.primitives import box, prism, sides
from layout3d.solid.shape import Placement, Points, Shape, Solid

__all__ = ["clip", "clip_stand", "suction_cup", "suction_cup_stand"]

GAPE = math.radians(80.0)  # opening of the clip's mouth, at the top
WALL_RATIO, LEAST_WALL = 0.12, 2e-3


def _wall(outside_diameter: float) -> float:
    return max(WALL_RATIO * outside_diameter, LEAST_WALL)


def clip_stand(outside_diameter: float) -> float:
    """Return the least distance from the pipe's axis to the surface a clip stands on, [m]."""
    return outside_diameter / 2.0 + 1.5 * _wall(outside_diameter)


def suction_cup_stand(outside_diameter: float) -> float:
    """Return the least distance from the pipe's axis to the glass with a suction cup, [m]."""
    return outside_diameter / 2.0 + _wall(outside_diameter) + 0.010


@lru_cache(maxsize=256)
def clip(outside_diameter: float, stand: float) -> FittingShape:
    """Return a snap clip, open at the top, for a pipe of this outside diameter; its foot is ``stand`` below.

    Raises
    ------
    ValueError : the stand is below ``clip_stand``.
    """
    _checked(stand, clip_stand(outside_diameter), "clip")
    wall, width = _wall(outside_diameter), max(0.5 * outside_diameter, 8e-3)
    foot = box((width, 1.3 * outside_diameter, wall), centre=True)
    post_height = stand - outside_diameter / 2.0 - 0.2 * wall
    post = box((width, 0.5 * outside_diameter, post_height), centre=True)
    pieces = [
        _arms(outside_diameter, wall, width).solid(),
        foot.solid(Placement.at((0.0, 0.0, wall / 2.0 - stand))),
        post.solid(Placement.at((0.0, 0.0, post_height / 2.0 - stand))),
    ]
    return _held("clip", pieces, stand)


@lru_cache(maxsize=256)
def suction_cup(outside_diameter: float, stand: float) -> FittingShape:
    """Return a suction cup with a clip for a pipe or tube, pressed on the glass ``stand`` below the axis.

    Raises
    ------
    ValueError : the stand is below ``suction_cup_stand``.
    """
    _checked(stand, suction_cup_stand(outside_diameter), "suction_cup")
    wall, width = _wall(outside_diameter), max(0.5 * outside_diameter, 8e-3)
    radius = max(0.7 * outside_diameter, 0.015)
    top = -outside_diameter / 2.0 - 0.2 * wall
    neck = min(0.35 * radius, 0.4 * outside_diameter)
    bell = ((radius, 0.0), (0.98 * radius, 1.2e-3), (0.7 * radius, 3.5e-3), (neck, 6.0e-3))
    outline = ((0.0, -stand), *((r, z - stand) for r, z in bell), (neck, top), (0.0, top))
    cup = turned(corners(40, *outline))
    return _held("suction_cup", [_arms(outside_diameter, wall, width).solid(), cup.solid()], stand)


def _checked(stand: float, least: float, what: str) -> None:
    if stand < least - 1e-9:
        raise ValueError(f"{what}: stand {stand:g} m is below the least of {least:g} m")


def _held(kind: str, pieces: list[Solid], stand: float) -> FittingShape:
    foot = FittingPort(name="foot", at=(0.0, 0.0, -stand), direction=(0.0, 0.0, -1.0), end="foot", bore=0.0)
    return FittingShape(kind=kind, shape=whole(union(pieces), kind).shape, ports=(foot,))


def _arms(outside_diameter: float, wall: float, width: float) -> Shape:
    """Return the clip's ring with its mouth cut open at the top; its inside has the pipe's own corners."""
    n = sides(outside_diameter / 2.0)
    # local x of a shape laid along x is up: corners near angle 0 are the mouth
    inner = circle(outside_diameter / 2.0, n)
    angle = np.arctan2(inner[:, 1], inner[:, 0])
    kept = inner[np.abs(angle) >= GAPE / 2.0]
    kept = kept[np.argsort(np.arctan2(kept[:, 1], kept[:, 0]) % (2.0 * math.pi))]
    directions = kept / np.linalg.norm(kept, axis=1, keepdims=True)
    outer = (outside_diameter / 2.0 + wall) * directions
    outline: Points = np.concatenate([outer, kept[::-1]])
    return laid(prism(outline, width), along((1.0, 0.0, 0.0), (-width / 2.0, 0.0, 0.0)))
