"""What a picture shows where: parts by pixel, groups by count, and the point each part's label tells of."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from layout3d.draw.camera import Camera
from layout3d.draw.labels import Box
from layout3d.draw.mesh import array_of, held, run
from layout3d.draw.pieces import Stage
from layout3d.draw.screen import Screen

__all__ = ["LabelPoint", "Seen", "depths", "families", "label_points", "look", "stem_of"]

STEP = 2  # pixels to one that is looked at, each way: labels point to the middle of what is larger
LEAST_SEEN = 60  # pixels of a page 1600 by 1200 from which a part gets a label


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """``parts`` is each pixel's foremost opaque part, by its number in ``numbers``, or 0.

    ``clear`` are the same of the clear surfaces of each group that stand before it.
    """

    parts: NDArray[np.int16]
    clear: tuple[NDArray[np.int16], ...]
    numbers: Mapping[str, int]
    by_group: Mapping[str, int]

    def inside(self, box: Box) -> Seen:
        """Return what is seen inside a box on the page."""
        left, top, right, bottom = (round(side) for side in box)

        def kept(shown: NDArray[np.int16]) -> NDArray[np.int16]:
            inside = np.zeros_like(shown)
            inside[top:bottom, left:right] = shown[top:bottom, left:right]
            return inside

        return replace(self, parts=kept(self.parts), clear=tuple(kept(one) for one in self.clear))


@dataclass(frozen=True, slots=True)
class LabelPoint:
    """The point of a part that its label tells of, pixels, and how much of the part is seen."""

    part: str
    at: tuple[float, float]
    weight: float


def look(page: Screen, stage: Stage) -> Seen:
    """Find out which part and group each pixel of the picture taken last shows.

    Clear ones are looked at apart from opaque ones.
    """
    clear = {piece.body for piece in stage.pieces if piece.clear}
    opaque = {piece.body for piece in stage.pieces if piece.body and not piece.clear}
    parts = {name: number for number, name in enumerate(stage.parts, start=1)}
    groups = tuple(dict.fromkeys(piece.group for piece in stage.pieces if piece.group))
    part_of = {piece.body: piece.part for piece in stage.pieces}
    group_of = {piece.part: piece.group for piece in stage.pieces}
    clear_of = {group: {p.body for p in stage.pieces if p.group == group and p.clear} for group in groups}
    seen_through = [group for group in groups if clear_of[group]]
    numbers = {body: parts[part_of[body]] for body in (clear | opaque) - {""}}
    layers = [opaque, *(clear_of[group] for group in seen_through)]
    (solid, near), *others = page.part_maps(numbers, layers, step=STEP)

    def of_pixels(shown: NDArray[np.int16]) -> NDArray[np.int16]:
        wide, high = page.size
        return shown.repeat(STEP, axis=0)[:high].repeat(STEP, axis=1)[:, :wide]

    counts = dict.fromkeys(groups, 0)
    shown = of_pixels(solid)
    of_number = np.bincount(shown.ravel(), minlength=len(parts) + 1)
    for part, number in parts.items():
        counts[group_of[part]] += int(of_number[number])
    before = []
    for group, (clear_ones, depth) in zip(seen_through, others, strict=True):
        before.append(of_pixels(clear_ones * (depth < near)))
        counts[group] += int(np.count_nonzero(before[-1]))
    return Seen(parts=shown, clear=tuple(before), numbers=parts, by_group=counts)


def label_points(stage: Stage, camera: Camera, seen: Seen, *, grain: int) -> list[LabelPoint]:
    """Return a point on each part that is seen: deep inside its largest visible patch, or on a pane's rim."""
    points = []
    page = camera.size[0] * camera.size[1] / (1600 * 1200)
    clear_parts = {item.part for item in stage.lines} & {p.part for p in stage.pieces if p.clear}
    for part, number in seen.numbers.items():
        if part in clear_parts:
            shown = [clear == number for clear in seen.clear]
            at = _rim_point(stage, camera, part, shown)
            if at is None and shown:
                patch = _deepest(np.any(shown, axis=0)[::grain, ::grain], enough=16.0 / 3.0)
                at = (patch[1] * grain + 0.5, patch[0] * grain + 0.5) if patch else None
            if at is not None:
                points.append(LabelPoint(part, at, float(camera.size[0] * camera.size[1])))
            continue
        found = _deepest(seen.parts[::grain, ::grain] == number, enough=16.0 / 3.0)
        if found is None or found[2] * grain * grain < LEAST_SEEN * page:
            continue
        row, column, count = found
        points.append(LabelPoint(part, (column * grain + 0.5, row * grain + 0.5), float(count * grain**2)))
    return points


