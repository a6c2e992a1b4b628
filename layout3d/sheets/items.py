"""What sheets point to: pipes by their marks of the cut list, all else by its number in the parts list."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from typing import Any

import numpy as np

from layout3d.model.model import Model
from layout3d.parts.base import Body
from layout3d.sheets.figure import Figure, Label
from layout3d.sheets.projection import VIEWS, View
from layout3d.shop.cut_list import cut_list
from layout3d.shop.shop import Shop
from layout3d.solid.placement import vector

__all__ = ["cut_labels", "fitting_balloons", "numbers_of", "pane_balloons", "part_labels", "pipe_balloons"]

SHORT = 0.02
"""A pipe that seems shorter bears no balloon in a view, [m]."""
THIN = 0.05
"""A pane that seems narrower is pointed to within, a wider one at its edge, [m]."""
LABELLED = ("equipment", "rock", "wood", "background", "substrate", "sump", "stand")
NAMED = ("equipment", "rock", "wood", "background", "substrate", "plant")
"""Of these the part's name stands beside the number."""
PIECES = ("slab", "board", "bar", "mat", "media")
"""Kinds that are pointed to one by one, not once for their part."""
SIDES = ("front", "back", "left", "right")


def numbers_of(made: Shop) -> dict[str, str]:
    """Return the number in the parts list of each body, and of each pane by its name."""
    rows = [(row, f"{row.number}") for row in made.parts]
    found = {name: number for row, number in rows for name in row.bodies}
    panes = {pane.name for pane in made.panes}
    return found | {name: number for row, number in rows for name in row.parts if name in panes}


def part_labels(
    bodies: Iterable[Body],
    figure: Figure,
    numbers: Mapping[str, str],
    groups: Iterable[str] = LABELLED,
    *,
    whole: bool = False,
) -> Iterator[Label]:
    """Yield name and number of each part of some groups that one sees, at its largest body.

    Unless ``whole``, pieces of a background and of a stand, and media, are pointed to one by one.
    """
    chosen: dict[str, Body] = {}
    for body in bodies:
        alone = body.kind in PIECES and not whole
        if body.group not in groups or body.name not in figure.seen or not (alone or body.group in NAMED):
            continue
        key = body.name if alone else body.part
        before = chosen.setdefault(key, body)
        # of a background its slab, not the foam behind it
        if (body.name in numbers, body.solid.volume) > (before.name in numbers, before.solid.volume):
            chosen[key] = body
    for name, body in chosen.items():
        mark, text = numbers.get(body.name, ""), name if body.group in NAMED else ""
        if mark or (text and body.kind != "bedding"):
            yield Label(text=text, at=figure.seen[body.name], mark=mark)


def pane_balloons(model: Model, made: Shop, view: View, numbers: Mapping[str, str]) -> Iterator[Label]:
    """Yield the number of each pane in the view that it faces; from the front, where it faces down or in."""
    inner = {body.name for body in model.bodies if body.kind in ("baffle", "box_pane")}
    for pane in made.panes:
        if pane.name not in numbers or _view_of(pane.looks, inner=pane.name in inner) != view.name:
            continue
        corners = view.flat(pane.box)[:, :2]
        low, high = corners.min(axis=0), corners.max(axis=0)
        wide, tall = high - low
        shares = (0.5, 0.25, 0.75, 0.1, 0.9)
        if min(wide, tall) < THIN:
            way = np.array((wide, 0.0)) if wide > tall else np.array((0.0, tall))
            start = low + (np.array((wide, tall)) - way) / 2
            places = [start + share * way for share in shares]
        else:
            places = [
                low + np.array((wide * x, tall * y))
                for share in shares
                for x, y in ((share, 1.0), (0.0, share), (1.0, share), (share, 0.0))
            ]
        first, *others = [(float(x), float(y)) for x, y in places]
        yield Label(
            text="", at=first, mark=numbers[pane.name], others=tuple(others), edge=min(wide, tall) >= THIN
        )


