"""Outlines that shapes are made of: circles with enough sides, closed loops turned one way. Plane only."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike

from layout3d.errors import MeshRefused
from layout3d.solid.placement import Points

__all__ = ["circle", "closed_loop", "loop_area", "refuse_unless_above_zero", "sides"]

SAGITTA = 7.5e-6  # a chord strays this far from its arc; a corner then stands out by 2/3 of it, [m]
FEWEST_SIDES, MOST_SIDES = 24, 160


def sides(radius: float) -> int:
    """Return how many sides a circle is drawn with: a multiple of 8 from 24 to 160.

    >>> [sides(r) for r in (0.001, 0.01, 0.0134, 0.1)]
    [32, 88, 96, 160]
    """
    refuse_unless_above_zero("sides", radius=radius)
    if radius <= SAGITTA:
        return FEWEST_SIDES
    needed = math.pi / math.acos(1.0 - SAGITTA / radius)
    return int(min(max(8 * math.ceil(needed / 8.0), FEWEST_SIDES), MOST_SIDES))


def circle(radius: float, n: int | None) -> Points:
    """Return the corners of the polygon with the circle's area, (n, 2), anticlockwise, a side square to x."""
    count = n or sides(radius)
    if count < 3:
        raise MeshRefused(f"a circle needs 3 sides or more, got {count}")
    step = 2.0 * math.pi / count
    angle = (np.arange(count) + 0.5) * step
    widened = radius * math.sqrt(step / math.sin(step))
    corners: Points = widened * np.column_stack([np.cos(angle), np.sin(angle)])
    return corners


def closed_loop(points: ArrayLike, turn: float) -> Points:
    """Clean an outline: repeated points dropped, turned anticlockwise (1) or clockwise (-1)."""
    loop = np.asarray(points, dtype=np.float64).reshape(-1, 2)
    if not np.isfinite(loop).all():
        raise MeshRefused("an outline has a point that is not finite")
    loop = loop[(loop != np.concatenate([loop[-1:], loop[:-1]])).any(axis=1)]
    area = loop_area(loop) if len(loop) >= 3 else 0.0
    if abs(area) < 1e-15:
        raise MeshRefused("an outline has no area")
    turned: Points = loop if area * turn > 0 else loop[::-1].copy()
    return turned


def loop_area(loop: Points) -> float:
    """Return the area within a loop (k, 2), [m²]; above 0 where it runs anticlockwise."""
    local = loop - loop.mean(axis=0)
    onward = np.concatenate([local[1:], local[:1]])
    return float((local[:, 0] * onward[:, 1] - onward[:, 0] * local[:, 1]).sum()) / 2.0


def refuse_unless_above_zero(shape: str, **lengths: float) -> None:
    """Raise MeshRefused, by the names of the shape and of the length, for a length that is not above 0."""
    for name, length in lengths.items():
        if not (math.isfinite(length) and length > 0.0):
            raise MeshRefused(f"{shape}: {name.replace('_', ' ')} must be above 0, got {length:g}")
