"""Places that a view draws too small to read, and how they are drawn again, larger, in a circle beside it."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from layout3d.fittings.registry import fittings
from layout3d.model.model import Model
from layout3d.sheets.drawing import HEIGHT, Circle, Element, Path, Point, Text, scale_words
from layout3d.sheets.figure import Detail, Face, Figure
from layout3d.sheets.hatch import hatched
from layout3d.sheets.projection import View
from layout3d.solid.placement import Vector, vector

__all__ = ["chained", "crowded", "detail_places", "enlarged"]

Floats = NDArray[np.float64]
AROUND = 0.06
"""A detail shows so much around its middle, [m]."""
ROOM, FEW = 60.0, 4
"""A place is drawn again where a piece has less room in its circle on paper, [mm²], and so many are."""
MOST = 2
CHAIN_SNAP = 2
"""Decimals of a millimetre that line ends are rounded to before they are joined."""


def detail_places(model: Model, view: View) -> Iterator[Detail]:
    """Yield what may be drawn again: weirs with teeth where a view looks at them; pipework in plan and back.

    A bulkhead is one, and a fitting, each with all pieces of pipework that are about as near as it is large.
    """
    for box in model.overflow_boxes:
        for weir in box.data.weirs:
            if weir.slots > 1 and weir.side == view.name:
                shows = f"{box.part.name}, {weir.slots} slots"
                yield Detail(at=weir.middle, radius=AROUND, shows=shows, pieces=weir.slots)
    if view.name not in ("plan", "back"):
        return
    plumbing = [body for body in model.bodies if body.group == "plumbing"]
    boxes = np.array([body.solid.bounds for body in plumbing]).reshape(-1, 2, 3)

    def around(at: Vector, radius: float, shows: str) -> Detail:
        near = (boxes[:, 0] < np.array(at) + radius).all(axis=1) & (boxes[:, 1] > np.array(at) - radius).all(
            axis=1
        )
        return Detail(at=at, radius=radius, shows=shows, pieces=int(near.sum()))

    for hole in model.tank.holes.values():
        if hole.bulkhead:
            yield around(hole.at, max(AROUND, hole.diameter), hole.name)
    for built in model.runs:
        for piece in built.data.elements:
            if piece.kind in fittings():
                middle = (np.array(piece.path[0]) + np.array(piece.path[-1])) / 2
                yield around(vector(middle), AROUND, built.part.name)


def crowded(figure: Figure, per_metre: float) -> list[Detail]:
    """Return the details of a figure that are too small on a page, the fullest first, with letters."""
    kept: list[tuple[Detail, Floats]] = []
    for detail in sorted(figure.details, key=lambda detail: -detail.pieces):
        room = math.pi * (detail.radius * per_metre) ** 2 / max(detail.pieces, 1)
        if not detail.always and (room > ROOM or detail.pieces < FEW):
            continue
        middle = figure.view.flat(detail.at)[0, :2]
        apart = all(math.dist(middle, at) > detail.radius + other.radius for other, at in kept)
        if apart and len(kept) < MOST:
            kept.append((detail, middle))
    return [replace(detail, letter=letter) for letter, (detail, _) in zip("XYZ", kept, strict=False)]


def enlarged(figure: Figure, detail: Detail, scale: float, centre: Point) -> list[Element]:
    """Return a detail at 1:``scale``, in its circle round ``centre`` on the page, with what it is."""
    import shapely

    made: list[Element] = []
    factor, middle = 1000.0 / scale, figure.view.flat(detail.at)[0, :2]
    shift = np.array(centre) - middle * factor
    disc: Any = shapely.Point(*middle).buffer(detail.radius, quad_segs=48)
    for kind, segments in figure.lines:
        near = segments[shapely.intersects(shapely.linestrings(segments), disc)]
        cut = shapely.get_parts(shapely.intersection(shapely.linestrings(near), disc))
        ends = [np.asarray(c.coords)[[0, -1], :2] for c in cut if c.geom_type == "LineString"]
        if ends:
            made += chained(np.array(ends) * factor + shift, kind)
    for face in figure.faces:
        piece = face.shape.intersection(disc)
        if not piece.is_empty:
            made += hatched(Face(body=face.body, shape=piece), factor, shift)
    radius = detail.radius * factor
    words = f"{detail.letter} ({scale_words(scale)})  {detail.shows}"
    made.append(Circle(centre, 2 * radius, "narrow", "detail"))
    made.append(Text((centre[0], centre[1] - radius - 5.0), words, HEIGHT, "middle", layer="detail"))
    return made


def chained(segments: np.ndarray, kind: str) -> list[Path]:
    """Return segments on the page, (n, 2, 2) [mm], joined to polylines; what stands twice is drawn once."""
    import shapely

    rounded = np.round(segments, CHAIN_SNAP)
    rounded = rounded[(rounded[:, 0] != rounded[:, 1]).any(axis=1)]
    if not len(rounded):
        return []
    swap = (rounded[:, 0, 0] > rounded[:, 1, 0]) | (
        (rounded[:, 0, 0] == rounded[:, 1, 0]) & (rounded[:, 0, 1] > rounded[:, 1, 1])
    )
    rounded[swap] = rounded[swap][:, ::-1]
    once = np.unique(rounded.reshape(-1, 4), axis=0).reshape(-1, 2, 2)
    merged = shapely.get_parts(shapely.line_merge(shapely.multilinestrings(shapely.linestrings(once))))
    paths = []
    for part in shapely.simplify(merged, 0.02):
        points = tuple((float(x), float(y)) for x, y in part.coords)
        paths.append(Path(points, kind, layer=kind))
    return paths
