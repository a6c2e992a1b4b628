"""Where a picture is seen from, and where a point of the scene falls on it. Pure arithmetic, no drawing."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from layout3d.model.spot import CameraSpot
from layout3d.solid.placement import Vector, vector

__all__ = ["VIEWS", "Camera", "camera_at", "camera_between", "camera_for", "direction_of"]

Floats = NDArray[np.float64]

VIEW_ANGLE = math.radians(20.0)  # full height of a perspective picture: a long lens, calm verticals
_FIT_ROUNDS = 12


@dataclass(frozen=True, slots=True)
class _Side:
    towards_viewer: Vector
    up: Vector
    parallel: bool
    words: str


VIEWS: Mapping[str, _Side] = {
    "three_quarter": _Side((-0.52, -1.0, 0.46), (0.0, 0.0, 1.0), False, "three-quarter view"),
    "front": _Side((0.0, -1.0, 0.0), (0.0, 0.0, 1.0), True, "front view"),
    "back": _Side((0.0, 1.0, 0.0), (0.0, 0.0, 1.0), True, "back view"),
    "left": _Side((-1.0, 0.0, 0.0), (0.0, 0.0, 1.0), True, "left side"),
    "right": _Side((1.0, 0.0, 0.0), (0.0, 0.0, 1.0), True, "right side"),
    "plan": _Side((0.0, 0.0, 1.0), (0.0, 1.0, 0.0), True, "plan"),
}
"""Views by name: the three-quarter one in perspective, the flat ones parallel."""


def direction_of(view: str) -> Floats:
    """Return the unit vector from the scene towards the viewer, (3,)."""
    towards = np.array(VIEWS[view].towards_viewer)
    return np.asarray(towards / np.linalg.norm(towards))


@dataclass(frozen=True, slots=True, kw_only=True)
class Camera:
    """A camera; ``size`` is the picture in pixels (width, height).

    Parallel: ``half_height`` is what half the picture's height shows, [m]. Perspective: ``angle`` is the
    full angle over the picture's height, [rad].
    """

    position: Vector
    focal: Vector
    up: Vector
    parallel: bool
    size: tuple[int, int]
    half_height: float = 1.0
    angle: float = VIEW_ANGLE

    def axes(self) -> Floats:
        """Return rows: right, up and towards the viewer, unit vectors, (3, 3)."""
        return _axes(self.position, self.focal, self.up)

    def depth(self, points: ArrayLike) -> Floats:
        """Return distances ahead of the camera along its axis, (n,), [m]."""
        local = np.atleast_2d(np.asarray(points, dtype=np.float64)) - np.array(self.position)
        return np.asarray(-(local @ self.axes()[2]))

    def pixels_per_metre(self, points: ArrayLike) -> Floats:
        """Return the scale at points for lengths square to the line of sight, (n,)."""
        half = self.size[1] / 2.0
        if self.parallel:
            return np.full(len(np.atleast_2d(points)), half / self.half_height)
        return np.asarray(half / (np.maximum(self.depth(points), 1e-9) * math.tan(self.angle / 2.0)))

    def project(self, points: ArrayLike) -> Floats:
        """Return where points fall on the picture, (n, 2) pixels from its top left corner, y down."""
        placed = np.atleast_2d(np.asarray(points, dtype=np.float64))
        local = (placed - np.array(self.position)) @ self.axes()[:2].T
        scale = self.pixels_per_metre(placed)[:, None]
        return np.asarray(np.array(self.size) / 2.0 + local * scale * np.array([1.0, -1.0]))

    def shifted(self, right: float, up: float) -> Camera:
        """Return this camera moved sideways, [m]."""
        move = self.axes()[0] * right + self.axes()[1] * up
        return replace(
            self, position=vector(np.array(self.position) + move), focal=vector(np.array(self.focal) + move)
        )


@lru_cache(maxsize=64)  # asked for each thing that is drawn
def _axes(position: Vector, focal: Vector, up: Vector) -> Floats:
    back = np.subtract(position, focal)
    back = back / np.linalg.norm(back)
    right = np.cross(up, back)
    right = right / np.linalg.norm(right)
    axes = np.array([right, np.cross(back, right), back])
    axes.flags.writeable = False
    return axes


def camera_for(
    view: str, points: ArrayLike, *, size: tuple[int, int], frame: tuple[float, float, float, float]
) -> Camera:
    """Return the camera of a view that shows all points inside a frame on the picture, as large as they go.

    Parameters
    ----------
    view : one of ``VIEWS``
    points : (n, 3) float, [m], n of 1 or more; corners of what has to be seen
    size : of the picture, pixels
    frame : left, top, right, bottom, pixels

    Raises
    ------
    KeyError : an unknown view.
    """
    side = VIEWS[view]
    placed = np.atleast_2d(np.asarray(points, dtype=np.float64))
    middle = (placed.min(axis=0) + placed.max(axis=0)) / 2.0
    reach = max(float(np.linalg.norm(placed - middle, axis=1).max()), 1e-3)
    left, top, right, bottom = frame
    wide, tall = right - left, bottom - top
    towards = direction_of(view)
    camera = Camera(
        position=vector(middle + towards * reach * 6.0),
        focal=vector(middle),
        up=side.up,
        parallel=side.parallel,
        size=size,
        half_height=reach,
    )
    centre = np.array([(left + right) / 2.0, (top + bottom) / 2.0])
    for _ in range(_FIT_ROUNDS):
        seen = camera.project(placed)
        low, high = seen.min(axis=0), seen.max(axis=0)
        grow = float(np.max((high - low) / np.array([wide, tall])))
        if camera.parallel:
            camera = replace(camera, half_height=camera.half_height * max(grow, 1e-6))
        else:
            away = np.subtract(camera.position, camera.focal)
            # nearer than twice the reach the lens would look wide
            distance = max(float(np.linalg.norm(away)) * grow, reach * 2.0)
            placed_at = np.array(camera.focal) + towards * distance
            camera = replace(camera, position=vector(placed_at))
        seen = camera.project(placed)
        off = (seen.min(axis=0) + seen.max(axis=0)) / 2.0 - centre
        scale = float(camera.pixels_per_metre(middle[None])[0])
        camera = camera.shifted(off[0] / scale, -off[1] / scale)
    return camera


def camera_at(spot: CameraSpot, *, size: tuple[int, int]) -> Camera:
    """Return the camera that stands at a spot of the scene, its target in the middle of the picture.

    It is held level; where it looks straight down or up, the tank's back is at the picture's upper edge.
    """
    towards = np.subtract(spot.at, spot.target)
    upright = abs(towards[2]) > 0.9999 * float(np.linalg.norm(towards))
    wide, high = size
    angle = 2.0 * math.atan(math.tan(spot.angle / 2.0) * high / min(wide, high))
    return Camera(
        position=spot.at,
        focal=spot.target,
        up=(0.0, 1.0, 0.0) if upright else (0.0, 0.0, 1.0),
        parallel=False,
        size=size,
        angle=angle,
    )


def camera_between(one: Camera, other: Camera, share: float) -> Camera:
    """Return a camera between two: target in a straight line, distance and lens by equal ratios.

    From one side to the opposite one no way between is shorter than others: that is the other at once.
    """

    def mixed(a: ArrayLike, b: ArrayLike) -> Floats:
        return np.asarray(np.asarray(a) * (1.0 - share) + np.asarray(b) * share, dtype=np.float64)

    def ratio(a: float, b: float) -> float:
        return math.exp(float(mixed(math.log(a), math.log(b))))

    focal, up = mixed(one.focal, other.focal), mixed(one.up, other.up)
    ways = [np.subtract(camera.position, camera.focal) for camera in (one, other)]
    far = [float(np.linalg.norm(way)) for way in ways]
    towards = mixed(ways[0] / far[0], ways[1] / far[1])
    if float(np.linalg.norm(towards)) < 1e-6:
        return other
    towards = towards / float(np.linalg.norm(towards))
    return replace(
        other,
        position=vector(focal + towards * ratio(*far)),
        focal=vector(focal),
        up=vector(up / max(float(np.linalg.norm(up)), 1e-9)),
        angle=ratio(one.angle, other.angle),
        half_height=ratio(one.half_height, other.half_height),
    )
