"""A flight from the whole scene over its named cameras, in the order of the file or as they were named."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np

from layout3d.draw.camera import Camera
from layout3d.errors import LayoutError
from layout3d.film.frame import Frame, Setting, eased
from layout3d.film.registry import sequence_kind
from layout3d.parts.base import vector

__all__ = ["fly_in"]


@sequence_kind("fly-in", "a flight over the scene's cameras", count=144)
def fly_in(setting: Setting) -> tuple[Frame, ...]:
    """Return frames of the flight; each stretch takes the same time, begins and ends gently.

    Raises
    ------
    LayoutError : the scene has no cameras.
    """
    spots = setting.spots()
    if not spots:
        raise LayoutError(
            "a flight in a scene without cameras",
            expected="at least one spot under `cameras:`, each with `at:` and `target:`",
        )
    start = replace(setting, cameras=()).camera()
    stops = [start, *spots.values()]
    words = [f"{a} to {b}".replace("_", " ") for a, b in pairwise(["the whole tank", *spots])]
    frames = []
    for share in setting.shares():
        stretch = min(int(share * (len(stops) - 1)), len(stops) - 2)
        between = eased(share * (len(stops) - 1) - stretch)
        camera = _between(stops[stretch], stops[stretch + 1], between)
        frames.append(Frame(camera=camera, caption=words[stretch]))
    return tuple(frames)


def _between(one: Camera, other: Camera, share: float) -> Camera:
    """Return a camera between two: target in a straight line, distance and lens by equal ratios."""

    def mixed(a: object, b: object) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
        return np.asarray(np.asarray(a) * (1.0 - share) + np.asarray(b) * share, dtype=np.float64)

    focal = mixed(one.focal, other.focal)
    ways = [np.subtract(camera.position, camera.focal) for camera in (one, other)]
    far = [float(np.linalg.norm(way)) for way in ways]
    towards = mixed(ways[0] / far[0], ways[1] / far[1])
    towards = towards / max(float(np.linalg.norm(towards)), 1e-9)
    distance = math.exp(float(mixed(math.log(far[0]), math.log(far[1]))))
    up = mixed(one.up, other.up)
    return replace(
        other,
        position=vector(focal + towards * distance),
        focal=vector(focal),
        up=vector(up / max(float(np.linalg.norm(up)), 1e-9)),
        angle=math.exp(float(mixed(math.log(one.angle), math.log(other.angle)))),
    )
