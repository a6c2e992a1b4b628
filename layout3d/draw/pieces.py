"""What a stage is made of: surfaces, lines and bodies of water, as plain arrays."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from layout3d.draw.style import Colour

__all__ = ["WATER_NAME", "Lines", "Piece", "WaterBody", "colour_bytes", "inside_plan"]

Points = NDArray[np.float32]

WATER_NAME = "water"


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """A surface to draw: ``points`` and ``normals`` (n, 3), ``faces`` (m, 3), ``colours`` (n, 4) 0 … 255.

    ``one_sided`` ones are drawn only where they face the viewer: a pane is then one layer, not two.
    """

    body: str
    part: str
    group: str
    points: Points
    normals: Points
    faces: NDArray[np.int32]
    colours: NDArray[np.uint8]
    shine: float = 0.0
    gloss: float = 10.0
    clear: bool = False
    lighted: bool = True
    one_sided: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Lines:
    """Line segments to draw, (k, 2, 3), [m]; ``width`` in pixels of a page 1600 wide."""

    body: str
    part: str
    group: str
    segments: Points
    colour: Colour
    width: float
    opacity: float = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class WaterBody:
    """Water standing over a convex ``plan`` (k, 2), wound counter-clockwise, ``floor`` to ``level``, [m]."""

    plan: NDArray[np.float64]
    floor: float
    level: float


def colour_bytes(values: NDArray[np.float64]) -> NDArray[np.uint8]:
    """Return shares of 0 … 1 as bytes."""
    return np.round(np.clip(values, 0.0, 1.0) * 255.0).astype(np.uint8)


def inside_plan(points: NDArray[np.float64], plan: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return 1 for points inside a convex plan wound counter-clockwise, 0 outside, (n,)."""
    ahead = np.roll(plan, -1, axis=0) - plan
    across = [
        edge[0] * (points[:, 1] - corner[1]) - edge[1] * (points[:, 0] - corner[0])
        for corner, edge in zip(plan, ahead, strict=True)
    ]
    return np.asarray((np.min(across, axis=0) >= -1e-9).astype(np.float64))
