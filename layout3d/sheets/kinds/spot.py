"""What the scene's camera spots look at, as line drawings: parallel, along the way each one looks."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from layout3d.model.model import Model
from layout3d.parts.base import Body
from layout3d.sheets.figure import Cut, Figure, drawn_figure, sheet_kind, with_more
from layout3d.sheets.items import numbers_of, part_labels
from layout3d.sheets.kinds.plan import NUMBERS
from layout3d.sheets.measures import shown
from layout3d.sheets.projection import Flat, View
from layout3d.shop.shop import shop

WIDE = 4 / 3
"""How wide the frame is for its height, as a picture from the spot."""
UPRIGHT = 0.9999
"""Cosine to the upright from which on it looks straight up or down: the tank's back is then above."""


@sheet_kind("spot", 80, "Seen from the spot", by_name=True)
def spots(model: Model, _cut: Cut) -> tuple[Figure, ...]:
    """Return a figure for each spot that something is seen from."""
    bodies, numbers = shown(model, without=("light",)), numbers_of(shop(model))
    found = []
    for name, spot in model.cameras.items():
        out = np.subtract(spot.at, spot.target)
        distance = float(np.linalg.norm(out))
        up = (0.0, 1.0, 0.0) if abs(out[2]) > UPRIGHT * distance else (0.0, 0.0, 1.0)
        right = np.cross(up, out)
        view = View("aslant", *((float(x), float(y), float(z)) for x, y, z in (right, out)))
        high = distance * math.tan(spot.angle / 2.0)
        middle, eye = view.flat(spot.target)[0, :2], float(view.flat(spot.at)[0, 2])
        half = np.array((WIDE * high, high))
        figure = _framed(bodies, view, middle - half, middle + half, eye)
        if figure is not None:
            labels = part_labels(bodies, figure, numbers)
            note = (
                f"Seen along the way that the spot {name.replace('_', ' ')} looks, in parallel lines, within "
                "what a picture from there shows at its target. Lengths aslant to that way are shortened: "
                "nothing is to be measured off it. One sees through glass; what lies behind the spot is cut "
                f"away. {NUMBERS} "
                "Plants and lights are left out."
            )
            found.append(with_more(replace(figure, of=name), labels=tuple(labels), notes=(note,)))
    return tuple(found)


def _framed(
    bodies: list[Body], view: View, low: NDArray[np.float64], high: NDArray[np.float64], eye: float
) -> Figure | None:
    """Return what lies in a frame of the view and farther than the eye; None where nothing does."""
    boxes = {body.name: view.flat(body.solid.vertices) for body in bodies}
    reach = {name: (points.min(axis=0), points.max(axis=0)) for name, points in boxes.items()}
    there = [
        body
        for body in bodies
        for begin, end in [reach[body.name]]
        if (begin[:2] < high).all() and (end[:2] > low).all() and begin[2] < eye
    ]
    if not there:
        return None
    cut = any(reach[body.name][1][2] > eye for body in there)
    figure = drawn_figure(there, view, behind=eye if cut else None)
    lines = tuple((kind, _within(segments, low, high)) for kind, segments in figure.lines if kind != "hidden")
    if not sum(len(segments) for _, segments in lines):
        return None
    import shapely

    frame = shapely.box(*low, *high)
    faces = tuple(replace(face, shape=face.shape & frame) for face in figure.faces if face.shape & frame)
    seen = {
        name: at
        for name, at in figure.seen.items()
        if (np.array(at) > low).all() and (np.array(at) < high).all()
    }
    corners = np.array([low, (high[0], low[1]), high, (low[0], high[1])])
    edge = np.stack([corners, np.roll(corners, -1, axis=0)], axis=1)
    return replace(figure, lines=(*lines, ("narrow", edge)), faces=faces, seen=seen)


def _within(segments: Flat, low: NDArray[np.float64], high: NDArray[np.float64]) -> Flat:
    """Return what of segments lies within a rectangle."""
    start, way = segments[:, 0], segments[:, 1] - segments[:, 0]
    with np.errstate(divide="ignore", invalid="ignore"):
        ends = np.sort([(low - start) / way, (high - start) / way], axis=0)
    still = way == 0.0
    inside = (start >= low) & (start <= high)
    ends[0][still], ends[1][still] = np.where(inside[still], -np.inf, np.inf), np.inf
    begin, end = np.maximum(ends[0].max(axis=1), 0.0), np.minimum(ends[1].min(axis=1), 1.0)
    kept = end > begin
    shares = np.stack([begin, end], axis=1)[kept]
    return np.asarray(start[kept, None] + shares[:, :, None] * way[kept, None])
