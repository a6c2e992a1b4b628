"""Templates of drilled panels: the face that the drill comes to, and its holes from the glass's own edges.

A bent pane is unrolled at that face. What a drill does to glass is not considered.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np

from layout3d.model.model import Model
from layout3d.parts.drilled_tank import TankPart
from layout3d.parts.tank_data import DrilledHole, Panel, RoundWall, Wall
from layout3d.sheets.drawing import Circle, Dimension, Element, Path, Point, Text, box_of, cross_hair
from layout3d.sheets.placer import Placer
from layout3d.sheets.templates.template import TEXT, Box, Ruler, Template, length_words
from layout3d.solid.boolean import section
from layout3d.solid.outline import loop_area
from layout3d.units import length_unit

__all__ = ["DRILLING", "panel_templates"]

ON_FACE = 1e-6
"""The face is looked at so far inside the glass, [m]."""
ROUND = 24
"""A pane with more corners than this is round: its holes are measured from its middle."""
FRONT_LINE = "the front line"
"""Where a wall that goes all the way round is unrolled from: its line nearest to the front."""
AROUND = 15.0
"""Paper that is kept around a hole, [mm]."""

DRILLING = (
    "Whether a hole may be where it is, `layout3d check` tells, not this sheet. Glass breaks where it is "
    "drilled under load, dry, too fast or near an edge; toughened glass can't be drilled at all. Compare "
    "every distance with the pane in your hands before you start, back the far side, keep the cut wet, "
    "protect eyes and hands. Ask the glass shop where you are not sure."
)


@dataclass(frozen=True)
class _Face:
    """A panel's face on paper: ``outline`` in [mm], and where a place (u, v) of the panel comes to lie."""

    wall: Wall
    side: str
    outline: tuple[Point, ...]
    at: Callable[[float, float], Point]

    @property
    def size(self) -> Point:
        return (max(x for x, _ in self.outline), max(y for _, y in self.outline))

    @property
    def round(self) -> bool:
        return len(self.outline) > ROUND


def panel_templates(model: Model) -> list[Template]:
    """Return a template of each panel and each side that holes are drilled from."""
    part = model.built[model.tank_name].part
    assert isinstance(part, TankPart), "a tank is a TankPart (panel_templates)"
    made = []
    for wall in model.tank.panels.values():
        drilled = [hole for hole in model.tank.holes.values() if hole.panel == wall.name]
        for side in ("outside", "inside"):
            holes = [hole for hole in drilled if hole.drilled_from == side]
            if holes:
                alone = len(holes) == len(drilled)
                made.append(_template(model, part, wall, holes, side, alone=alone))
    return made


def _template(
    model: Model, part: TankPart, wall: Wall, holes: list[DrilledHole], side: str, *, alone: bool
) -> Template:
    face = _face(model, wall, side)
    bent = math.isfinite(wall.radius)
    glass = f"{length_words(wall.thickness)} {model.body(wall.body).material}"
    seen = (
        f"{'Unrolled at its' if bent else 'Seen from'} {side}{' face' if bent else ''}: drill from this side"
    )
    paper: list[Element] = [Path(face.outline, "outline", closed=True)]
    if face.round:
        paper += cross_hair((face.size[0] / 2, face.size[1] / 2), AROUND, layer="marks")
    needed: list[Box] = []
    notes = [f"{wall.body}: {glass}, {_size_words(face)} on this face."]
    if wall.tempered:
        notes.append("The scene says that this pane is toughened: it can't be drilled.")
    for hole in holes:
        marks = list(_hole(face, hole))
        near = list(_dimensions(face, hole, Ruler(TEXT)))
        paper += [*marks, *near]
        needed += [_along(dimension) for dimension in near]
        notes.append(_hole_words(part, face, hole, near))
    placer = Placer(paper)
    for dimension in [element for element in paper if isinstance(element, Dimension)]:
        paper += placer.put(_edge_words(dimension)) if not face.round else []
    for hole in holes:
        x, y = face.at(*hole.centre)
        words = f"{hole.name}  ⌀ {length_words(hole.diameter)}"
        out = hole.diameter * 500.0 + 3.0
        inside = placer.put(
            Text((x + a * out, y + b * out), words, TEXT, "left" if a > 0 else "right")
            for far in range(1, 6)
            for a, b in ((0.75 * far, 0.75 * far), (-0.75 * far, 0.75 * far), (0.75 * far, -0.9 * far))
        )
        paper += inside
        reach = hole.diameter * 500.0 + AROUND
        around = (x - reach, y - reach, x + reach, y + reach)
        label_box = box_of(inside[0]) if inside else around
        both = zip(around[:2], label_box[:2], strict=True), zip(around[2:], label_box[2:], strict=True)
        (low_x, low_y), (high_x, high_y) = map(min, both[0]), map(max, both[1])
        needed.append((low_x, low_y, high_x, high_y))
    label = wall.body.replace(".", "-") + ("" if alone else f"-from-{side}")
    return Template(
        name=label,
        title=f"{wall.body}, {side} face",
        seen=seen,
        elements=tuple(paper),
        notes=(*notes, DRILLING),
        needed=tuple(needed),
        cut=_for_the_shop(face, part, holes, f"{wall.body}: {glass}", seen),
    )