def _view_of(looks: Iterable[float], *, inner: bool) -> str:
    """Return the sheet on which a pane that looks this way has its number."""
    way = np.array(tuple(looks))
    if way[2] > 0.7:
        return "plan"
    if inner or way[2] < -0.7:
        return "front"
    return max(SIDES, key=lambda side: round(float(way @ np.array(VIEWS[side].out)), 6))


def cut_labels(figure: Figure, made: Shop, numbers: Mapping[str, str], behind: float) -> Iterator[Label]:
    """Yield name and number of what a plane goes through, once for each row of the parts list."""
    import shapely

    told: dict[tuple[str, str], tuple[float, Label]] = {}
    for face in figure.faces:
        for part in shapely.get_parts(face.shape):
            if part.geom_type != "Polygon" or face.body.group == "plumbing":
                continue
            first, *others = _within(part)
            place = np.array((*first, behind)) @ figure.view.axes
            number = numbers.get(face.body.name) or _pane_at(made, numbers, face.body, place)
            text = face.body.part if face.body.group in NAMED and face.body.kind != "bedding" else ""
            if not (number or text):
                continue
            label = Label(text=text, at=first, mark=number, others=tuple(others))
            area, _ = told.get((text, number), (0.0, label))
            if part.area > area:
                told[text, number] = (float(part.area), label)
    for _, label in told.values():
        yield label


def _within(part: Any) -> list[tuple[float, float]]:
    """Return places in the middle of a cut face, the first where it is widest, [m]."""
    import shapely

    places = [shapely.get_coordinates(shapely.maximum_inscribed_circle(part, 1e-3))[0]]
    low_x, low_y, high_x, high_y = part.bounds
    for share in (0.5, 0.25, 0.75, 0.1, 0.9):
        x, y = low_x + share * (high_x - low_x), low_y + share * (high_y - low_y)
        for ends in (((x, low_y), (x, high_y)), ((low_x, y), (high_x, y))):
            across = shapely.get_parts(shapely.intersection(shapely.LineString(ends), part))
            if len(across):
                longest = across[int(np.argmax(shapely.length(across)))]
                places.append(shapely.get_coordinates(longest).mean(axis=0))
    return [(float(x), float(y)) for x, y in places]


def _pane_at(made: Shop, numbers: Mapping[str, str], body: Body, place: np.ndarray) -> str:
    """Return the number of the pane of a body that a place lies in."""
    for pane in made.panes:
        low, high = np.array(pane.box)
        if pane.part == body.part and (low - 1e-6 < place).all() and (place < high + 1e-6).all():
            return numbers.get(pane.name, "")
    return ""


def fitting_balloons(model: Model, made: Shop) -> Iterator[Label]:
    """Yield the number of each fitting, bulkhead and support: first one of each, then those alike."""
    rows = [row for row in made.parts if row.bodies and model.body(row.bodies[0]).group == "plumbing"]
    for turn in range(max((len(row.bodies) for row in rows), default=0)):
        for row in rows:
            if turn < len(row.bodies):
                middle = model.body(row.bodies[turn]).solid.bounds.mean(axis=0)
                yield Label(text="", at=vector(middle), mark=f"{row.number}")


def pipe_balloons(model: Model, bodies: Iterable[Body], view: View) -> Iterator[Label]:
    """Yield each pipe's mark of the cut list, at its middle; none of one that is looked at from its end."""
    marks = {piece.body: piece.mark for piece in cut_list(model).pieces}
    there = {body.name for body in bodies}
    for built in model.runs:
        for piece in built.data.elements:
            if piece.body in marks and piece.body in there:
                ends = view.flat([piece.path[0], piece.path[-1]])[:, :2]
                if math.dist(*ends) < SHORT:
                    continue
                middle = piece.path[len(piece.path) // 2] if len(piece.path) > 2 else None
                at = middle or vector((np.array(piece.path[0]) + np.array(piece.path[-1])) / 2)
                yield Label(text="", at=at, mark=marks[piece.body])
