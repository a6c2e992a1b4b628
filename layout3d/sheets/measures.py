"""What sheets measure and name: tank, waterline, holes, centre lines of pipes, sump and its fill line."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping

import numpy as np

from layout3d.errors import LayoutError
from layout3d.model.model import Model
from layout3d.parts.base import Body
from layout3d.parts.shapes.plan import turning
from layout3d.sheets.figure import Label, Wish
from layout3d.sheets.projection import View
from layout3d.solid.placement import Vector, vector
from layout3d.units import length_unit, on_drawing

__all__ = [
    "box_of_bodies",
    "fill_line_note",
    "hole_labels",
    "hole_wishes",
    "levels",
    "pipe_wishes",
    "shown",
    "sump_wishes",
    "tank_wishes",
]

SAME = 5e-4
"""Centre lines nearer to each other than this are one on a sheet, [m]."""
STRAIGHT = 1e-6
FACING = 0.7
"""A view looks at a hole whose pane is turned away by no more than 45 degrees, on a round wall; a cosine."""
NOT_SHOWN = ("plant",)
"""Groups that no sheet shows: they are planted last, and hide what is built."""


def shown(model: Model, *, without: Iterable[str] = ()) -> list[Body]:
    """Return the bodies that sheets show, less some groups, kinds or places."""
    out = {*NOT_SHOWN, *without}
    return [body for body in model.bodies if not {body.group, body.kind, body.where} & out]


def box_of_bodies(bodies: Iterable[Body]) -> tuple[Vector, Vector]:
    """Return the low and the high corner of the box around bodies, [m]."""
    bounds = np.array([body.solid.bounds for body in bodies])
    return vector(bounds[:, 0].min(axis=0)), vector(bounds[:, 1].max(axis=0))


def _between(of: str, start: Vector, axis: int, end: float, side: str, *, running: bool = False) -> Wish:
    """Return a wish from a place along one axis."""
    to = list(start)
    to[axis] = end
    return Wish(of=of, start=start, end=vector(to), side=side, running=running)


def _beside(view: View, low: Vector, high: Vector, side: str) -> Vector:
    """Return the corner of a box that is nearest to a side of the picture, and lowest."""
    across = int(np.argmax(np.abs(view.axes[0])))
    rightmost = high if view.axes[0][across] > 0 else low
    leftmost = low if rightmost is high else high
    corner = list(low)
    corner[across] = (rightmost if side == "right" else leftmost)[across]
    return vector(corner)


def tank_wishes(model: Model, view: View) -> Iterator[Wish]:
    """Yield the tank's outside size; in a plan its slant corners, in elevations its waterline and stand."""
    panes = [body for body in model.bodies if body.group == "glass" and body.part == model.tank_name]
    low, high = box_of_bodies(body for body in panes if body.kind == "panel")
    name = model.tank_name
    across, up = (int(np.argmax(np.abs(view.axes[row]))) for row in (0, 1))
    words = {0: "length", 1: "depth", 2: "height"}
    yield _between(f"{name} outside {words[across]}", low, across, high[across], "below")
    yield _between(f"{name} outside {words[up]}", _beside(view, low, high, "right"), up, high[up], "right")
    if up != 2:
        yield from _corner_wishes(model)
        return
    x, y, _ = _beside(view, low, high, "left")
    inside = (x, y, 0.0)
    yield _between("waterline over the tank's floor", inside, 2, model.waterline, "left")
    stands = [body for body in model.bodies if body.group == "stand"]
    if stands:
        floor, top = box_of_bodies(stands)
        yield _between("stand height", _beside(view, floor, top, "right"), 2, top[2], "right")


def _corner_wishes(model: Model) -> Iterator[Wish]:
    """Yield where the inside corners of a plan are that its length and depth don't tell."""
    tank = model.tank
    seen: set[tuple[int, float]] = set()
    for corner in turning(np.array(tank.plan)):
        for axis, side in ((0, "above"), (1, "left")):
            value = round(float(corner[axis]), 6)
            at_end = min(abs(value - tank.low[axis]), abs(value - tank.high[axis])) < SAME
            if at_end or (axis, value) in seen:
                continue
            seen.add((axis, value))
            start = [float(corner[0]), float(corner[1]), tank.rim]
            start[axis] = 0.0
            of = f"{model.tank_name} inside corner"
            yield _between(of, vector(start), axis, value, side, running=True)


def sump_wishes(model: Model, view: View) -> Iterator[Wish]:
    """Yield the sump's height, and the fill line over its floor, for elevations."""
    for sump in model.sumps:
        low, high = box_of_bodies(b for b in model.bodies if b.part == sump.part.name and b.kind == "panel")
        corner = _beside(view, low, high, "right")
        yield _between(f"{sump.part.name} outside height", corner, 2, high[2], "right")
        room = sump.data.return_chamber
        x, y, _ = _beside(view, room.low, room.high, "left")
        start = (x, y, sump.data.floor)
        yield _between(f"fill line over the floor of {sump.part.name}", start, 2, room.water_z, "left")