def _face(model: Model, wall: Wall, side: str) -> _Face:
    """Return a panel's face, its low corner at 0, 0; seen from outside, left and right change places."""
    mirror = -1.0 if side == "outside" else 1.0
    if isinstance(wall, Panel):
        depth = -wall.thickness + ON_FACE if side == "outside" else -ON_FACE
        loops = section(model.body(wall.body).solid, origin=wall.at(0.0, 0.0, depth), normal=wall.inward)
        rings = [wall.local(loop[:-1])[:, :2] for loop in loops]
        ring, stretch = max(rings, key=lambda ring: abs(loop_area(ring))), 1.0
    else:
        stretch = (wall.radius + wall.thickness) / wall.radius if side == "outside" else 1.0
        ring = np.array([(0.0, 0.0), (wall.length, 0.0), (wall.length, wall.height), (0.0, wall.height)])
    flat = np.column_stack([mirror * stretch * ring[:, 0], ring[:, 1]]) * 1000.0
    low_x, low_y = (float(value) for value in flat.min(axis=0))

    def at(u: float, v: float) -> Point:
        return (mirror * stretch * u * 1000.0 - low_x, v * 1000.0 - low_y)

    return _Face(wall, side, tuple((float(x) - low_x, float(y) - low_y) for x, y in flat), at)


def _hole(face: _Face, hole: DrilledHole) -> Iterator[Element]:
    """Yield a hole's rim and its cross hair; on an unrolled face the rim is no circle."""
    centre, radius = face.at(*hole.centre), hole.diameter * 500.0
    if math.isfinite(face.wall.radius):
        bend = 1000.0 * (face.wall.radius + (face.wall.thickness if face.side == "outside" else 0.0))
        turns = np.linspace(0.0, 2 * math.pi, 96, endpoint=False)
        around = bend * np.arcsin(radius * np.cos(turns) / bend)
        rim = zip(around.tolist(), (radius * np.sin(turns)).tolist(), strict=True)
        ring = tuple((centre[0] + x, centre[1] + y) for x, y in rim)
        yield Path(ring, "outline", closed=True, layer="holes")
    else:
        yield Circle(centre, 2 * radius)
    yield from cross_hair(centre, radius + 8.0, layer="marks")


def _dimensions(
    face: _Face, hole: DrilledHole, ruler: Ruler, given: tuple[str, ...] = ()
) -> Iterator[Dimension]:
    """Yield dimensions of a hole's centre across and up, from the edges given or else the nearest."""
    import shapely

    x, y = face.at(*hole.centre)
    width, tall = face.size
    glass: Any = shapely.Polygon(face.outline)
    names = face.wall.edges[:2] if face.side == "inside" else face.wall.edges[:2][::-1]
    if isinstance(face.wall, RoundWall) and face.wall.closed:
        names = (FRONT_LINE, FRONT_LINE)
    for axis, (low_name, high_name) in enumerate((names, face.wall.edges[2:])):
        far = max(width, tall) + 1.0
        ray = [(-far, y), (far, y)] if axis == 0 else [(x, -far), (x, far)]
        chord = shapely.intersection(glass, shapely.LineString(ray)).bounds
        low, high = (chord[0], chord[2]) if axis == 0 else (chord[1], chord[3])
        own = (x, y)[axis]
        if face.round:
            edge, name = (width / 2, tall / 2)[axis], "the disc's middle"
        elif low_name in given or (high_name not in given and own - low <= high - own):
            edge, name = low, low_name
        else:
            edge, name = high, high_name
        name += "" if " " in name else " edge"
        if abs(edge - own) < 0.05:
            continue
        what = f"{hole.name} from {name}"
        if axis == 0:
            yield ruler.across(what, (edge, y), (x, y), y)
        else:
            yield ruler.up(what, (x, edge), (x, y), x)


