"""Templates of loose plates: a sump's baffles, an overflow box's panes; and a strip that sets baffles out."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from layout3d.model.model import Model
from layout3d.parts.base import Body, Built, Part
from layout3d.parts.vessel import SumpData
from layout3d.sheets.drawing import Element, Path, Text, rectangle
from layout3d.sheets.placer import Placer
from layout3d.sheets.templates.template import TEXT, Ruler, Template, length_words
from layout3d.shop.panes import glue_gap
from layout3d.solid.boolean import flat_outline

__all__ = ["baffle_strips", "plate_templates"]

PLATES = ("baffle", "box_pane")
"""Kinds of bodies that are cut from sheet and stand loose until they are glued."""


def plate_templates(model: Model) -> list[Template]:
    """Return a template of each baffle and each pane of an overflow box."""
    return [_plate(body) for body in model.bodies if body.kind in PLATES]


def _plate(body: Body) -> Template:
    normal, thickness = _flat_way(body)
    right = np.array((1.0, 0.0, 0.0)) if abs(normal[2]) > 0.5 else np.cross((0.0, 0.0, 1.0), normal)
    if right[int(np.argmax(np.abs(right)))] < 0:  # seen so that x, or else y, runs to the right
        right, normal = -right, -normal
    rings = [np.asarray(ring) * 1000.0 for ring in flat_outline(body.solid, right=right, out=normal)]
    low = np.min([ring.min(axis=0) for ring in rings], axis=0)
    gap = 1000.0 * glue_gap() if body.kind == "baffle" else 0.0  # a baffle is drawn from wall to wall
    wide = max(ring[:, 0].max() for ring in rings) - low[0]
    shapes = [
        tuple((float(np.clip(x, gap, wide - gap) - gap), float(y)) for x, y in ring - low) for ring in rings
    ]
    width, tall = (max(point[k] for shape in shapes for point in shape) for k in (0, 1))
    outlines = [Path(shape, "outline", closed=True) for shape in shapes]
    size = f"{length_words(width / 1000.0)} × {length_words(tall / 1000.0)}"
    title = f"{body.name}, {length_words(thickness)} {body.material}, {size}"
    height = max(5.0, max(width, tall) / 120.0)
    made: list[Element] = [*outlines]
    cut: list[Element] = [*outlines]
    for grown, lines in ((TEXT, made), (height, cut)):
        ruler = Ruler(grown)
        lines.append(ruler.across(f"{body.name} width", (0.0, 0.0), (width, 0.0), -3 * grown))
        lines.append(ruler.up(f"{body.name} height", (0.0, 0.0), (0.0, tall), -3 * grown))
    cut.append(Text((0.0, -6.0 * height), title, height))
    told = (
        f"Two glue joints of {length_words(gap / 1000.0)} are taken off the sump's clear width."
        if gap
        else "No glue joint is taken off: the scene's sizes are the plate's."
    )
    for line, words in enumerate(("Units of this file: millimetres. Cut by the layer outline alone.", told)):
        cut.append(Text((0.0, -(8.2 + 2.2 * line) * height), words, height))
    made += Placer(made).put(
        Text((width / 2, share * tall), body.name, TEXT, "middle") for share in (0.5, 0.4, 0.6, 0.3)
    )
    return Template(
        name=body.name.replace(".", "-"),
        title=title,
        seen="Either face: turned over it is its own mirror image",
        elements=tuple(made),
        notes=(f"{size}, {length_words(thickness)} {body.material}. {told}",),
        cut=tuple(cut),
    )


def _flat_way(body: Body) -> tuple[NDArray[np.float64], float]:
    """Return the way out of a plate's larger faces, and its thickness, [m]."""
    a, b, c = body.solid.vertices[body.solid.faces].transpose(1, 0, 2)
    doubled = np.cross(b - a, c - a)
    area = np.linalg.norm(doubled, axis=1)
    ways = np.round(doubled[area > 0] / area[area > 0, None], 6)
    kinds, index = np.unique(ways, axis=0, return_inverse=True)
    way = kinds[np.argmax(np.bincount(index.ravel(), weights=area[area > 0]))]
    way = way / np.linalg.norm(way)
    return way, float(np.ptp(body.solid.vertices @ way))


def baffle_strips(model: Model) -> list[Template]:
    """Return a strip for each sump with baffles: where each stands, counted from the inlet's end wall."""
    return [
        _baffles(model, sump)
        for sump in model.sumps
        if any(body.kind == "baffle" and body.part == sump.part.name for body in model.bodies)
    ]


def _baffles(model: Model, sump: Built[Part, SumpData]) -> Template:
    name = sump.part.name
    rooms = sump.data.compartments
    middles = [(np.array(room.low) + np.array(room.high)) / 2 for room in (rooms[0], rooms[-1])]
    axis = int(np.argmax(np.abs(middles[1] - middles[0])))
    sign = math.copysign(1.0, float((middles[1] - middles[0])[axis]))
    start = (sump.data.low if sign > 0 else sump.data.high)[axis]

    def along(place: float) -> float:
        return 1000.0 * sign * (place - start)

    length = abs(along(sump.data.high[axis]) - along(sump.data.low[axis]))
    baffles = [body for body in model.bodies if body.kind == "baffle" and body.part == name]
    tall = 22.0 + 8.0 * len(baffles)
    made: list[Element] = [rectangle((0.0, 0.0), (length, tall))]
    notes = []
    for number, body in enumerate(baffles):
        low, high = sorted(along(float(value)) for value in body.solid.bounds[:, axis])
        made.append(Path(((low, 0.0), (low, tall)), "outline"))
        made.append(Path(((high, 0.0), (high, tall)), "outline"))
        y = 6.0 + 8.0 * number
        made.append(Ruler(TEXT).across(f"{body.name} from inlet end", (0.0, 0.0), (low, 0.0), y))
        notes.append(
            f"{body.name}: from {length_words(low / 1000.0)} to "
            f"{length_words(high / 1000.0)}, its lower edge "
            f"{length_words(float(body.solid.bounds[0, 2]) - sump.data.floor)} over the floor."
        )
    placer = Placer(made)
    for room in rooms:
        low, high = sorted((along(room.low[axis]), along(room.high[axis])))
        made += placer.put(
            Text(((low + high) / 2, tall - 6.0 - 5.0 * k), f"{room.name}", TEXT, "middle") for k in range(4)
        )
    return Template(
        name=f"{name}-baffles",
        title=f"{name}, where its baffles stand",
        seen="Lay it along the inside, its left end at the wall of the inlet",
        elements=tuple(made),
        notes=tuple(notes),
    )
