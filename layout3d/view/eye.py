"""Where the window looks from, and how hands turn, shift and bring it near. Pure arithmetic, no drawing."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from layout3d.draw.camera import VIEWS, Camera, camera_between, camera_for
from layout3d.parts.base import Vector, vector

__all__ = ["along_face", "between", "from_side", "nearer", "on_plane", "ray", "shifted", "to_focal", "turned"]

Floats = NDArray[np.float64]

STEEPEST = math.radians(89.0)  # up stays up: it never looks along the upright
NEAREST, FARTHEST = 0.02, 60.0  # from what it looks at, [m]
LEVEL = 0.15  # cosine: nearer to edge-on than this a plane is not pointed at
MARGIN = 0.06  # of the window that stays free around what a named view shows


def turned(camera: Camera, around: float, over: float) -> Camera:
    """Return the camera gone around what it looks at, to its right and upwards, [rad]; up stays up."""
    away = np.subtract(camera.position, camera.focal)
    distance = float(np.linalg.norm(away))
    height = math.asin(max(-1.0, min(1.0, away[2] / distance)))
    # seen from straight above, the top of the picture tells which way is ahead
    ahead = camera.axes()[1] if abs(height) > STEEPEST else -away / distance
    side = math.atan2(-ahead[1], -ahead[0]) + around
    height = max(-STEEPEST, min(STEEPEST, height + over))
    flat = math.cos(height) * distance
    new = np.array([flat * math.cos(side), flat * math.sin(side), distance * math.sin(height)])
    if camera.parallel:
        # a lens shows at the focal point what the parallel view showed
        new *= camera.half_height / math.tan(camera.angle / 2.0) / distance
    return replace(camera, position=vector(np.array(camera.focal) + new), up=(0.0, 0.0, 1.0), parallel=False)


def shifted(camera: Camera, right: float, down: float) -> Camera:
    """Return the camera moved so that what it looks at goes ``right`` and ``down`` by pixels."""
    scale = float(camera.pixels_per_metre(camera.focal)[0])
    return camera.shifted(-right / scale, down / scale)


def nearer(camera: Camera, factor: float, at: Vector | None = None) -> Camera:
    """Return the camera brought nearer (factor below 1); the point ``at`` stays in its place."""
    away = np.subtract(camera.position, camera.focal)
    distance = float(np.linalg.norm(away))
    factor = min(max(distance * factor, NEAREST), FARTHEST) / distance
    fixed = np.array(camera.focal if at is None else at)
    focal = fixed + (np.array(camera.focal) - fixed) * factor
    return replace(
        camera,
        focal=vector(focal),
        position=vector(focal + away * factor),
        half_height=camera.half_height * factor,
    )


def to_focal(camera: Camera, focal: Vector, distance: float | None = None) -> Camera:
    """Return the camera looking the same way at another point, from ``distance`` if given, [m]."""
    away = np.subtract(camera.position, camera.focal)
    before = float(np.linalg.norm(away))
    factor = 1.0 if distance is None else distance / before
    return replace(
        camera,
        focal=focal,
        position=vector(np.array(focal) + away * factor),
        half_height=camera.half_height * factor,
    )


def from_side(
    view: str, boxes: Sequence[ArrayLike], size: tuple[int, int], now: Camera | None = None
) -> Camera:
    """Return the camera of a named view: of all in ``boxes``, or where ``now`` is given as near as that.

    Parameters
    ----------
    boxes : (2, 3) each, low and high, [m]
    """
    if now is not None:
        side = VIEWS[view]
        towards = np.array(side.towards_viewer) / np.linalg.norm(side.towards_viewer)
        half = 1.0 / float(now.pixels_per_metre(now.focal)[0]) * now.size[1] / 2.0
        distance = half / math.tan(now.angle / 2.0)
        return replace(
            now,
            position=vector(np.array(now.focal) + towards * distance),
            up=side.up,
            parallel=side.parallel,
            half_height=half,
        )
    corners = np.array([corner for box in boxes for corner in itertools.product(*np.asarray(box).T)])
    wide, high = size
    frame = (MARGIN * wide, MARGIN * high, (1.0 - MARGIN) * wide, (1.0 - MARGIN) * high)
    return camera_for(view, corners, size=size, frame=frame)


def between(start: Camera, end: Camera, share: float) -> Camera:
    """Return the camera on its flight from one place to another, at a share of the way; slow at both ends."""
    return end if share >= 1.0 else camera_between(start, end, share * share * (3.0 - 2.0 * share))


def ray(camera: Camera, x: float, y: float) -> tuple[Floats, Floats]:
    """Return the line of sight through a pixel (from the top left): a point and its direction, (3,)."""
    right, up, back = camera.axes()
    scale = float(camera.pixels_per_metre(camera.focal)[0])
    across = (x - camera.size[0] / 2.0) / scale
    upwards = (camera.size[1] / 2.0 - y) / scale
    on_focal = np.array(camera.focal) + right * across + up * upwards
    if camera.parallel:
        distance = float(np.linalg.norm(np.subtract(camera.position, camera.focal)))
        return on_focal + back * distance, -back
    start = np.array(camera.position)
    return start, (on_focal - start) / np.linalg.norm(on_focal - start)


def on_plane(camera: Camera, point: Vector, x: float, y: float, axis: int) -> Floats:
    """Return how far it is from a point to what a pixel shows of its plane across an axis, (3,) [m].

    0 where that is seen edge-on.
    """
    start, way = ray(camera, x, y)
    if abs(way[axis]) < 1e-6:
        return np.zeros(3)
    offset = start + way * (point[axis] - start[axis]) / way[axis] - np.array(point)
    return np.asarray(np.clip(offset, -5.0, 5.0))


def edge_on(camera: Camera, point: Vector, axis: int) -> bool:
    """Tell whether the plane through a point across an axis is seen so flat that none points at it."""
    away = np.array(camera.axes()[2]) if camera.parallel else np.subtract(camera.position, point)
    return bool(abs(away[axis]) < LEVEL * np.linalg.norm(away))


def along_face(camera: Camera, point: Vector, x: float, y: float, axis: int) -> Floats:
    """Return how far it is from a point along a face across an axis to what a pixel shows, (3,) [m].

    Seen edge-on, what goes across the face on the screen goes into the depth: towards the picture's middle is
    away from the eye, as the face itself runs.
    """
    if not edge_on(camera, point, axis):
        offset = on_plane(camera, point, x, y, axis)
    else:
        back = camera.axes()[2]
        deep = max((one for one in range(3) if one != axis), key=lambda one: abs(back[one]))
        offset = on_plane(camera, point, x, y, deep)
        here, across, into = camera.project(
            np.array(point) + np.array([np.zeros(3), *np.eye(3)[[axis, deep]] * 1e-3])
        )
        runs = float((into - here) @ (across - here))
        if abs(runs) < 1e-3 * float(np.linalg.norm(across - here)) ** 2:  # in parallel lines it has no depth
            runs = float((here - np.array(camera.size) / 2.0) @ (across - here)) * back[deep] or -back[deep]
        offset[deep] = math.copysign(offset[axis], offset[axis] * runs)
    offset[axis] = 0.0
    return offset
