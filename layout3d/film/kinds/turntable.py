"""Once round the scene, which stands still while the camera goes; the last frame leads into the first."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from layout3d.film.frame import Frame, Setting, box_corners, sequence_kind
from layout3d.parts.base import Vector, vector


@sequence_kind("turntable", count=120)
def turntable(setting: Setting) -> tuple[Frame, ...]:
    """Return frames of one turn, anticlockwise as seen from above."""
    corners = box_corners(setting.model)
    middle = (corners.min(axis=0) + corners.max(axis=0)) / 2.0
    # what the scene sweeps while it turns: so the camera has to go neither nearer nor further
    swept = np.concatenate([_round(corners, middle, turn) for turn in np.linspace(0.0, 2.0 * math.pi, 24)])
    begin = setting.camera(swept)
    pivot = np.array(begin.focal) if setting.cameras else middle
    frames = []
    for number in range(setting.count):
        turn = 2.0 * math.pi * number / setting.count
        at, focal = (_turned(point, pivot, turn) for point in (begin.position, begin.focal))
        frames.append(Frame(camera=replace(begin, position=at, focal=focal)))
    return tuple(frames)


def _round(points: NDArray[np.float64], pivot: NDArray[np.float64], turn: float) -> NDArray[np.float64]:
    cos, sin = math.cos(turn), math.sin(turn)
    rotation = np.array([[cos, -sin, 0.0], [sin, cos, 0.0], [0.0, 0.0, 1.0]])
    return np.asarray((points - pivot) @ rotation.T + pivot)


def _turned(point: Vector, pivot: NDArray[np.float64], turn: float) -> Vector:
    return vector(_round(np.array([point]), pivot, turn)[0])
