"""What stands around a drawing on its page: scale bar, badges, legend, labels; placed as data, then drawn.

Pure arithmetic over pixels; ``overlay`` draws it. Facts are what a test or an article can check.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from layout3d.draw.camera import Camera
from layout3d.draw.labels import Box, Label
from layout3d.solid.placement import Vector, vector
from layout3d.units import show

if TYPE_CHECKING:
    from layout3d.checks.base import Finding

__all__ = [
    "Badge",
    "PictureFacts",
    "ScaleBar",
    "finding_point",
    "legend_rows",
    "place_badges",
    "scale_bar",
]

Point = tuple[float, float]

_LENGTHS = {
    "metric": [m * 10.0**e for e in (-3, -2, -1, 0) for m in (1.0, 2.0, 5.0)],
    "inch": [0.0254 * n for n in (0.125, 0.25, 0.5, 1, 2, 3, 6, 12, 24, 36, 48, 72, 120)],
}


@dataclass(frozen=True, slots=True, kw_only=True)
class ScaleBar:
    """A scale bar: its length in pixels and metres, its text, its left end, and the point it holds at."""

    pixels: float
    metres: float
    text: str
    at: Point
    holds_at: Vector


@dataclass(frozen=True, slots=True, kw_only=True)
class Badge:
    """A finding's badge: ``at`` is where the finding lies on the page, ``centre`` where the badge stands."""

    number: int
    severity: str
    at: Point
    centre: Point
    radius: float


@dataclass(frozen=True, slots=True, kw_only=True)
class PictureFacts:
    """What a picture shows, in pixels from its top left corner, so that its content can be checked.

    ``pixels`` counts those that show each group ('water' and 'glass' where they can be seen, through one
    another). ``unlabelled`` are parts that are seen but found no room for a label. ``legend`` holds the lines
    under the picture; ``title`` those above it.
    """

    file: Path
    view: str
    size: tuple[int, int]
    camera: Camera
    parts: tuple[str, ...]
    labels: tuple[Label, ...] = ()
    unlabelled: tuple[str, ...] = ()
    badges: tuple[Badge, ...] = ()
    scale_bar: ScaleBar
    title: tuple[str, ...] = ()
    legend: tuple[str, ...] = ()
    drawing: Box
    pixels: Mapping[str, int] = field(default_factory=dict)


def scale_bar(camera: Camera, at: Vector, *, style: str, corner: Point, room: float) -> ScaleBar:
    """Return the longest bar of a round length that fits in ``room`` pixels.

    Parameters
    ----------
    at : the point of the scene where the bar's length holds, [m]; all of it in a parallel view
    style : 'metric' or 'inch'
    corner : its left end on the page
    """
    scale = float(camera.pixels_per_metre([at])[0])
    fitting = [length for length in _LENGTHS[style] if length * scale <= room]
    metres = max(fitting, default=_LENGTHS[style][0])
    in_mm = style == "metric" and metres < 1.0
    text = f"{metres * 1000:g} mm" if in_mm else show(metres, "length", system=style)
    return ScaleBar(pixels=metres * scale, metres=metres, text=text, at=corner, holds_at=at)


def place_badges(
    findings: Sequence[tuple[int, Finding, Vector]],
    camera: Camera,
    *,
    radius: float,
    page: Box,
    taken: Sequence[Box] = (),
) -> tuple[Badge, ...]:
    """Place badges on the points of findings; one that would cover another, or text, steps aside.

    Parameters
    ----------
    findings : number, finding, and its point in the scene
    page : where badges may stand; a finding that falls outside gets none
    taken : boxes of text
    """
    placed: list[Badge] = []
    for number, finding, point in findings:
        x, y = (float(v) for v in camera.project([point])[0])
        on_page = page[0] <= x <= page[2] and page[1] <= y <= page[3]
        if on_page and camera.depth([point])[0] > 0:
            free = (spot for spot in _spots((x, y), radius) if _free(spot, radius, placed, taken, page))
            spot = next(free, (x, y))
            badge = Badge(number=number, severity=finding.severity, at=(x, y), centre=spot, radius=radius)
            placed.append(badge)
    return tuple(placed)


def _spots(at: Point, radius: float) -> list[Point]:
    """Return places to try: the point itself, then rings around it, upward first."""
    spots = [at]
    for ring in (2.4, 3.8, 5.4, 7.2):
        for k in range(12):
            turn = math.radians(-90.0 + (k + 1) // 2 * 30.0 * (1 if k % 2 else -1))
            spots.append((at[0] + ring * radius * math.cos(turn), at[1] + ring * radius * math.sin(turn)))
    return spots


def _free(spot: Point, radius: float, placed: Sequence[Badge], taken: Sequence[Box], page: Box) -> bool:
    x, y = spot
    if not (page[0] + radius <= x <= page[2] - radius and page[1] + radius <= y <= page[3] - radius):
        return False
    if any(math.hypot(x - b.centre[0], y - b.centre[1]) < 2.7 * radius for b in placed):
        return False
    return not any(
        left - radius < x < right + radius and top - radius < y < bottom + radius
        for left, top, right, bottom in taken
    )


def finding_point(finding: Finding, bounds: Mapping[str, NDArray[np.float64]]) -> Vector | None:
    """Return where a finding lies: its own point, else the middle of the first of its parts that is drawn.

    ``bounds`` are (2, 3) boxes by body and part name.
    """
    if finding.at is not None:
        return finding.at
    name = next((name for name in finding.parts if name in bounds), None)
    return None if name is None else vector(bounds[name].mean(axis=0))


def legend_rows(lines: Sequence[int], most: int) -> tuple[int, int]:
    """Return how many findings get their lines, and how many are only counted, by one line more.

    ``lines`` is how many each takes.
    """
    if sum(lines) <= most:
        return len(lines), 0
    ends = list(itertools.accumulate(lines))
    kept = sum(end <= most - 1 for end in ends)
    return kept, len(lines) - kept
