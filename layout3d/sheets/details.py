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
from layout3d.parts.base import Body
from layout3d.parts.tank_data import DrilledHole
from layout3d.sheets.drawing import HEIGHT, Circle, Element, Path, Point, Text, scale_words
from layout3d.sheets.figure import Detail, Face, Figure, Wish
from layout3d.sheets.hatch import hatched
from layout3d.sheets.projection import View
from layout3d.solid.placement import Vector, vector
from layout3d.units import on_drawing

__all__ = ["across", "chained", "crowded", "detail_places", "enlarged", "hole_across"]

Floats = NDArray[np.float64]
AROUND = 0.06
"""A detail shows so much around its middle, [m]."""
ROOM, FEW = 60.0, 4
"""A place is drawn again where a piece has less room in its circle on paper, [mm²], and so many are."""
MOST = 2
BELOW, BESIDE = 4.0, 5.0
"""From a detail's circle to its dimension line, [mm]."""
FLAT = 1e-6
OWN = 0.35
"""Of a pipe's outside: so near to a fitting's middle one sees the fitting itself where it is drawn again."""
CHAIN_SNAP = 2
"""Decimals of a millimetre that line ends are rounded to before they are joined."""


def detail_places(model: Model, figure: Figure) -> Iterator[Detail]:
    """Yield what may be drawn again: weirs with teeth where a view looks at them; pipework in plan and back.

    A bulkhead is one, with all pieces of pipework that are about as near as it is large; and a fitting, with
    those of them that one sees, if its middle is: pieces behind each other get no clearer larger.
    """
    view = figure.view
    for box in model.overflow_boxes:
        for weir in box.data.weirs:
            if weir.slots > 1 and weir.side == view.name:
                wide, high = (on_drawing(one) for one in (weir.slot_width, weir.slot_height))
                shows = f"{box.part.name}, {weir.slots} slots, {wide} wide, {high} high"
                yield Detail(at=weir.middle, radius=AROUND, shows=shows, pieces=weir.slots)
    if view.name not in ("plan", "back"):
        return
    plumbing = [body for body in model.bodies if body.group == "plumbing"]
    boxes = np.array([body.solid.bounds for body in plumbing]).reshape(-1, 2, 3)

    for hole in model.tank.holes.values():
        if hole.bulkhead:
            radius = max(AROUND, hole.diameter)
            apart = np.maximum(boxes[:, 0] - np.array(hole.at), np.array(hole.at) - boxes[:, 1])
            near = int((apart < radius).all(axis=1).sum())
            told = (hole_across(model, hole, view),)
            yield Detail(at=hole.at, radius=radius, shows=f"{hole.name}, drilled", pieces=near, wishes=told)
    spots = np.array([figure.seen[body.name] for body in plumbing if body.name in figure.seen]).reshape(-1, 2)
    for built in model.runs:
        for piece in built.data.elements:
            if piece.kind in fittings():
                middle = vector((np.array(piece.path[0]) + np.array(piece.path[-1])) / 2)
                flat = view.flat(middle)[0, :2]
                own = figure.seen.get(piece.body)
                if own is None or math.dist(own, flat) > OWN * piece.outside:
                    continue  # something else is what one would see
                off = np.linalg.norm(spots - flat, axis=1)
                yield Detail(
                    at=middle,
                    radius=AROUND,
                    shows=f"{built.part.name}, {piece.kind.replace('_', ' ')} {piece.size}",
                    pieces=int((off < AROUND).sum()),
                    wishes=tuple(_box_of(model.body(piece.body), view)),
                )


def hole_across(model: Model, hole: DrilledHole, view: View) -> Wish:
    """Return how wide a drilled hole is, along its pane as a view has it."""
    inward = np.array(model.tank.panels[hole.panel].frame(*hole.centre).rotation[:, 2])
    right, up, _ = view.axes
    level = abs(float(inward @ right)) < abs(float(inward @ up)) or abs(float(inward @ right)) < FLAT
    return across(f"{hole.name} drilled", hole.at, hole.diameter, right if level else up, level=level)


def _box_of(body: Body, view: View) -> Iterator[Wish]:
    """Yield how wide and how high a body is in a view along the tank's axes."""
    low, high = body.solid.bounds
    middle, size = vector((low + high) / 2), high - low
    for way, level, word in ((view.axes[0], True, "wide"), (view.axes[1], False, "high")):
        extent = float(np.abs(way) @ size)
        if extent < 2 * AROUND:
            yield across(f"{body.name} {word}", middle, extent, way, level=level)


def across(of: str, at: Vector, size: float, way: Floats, *, level: bool) -> Wish:
    """Return the wish for a width of ``size`` round a place, [m], across the picture or upright in it."""
    start, end = (vector(np.array(at) + sign * size / 2 * way) for sign in (-1.0, 1.0))
    return Wish(of=of, start=start, end=end, side="below" if level else "left")


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
    under = radius + 5.0 + (BELOW if any(wish.side == "below" for wish in detail.wishes) else 0.0)
    made.append(Text((centre[0], centre[1] - under), words, HEIGHT, "middle", layer="detail"))
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
