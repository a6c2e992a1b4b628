"""A picture of what the window shows, drawn as ``layout3d picture`` draws it, by a process beside."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING

from layout3d.checks.base import Finding
from layout3d.draw.camera import Camera
from layout3d.draw.pieces import WATER_NAME, Lines, Piece
from layout3d.model.model import Model
from layout3d.view.levels import poured
from layout3d.view.looks import coloured

if TYPE_CHECKING:
    from layout3d.draw.cut import Cut

__all__ = ["Shoot", "Shot", "sized", "take_shot"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Shoot:
    """Question: the last text in a picture file, seen from ``camera``, which is of the picture's size.

    ``cut``, ``view``, ``colour`` and ``over`` as ``looks_of`` takes them, ``levels`` of waters as ``poured``
    does; ``hide`` parts, and water by its name; ``findings`` are marked, and ``labels`` names the parts.
    """

    to: Path
    camera: Camera
    net_volume: float
    cut: Cut | None = None
    view: str = "three_quarter"
    colour: str = ""
    over: tuple[float, float] | None = None
    levels: Mapping[str, float] = field(default_factory=dict)
    hide: tuple[str, ...] = ()
    findings: tuple[Finding, ...] = ()
    labels: bool = True


@dataclass(frozen=True, slots=True)
class Shot:
    """Answer: the picture is written."""

    version: int
    to: Path


def sized(camera: Camera, size: tuple[int, int]) -> Camera:
    """Return the camera for a picture of another size: the shorter side shows as much as it did."""
    (wide, high), (new_wide, new_high) = camera.size, size
    factor = min(1.0, wide / high) / min(1.0, new_wide / new_high)
    angle = 2.0 * math.atan(math.tan(camera.angle / 2.0) * factor)
    return replace(camera, size=size, angle=angle, half_height=camera.half_height * factor)


def take_shot(model: Model, asked: Shoot) -> None:
    """Write the picture.

    Raises
    ------
    LayoutError : as ``draw.picture.picture``.
    """
    from layout3d.draw.cut import drawn_water
    from layout3d.draw.picture import picture

    stage, key = coloured(model, asked.colour, asked.over, asked.hide)
    if asked.levels and WATER_NAME not in asked.hide:
        waters = poured(stage.waters, asked.levels)
        drawn = [item for water in waters for item in drawn_water(water)]
        stage = replace(
            stage,
            waters=waters,
            pieces=(
                *(one for one in stage.pieces if one.body != WATER_NAME),
                *(one for one in drawn if isinstance(one, Piece)),
            ),
            lines=(
                *(one for one in stage.lines if one.body != WATER_NAME),
                *(one for one in drawn if isinstance(one, Lines)),
            ),
        )
    picture(
        stage,
        view=asked.view,
        camera=asked.camera,
        to=asked.to,
        findings=asked.findings,
        size=asked.camera.size,
        labels=asked.labels,
        cut=asked.cut,
        net_volume=None if asked.levels else asked.net_volume,
        key=key,
    )