def _deepest(mask: NDArray[np.bool_], enough: float) -> tuple[int, int, int] | None:
    """Return row and column of a pixel well inside the mask, and the mask's area in pixels.

    Of those at least half as deep as the deepest, or ``enough`` pixels deep, it is the one nearest to the
    left or right side of the page: a short leader covers little.
    """
    rows, columns = np.flatnonzero(mask.any(axis=1)), np.flatnonzero(mask.any(axis=0))
    if not len(rows):
        return None
    cropped = np.pad(mask[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1], 1)
    deep = depths(cropped)
    inside = np.argwhere(deep >= max(min(enough, 0.9 * deep.max()), 0.5 * deep.max()))
    column = inside[:, 1] - 1 + columns[0]
    to_side = np.minimum(column, mask.shape[1] - 1 - column)
    off_middle = np.abs(inside[:, 0] - np.flatnonzero(cropped.any(axis=1)).mean())
    best = inside[int(np.argmin(to_side + 0.5 * off_middle))]
    return int(best[0] - 1 + rows[0]), int(best[1] - 1 + columns[0]), int(np.count_nonzero(cropped))


def depths(mask: NDArray[np.bool_]) -> NDArray[np.float64]:
    """Return how far each pixel of a mask is from the nearest that is not in it; 0 for these."""
    # the drawing library's, for scipy's takes longer to load than all masks of a picture take
    from vtkmodules.vtkCommonDataModel import vtkImageData
    from vtkmodules.vtkImagingGeneral import vtkImageEuclideanDistance

    image = vtkImageData()
    image.SetDimensions(mask.shape[1], mask.shape[0], 1)
    image.GetPointData().SetScalars(held(mask.astype(np.uint8).ravel()))
    settings = {"Dimensionality": 2, "ConsiderAnisotropy": False, "MaximumDistance": float(mask.size) ** 2}
    squares = array_of(run(vtkImageEuclideanDistance(), image, **settings).GetPointData().GetScalars())
    return np.asarray(np.sqrt(squares).reshape(mask.shape))


def _rim_point(
    stage: Stage, camera: Camera, part: str, shown: list[NDArray[np.bool_]]
) -> tuple[float, float] | None:
    """Return a point on a clear part's lines: on the front waterline, or on the upper rim of its panes.

    None where nothing of the part can be seen there: ``shown`` are its pixels.
    """
    own = [item.segments for item in stage.lines if item.part == part and len(item.segments)]
    if not own:
        return None
    segments = (own[0] if part == "water" else np.concatenate(own)).astype(np.float64)
    share = np.linspace(0.06, 0.94, 23)[:, None]
    samples = (segments[:, None, 0] + (segments[:, None, 1] - segments[:, None, 0]) * share).reshape(-1, 3)
    flat = camera.project(samples)
    seen = _beside(flat, shown, reach=max(round(camera.size[0] / 400), 2))
    samples, flat = samples[seen], flat[seen]
    if not len(flat):
        return None
    depth = camera.depth(samples)
    near = (depth - depth.min()) / max(float(np.ptp(depth)), 1e-9)
    if part == "water":
        # on the side nearest the viewer, towards the right
        best = int(np.argmax(flat[:, 0] / camera.size[0] - near))
    else:
        low = (samples[:, 2].max() - samples[:, 2]) / max(float(np.ptp(samples[:, 2])), 1e-9)
        best = int(np.argmin(flat[:, 0] / camera.size[0] + 0.4 * near + 2.0 * low))
    return float(flat[best, 0]), float(flat[best, 1])


def _beside(flat: NDArray[np.float64], shown: list[NDArray[np.bool_]], *, reach: int) -> NDArray[np.bool_]:
    """Tell the points of whose pixels here and ``reach`` away three or more are shown, (n,)."""
    found = np.zeros(len(flat), dtype=int)
    for mask in shown:
        high, wide = mask.shape
        for dx, dy in ((0, 0), (reach, 0), (-reach, 0), (0, reach), (0, -reach)):
            x, y = np.floor(flat[:, 0]).astype(int) + dx, np.floor(flat[:, 1]).astype(int) + dy
            on_page = (x >= 0) & (x < wide) & (y >= 0) & (y < high)
            found += on_page & mask[np.clip(y, 0, high - 1), np.clip(x, 0, wide - 1)]
    return found >= 3


def stem_of(name: str) -> str:
    """Return a name without the number at its end."""
    return re.sub(r"_?[0-9]+$", "", name)


def families(points: Sequence[LabelPoint]) -> list[list[LabelPoint]]:
    """Put together the parts whose names differ in a number at their end only: boulder_1, boulder_2."""
    found: dict[str, list[LabelPoint]] = {}
    for point in points:
        stem = stem_of(point.part)
        found.setdefault(stem if stem != point.part else f"{point.part} alone", []).append(point)
    return list(found.values())