def levels(model: Model, view: View, *, at: float | None = None) -> Iterator[tuple[str, Vector, Vector]]:
    """Yield where water stands, with words, from the low to the high end of its vessel.

    Of vessels that lie behind each other only the last of a sump is told, or those that a cut ``at`` a place
    along the view, [m], goes through.
    """
    tank, sunk = model.tank, [box.data for box in model.overflow_boxes]
    across, along = (int(np.argmax(np.abs(view.axes[row]))) for row in (0, 2))

    def ends(low: Vector, high: Vector, z: float) -> tuple[Vector, Vector]:
        a, b = list(low), list(low)
        b[across] = high[across]
        return (a[0], a[1], z), (b[0], b[1], z)

    yield ("waterline", *ends(tank.low, tank.high, model.waterline))
    for box in sunk:
        yield ("water in the box", *ends(box.low, box.high, box.level))
    for sump in model.sumps:
        for room in sump.data.compartments:
            last = room is sump.data.return_chamber
            beside = abs(sump.data.compartments[0].low[across] - sump.data.return_chamber.low[across]) > SAME
            if not (beside or last if at is None else room.low[along] < at < room.high[along]):
                continue
            words = "fill line" if last else room.name
            yield (words, *ends(room.low, room.high, room.water_z))


def fill_line_note(model: Model) -> str:
    """Return what the band for the fill line is, or why there is none."""
    from layout3d.outage.outages import outages

    try:
        found = outages(model)
    except LayoutError as error:
        return f"Fill line: no band can be computed, {error.found}."
    if found is None:
        return ""
    mark = found.careful_mark
    unit = length_unit()
    step = 0.0254 / 16 if unit == "in" else 0.001
    if mark.running is None:
        return "Fill line: there is no level that every failure leaves room for; see `layout3d outage`."
    low, high = mark.running
    # each end rounded into the band, never out of it
    inside = (math.ceil(low / step - 1e-6) * step, math.floor(high / step + 1e-6) * step)
    ends = " to ".join(on_drawing(level) for level in inside)
    said = f"Fill line: with the pumps running, {ends} {unit} over the sump's floor"
    if not mark.holds:
        side = "below" if mark.miss < 0 else "above"
        return f"{said}. The scene's own level, which is drawn, lies {side} that: see `layout3d outage`."
    return f"{said}."


def hole_wishes(model: Model, view: View) -> Iterator[Wish]:
    """Yield where drilled holes are in a view, from the inside corner that all positions count from."""
    right, up, out = view.axes
    for hole in model.tank.holes.values():
        inward = np.array(model.tank.panels[hole.panel].frame(*hole.centre).rotation[:, 2])
        if abs(float(inward @ out)) < FACING and out[2] < FACING:
            continue  # an elevation shows the holes that it looks at, or through a pane; a plan tells all
        for way in (right, up):
            axis = int(np.argmax(np.abs(way)))
            if abs(float(inward @ out)) < FACING and abs(inward[axis]) > 0.9:
                continue  # across its own pane's thickness there is nothing to measure
            side = "above" if way is right else "left"
            start = [*hole.at]
            start[axis] = 0.0
            yield _between(hole.name, vector(start), axis, hole.at[axis], side, running=True)


def pipe_wishes(model: Model, view: View, bodies: Iterable[Body], *, axes: Iterable[int]) -> Iterator[Wish]:
    """Yield where the centre lines of straight pipes are along some axes, from the inside corner."""
    right = int(np.argmax(np.abs(view.axes[0])))
    there = {body.name for body in bodies}
    seen: list[tuple[int, float]] = []
    for built in model.runs:
        for piece in built.data.elements:
            if piece.kind != "pipe" or piece.body not in there:
                continue
            begin, end = np.array(piece.path[0]), np.array(piece.path[-1])
            for axis in axes:
                if abs(end[axis] - begin[axis]) > STRAIGHT or math.dist(begin, end) < 0.03:
                    continue
                value = float(begin[axis])
                if abs(value) < SAME or any(a == axis and abs(v - value) < SAME for a, v in seen):
                    continue
                seen.append((axis, value))
                place = (begin + end) / 2
                start = [float(p) for p in place]
                start[axis] = 0.0
                side = "above" if axis == right else "left"
                of = f"{piece.body} centre line"
                yield _between(of, vector(start), axis, value, side, running=True)


def hole_labels(model: Model, view: View, numbers: Mapping[str, str]) -> Iterator[Label]:
    """Yield each hole's name and diameter, with its bulkhead's number, in views that look at its pane."""
    out = view.axes[2]
    for hole in model.tank.holes.values():
        inward = model.tank.panels[hole.panel].frame(*hole.centre).rotation[:, 2]
        if abs(float(np.array(inward) @ out)) > FACING:
            text = f"{hole.name} ⌀ {on_drawing(hole.diameter)}"
            yield Label(text=text, at=hole.at, mark=numbers.get(f"{model.tank_name}.{hole.name}", ""))
