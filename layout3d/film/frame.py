"""What a sequence is made of: frames as plain data, the setting that a kind makes them for, and the kinds.

Kinds are found by looking through ``film.kinds``: adding one is adding one file.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from layout3d.draw.camera import Camera, camera_at, camera_for
from layout3d.draw.cut import Cut
from layout3d.draw.pieces import WaterBody
from layout3d.errors import UnknownName, nearest
from layout3d.model.model import Model
from layout3d.parts.base import Vector
from layout3d.registry import found_in

__all__ = [
    "Frame",
    "SequenceKind",
    "Setting",
    "box_corners",
    "corners_of",
    "eased",
    "sequence_kind",
    "sequence_kinds",
]

MARGIN = 0.06  # of the picture's shorter side, left free around what is shown
HOLD = 2.0  # how long a still picture is shown, [s]


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame:
    """One picture of a sequence.

    ``bodies`` are those that stand there, None for all; ``marked`` those that are tinted. ``moved`` are
    bodies with the way that they are out of their places, [m]; ``apart`` is the same of a state whose light
    is on them, going over into that of all in place as ``joined`` goes from 0 to 1. ``named`` has those
    that are marked, or else all, named where captions are written in. ``bed_to`` are points that beds are
    filled to, () for whole beds. ``waters`` are the waters that are drawn, None for those of the scene
    as it runs. ``seconds`` is how long it is shown, 0 for one picture of the video.
    """

    camera: Camera
    bodies: tuple[str, ...] | None = None
    marked: tuple[str, ...] = ()
    moved: tuple[tuple[str, Vector], ...] = ()
    apart: tuple[tuple[str, Vector], ...] = ()
    joined: float = 1.0
    named: bool = False
    bed_to: tuple[Vector, ...] = ()
    cut: Cut | None = None
    waters: tuple[WaterBody, ...] | None = None
    caption: str = ""
    seconds: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting:
    """What a kind is asked for: ``count`` frames of a size, from those cameras of the scene that are named.

    ``foot`` is the share of the picture's height that is kept free for captions.
    """

    model: Model
    size: tuple[int, int]
    count: int
    cameras: tuple[str, ...] = ()
    foot: float = 0.0

    def spots(self) -> dict[str, Camera]:
        """Return the cameras of the scene that were named, or all of them, by name.

        Raises
        ------
        UnknownName : no camera of the scene is called so.
        """
        known = self.model.cameras
        for name in self.cameras:
            if name not in known:
                told = nearest(name, known) if known else "a scene with `cameras:`"
                raise UnknownName(f"no camera is called {name!r}", expected=told)
        return {name: camera_at(known[name], size=self.size) for name in self.cameras or known}

    def camera(self, points: NDArray[np.float64] | None = None) -> Camera:
        """Return the first camera that was named; else one that sees all points, or all bodies."""
        if self.cameras:
            return next(iter(self.spots().values()))
        wide, high = self.size
        edge = MARGIN * min(wide, high)
        seen = box_corners(self.model) if points is None else points
        frame = (edge, edge, wide - edge, high * (1.0 - self.foot) - edge)
        return camera_for("three_quarter", seen, size=self.size, frame=frame)

    def shares(self) -> list[float]:
        """Return how far each frame is through the sequence, 0 … 1; a single frame is at its end."""
        return [number / (self.count - 1) for number in range(self.count)] if self.count > 1 else [1.0]


def box_corners(model: Model) -> NDArray[np.float64]:
    """Return the corners of all bodies' boxes, (n, 3), [m]."""
    return corners_of([body.solid.bounds for body in model.bodies])


def corners_of(boxes: Sequence[NDArray[np.float64]]) -> NDArray[np.float64]:
    """Return the corners of boxes (2, 3) of least and greatest coordinates, (n, 3)."""
    return np.array([corner for box in boxes for corner in itertools.product(*box.T)])


def eased(share: float) -> float:
    """Return a share of a way that begins and ends gently: half a wave of the cosine.

    >>> [round(eased(share), 3) for share in (0.0, 0.25, 0.5, 1.0)]
    [0.0, 0.146, 0.5, 1.0]
    """
    return 0.5 - 0.5 * math.cos(math.pi * min(max(share, 0.0), 1.0))


Frames = Callable[[Setting], tuple[Frame, ...]]


@dataclass(frozen=True)
class SequenceKind:
    """A kind of sequence: its name, and how many frames it has if nothing is said.

    ``count`` is 0 where that follows from the scene.
    """

    name: str
    count: int
    frames: Frames


def sequence_kind(name: str, *, count: int = 0) -> Callable[[Frames], SequenceKind]:
    """Make a kind of sequence of the function that returns its frames."""
    return lambda frames: SequenceKind(name, count, frames)


@cache
def sequence_kinds() -> dict[str, SequenceKind]:
    """Return all kinds of sequences by name."""
    import layout3d.film.kinds as package

    return found_in(package, SequenceKind, lambda kind: kind.name)