def _edge_words(dimension: Dimension) -> Iterator[Text]:
    """Yield the name of the edge that a dimension begins at, along that edge and past the glass or within."""
    (x, y), name = dimension.first, dimension.of.partition(" from ")[2]
    turn = 90.0 - dimension.angle
    for away in (6.0, 40.0, -40.0):
        for lift in (1.5, -TEXT - 1.0):
            at = (x - lift, y + away) if turn else (x + away, y + lift)
            yield Text(at, name, 2.5, "left" if away > 0 else "right", turn, layer="notes")


def _along(dimension: Dimension) -> Box:
    """Return the box of a dimension's line itself, without its text."""
    (ax, ay), (bx, by) = dimension.first, dimension.second
    return (min(ax, bx) - 1.0, min(ay, by) - 1.0, max(ax, bx) + 1.0, max(ay, by) + 1.0)


def _size_words(face: _Face) -> str:
    return " × ".join(length_words(value / 1000.0) for value in face.size)


def _hole_words(part: TankPart, face: _Face, hole: DrilledHole, near: list[Dimension]) -> str:
    told = [
        f"{length_words(dimension.value)} {dimension.of.removeprefix(f'{hole.name} ')}" for dimension in near
    ]
    where = ", ".join(told) or "in the middle"
    asked = part.holes[hole.name]
    given = [
        f"{name} {length_words(getattr(asked, name))}"
        for name in ("left", "right", "front", "back", "start", "end", "bottom", "top", "out")
        if getattr(asked, name, None) is not None
    ]
    if (angle := getattr(asked, "angle", None)) is not None:
        given.append(f"angle {math.degrees(angle):.4g} degrees")
    return (
        f"{hole.name}: ⌀ {length_words(hole.diameter)}, its centre {where} of the glass as it lies "
        f"here. In the scene: {', '.join(given)}, on the inside."
    )


def _for_the_shop(
    face: _Face, part: TankPart, holes: list[DrilledHole], title: str, seen: str
) -> tuple[Element, ...]:
    """Return what goes to the shop: outline, holes, dimensions beside the pane, and notes under it."""
    width, tall = face.size
    height = max(5.0, max(width, tall) / 120.0)
    ruler = Ruler(height)
    made: list[Element] = [Path(face.outline, "outline", closed=True)]
    edges = {"left", "right", "front", "back", "start", "end", "bottom", "top"}
    placed: list[Dimension] = []
    for hole in holes:
        made += _hole(face, hole)
        asked = part.holes[hole.name]
        given = tuple(edge for edge in edges if getattr(asked, edge, None) is not None)
        placed += _dimensions(face, hole, ruler, given)
    placed.sort(key=lambda dimension: dimension.value)
    level = beside = -3.0 * height
    for one in (dimension for dimension in placed if dimension.angle == 0.0):
        made.append(ruler.across(one.of, one.first, one.second, level))
        level -= 2.5 * height
    made.append(ruler.across(f"{face.wall.body} width", (0.0, 0.0), (width, 0.0), level))
    for one in (dimension for dimension in placed if dimension.angle != 0.0):
        made.append(ruler.up(one.of, one.first, one.second, beside))
        beside -= 2.5 * height
    made.append(ruler.up(f"{face.wall.body} height", (0.0, 0.0), (0.0, tall), beside))
    units = "inches" if length_unit() == "in" else "millimetres"
    rows = [
        title,
        f"{seen}. Units of this file: millimetres. Dimensions in {units}, from the glass's own edges.",
        *(
            f"{hole.name}: diameter {length_words(hole.diameter)}"
            f"{f', for {hole.bulkhead}' if hole.bulkhead else ''}"
            for hole in holes
        ),
        "Cut by the layers outline and holes alone. Toughened glass is drilled before it is toughened.",
    ]
    for row in rows:
        level -= 2.2 * height
        made.append(Text((0.0, level), row, height, layer="notes"))
    placer = Placer(made)
    for hole in holes:
        x, y = face.at(*hole.centre)
        out = hole.diameter * 500.0 + 0.7 * height
        words = f"{hole.name} ⌀ {length_words(hole.diameter)}"
        made += placer.put(
            Text((x + a * out, y + b * out), words, height, "left" if a > 0 else "right", layer="notes")
            for far in range(1, 8)
            for a, b in (
                (0.7 * far, 0.7 * far),
                (-0.7 * far, 0.7 * far),
                (0.7 * far, -far),
                (-0.7 * far, -far),
            )
        )
    return tuple(made)
