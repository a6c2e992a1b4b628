"""The panes that a glass shop cuts: sizes, which edges stay in sight, holes from named edges.

Sizes are those of the finished pane. A sump is modelled as one box: its panes are told as they are usually
lapped, which the glazier may do otherwise.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from layout3d.catalog.table import table
from layout3d.model.model import Model
from layout3d.parts.base import Body
from layout3d.parts.sump import Sump
from layout3d.parts.tank_data import Panel, RoundWall, Wall
from layout3d.shop.opening import UP
from layout3d.shop.rows import told_length
from layout3d.solid.placement import Vector, vector

__all__ = ["Pane", "PaneHole", "glue_gap", "panes"]

SEALED = "ground and arrissed"
SEEN = "ground and polished"
LOOKS: dict[str, Vector] = {
    "bottom": (0.0, 0.0, -1.0),
    "front": (0.0, -1.0, 0.0),
    "back": (0.0, 1.0, 0.0),
    "left": (-1.0, 0.0, 0.0),
    "right": (1.0, 0.0, 0.0),
}
SQUARE = math.radians(1.0)
"""Corners nearer to square than this take square-cut ends."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PaneHole:
    """A hole to drill: its centre from the pane's left and lower edge as seen from inside, [m]."""

    name: str
    from_left: float
    from_bottom: float
    diameter: float
    bulkhead: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Pane:
    """One pane. ``length`` by ``height`` [m] are those of its outline, seen from inside the vessel.

    ``edges`` tells the work on each edge by its name; empty where the model doesn't tell the edges apart.
    ``area`` is that of the glass before it is drilled, [m²]. ``box`` is the low and high corner of the box
    around it where it stands, [m], and ``looks`` the way that its outer face looks.
    """

    name: str
    part: str
    material: str
    length: float
    height: float
    thickness: float
    area: float
    box: tuple[Vector, Vector]
    looks: Vector
    tempered: bool = False
    edges: tuple[tuple[str, str], ...] = ()
    holes: tuple[PaneHole, ...] = ()
    note: str = ""

    @property
    def size(self) -> tuple[float, float, float]:
        """Return length, height and thickness, [m]."""
        return (self.length, self.height, self.thickness)


def glue_gap() -> float:
    """Return the thickness of silicone between a baffle and the wall beside it, [m]."""
    return table("consumable").rule("glue_gap")[0]


def panes(model: Model) -> tuple[Pane, ...]:
    """Return every pane: tank, braces, overflow boxes, sumps with their baffles."""
    return (*_tank(model), *_boxes(model), *_sumps(model))


def _tank(model: Model) -> Iterator[Pane]:
    for wall in model.tank.panels.values():
        body = model.body(wall.body)
        low, high, note = _outline(wall, model.scene.style)
        sides = {edge.name for edge in wall.outline} if wall.name != "bottom" else set(wall.edges)
        holes = [hole for hole in model.tank.holes.values() if hole.panel == wall.name]
        yield Pane(
            name=wall.body,
            part=body.part,
            material=body.material,
            length=float(high[0] - low[0]),
            height=float(high[1] - low[1]),
            thickness=wall.thickness,
            area=_area(wall, low, high),
            box=_box(*body.solid.bounds),
            looks=vector(-wall.frame(*((low + high) / 2)).rotation[:, 2]),
            tempered=wall.tempered,
            edges=tuple((name, SEEN if name == "top" else SEALED) for name in sorted(sides)),
            holes=tuple(
                PaneHole(
                    name=hole.name,
                    from_left=float(hole.centre[0] - low[0]),
                    from_bottom=float(hole.centre[1] - low[1]),
                    diameter=hole.diameter,
                    bulkhead=hole.bulkhead,
                )
                for hole in holes
            ),
            note=note,
        )
    for body in model.built[model.tank_name].bodies:
        if body.kind == "brace":
            yield from _brace(model, body)


def _outline(wall: Wall, style: str) -> tuple[np.ndarray, np.ndarray, str]:
    """Return the least and greatest u and v of a wall's glass, [m], and what is to be said of it."""
    if isinstance(wall, Panel):
        corners = np.array(wall.glass)
        square = len(corners) == 4 and len({round(float(x), 6) for x, _ in corners}) == 2
        notes = [] if square else ["not a rectangle: cut by the drawing; this is the box around it"]
        if wall.name != "bottom":
            notes += [
                f"meets {seam.name} at {math.degrees(seam.angle):.0f}°: bevelled there, or glued in a wedge"
                for seam in wall.seams[:2]
                if abs(seam.angle - math.pi / 2) > SQUARE
            ]
        return corners.min(axis=0), corners.max(axis=0), "; ".join(notes)
    assert isinstance(wall, RoundWall), "a wall is flat or round (panes._outline)"
    radius = told_length(wall.radius, style)
    note = f"bent, inside radius {radius}; its length is along the inside face"
    return np.zeros(2), np.array([wall.length, wall.height]), note


def _area(wall: Wall, low: np.ndarray, high: np.ndarray) -> float:
    if isinstance(wall, Panel):
        x, y = np.array(wall.glass).T
        return float(abs(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1))) / 2.0)
    return float((high[0] - low[0]) * (high[1] - low[1]))


def _box(low: np.ndarray, high: np.ndarray) -> tuple[Vector, Vector]:
    return vector(low), vector(high)


def _brace(model: Model, body: Body) -> Iterator[Pane]:
    """Return the strips of a brace; one all round is strips end to end, those at front and back whole."""
    low, high = body.solid.bounds
    size = high - low
    if not body.name.endswith("perimeter_brace"):
        yield _strip(body, body.name, float(size[1]), float(size[0]), float(size[2]), UP)
        return
    brace = getattr(model.built[model.tank_name].part, "perimeter_brace", None)
    assert brace is not None, "a perimeter brace is a field of its tank (panes._brace)"
    plan = np.array(model.tank.plan)
    if len(plan) != 4:
        for number, (start, end) in enumerate(zip(plan, np.roll(plan, -1, axis=0), strict=True), start=1):
            length = math.dist(start, end)
            note = "mitred at its ends; the length is that along the glass"
            ends = np.stack([start, end])
            box = (*ends.min(axis=0), low[2]), (*ends.max(axis=0), high[2])
            name = f"{body.name}_{number}"
            yield _strip(body, name, length, brace.width, brace.thickness, UP, note, box=box)
        return
    wide = np.array((brace.width, brace.width, 0.0))
    for side, (begin, end) in _sides(low, high, wide).items():
        along = float((end - begin)[0 if side in ("front", "back") else 1])
        name = f"{body.name}_{side}"
        yield _strip(body, name, along, brace.width, brace.thickness, UP, box=_box(begin, end))


def _sides(low: np.ndarray, high: np.ndarray, wide: np.ndarray) -> dict[str, tuple[np.ndarray, np.ndarray]]:
    """Return the boxes of strips round a box, so wide: those at front and back whole, the others between."""
    x, y = (wide * axis for axis in ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0)))
    return {
        "front": (low, np.array((high[0], (low + y)[1], high[2]))),
        "back": (np.array((low[0], (high - y)[1], low[2])), high),
        "left": (low + y, np.array(((low + x)[0], (high - y)[1], high[2]))),
        "right": (np.array(((high - x)[0], (low + y)[1], low[2])), high - y),
    }


def _strip(
    body: Body,
    name: str,
    length: float,
    height: float,
    thickness: float,
    looks: Vector,
    note: str = "",
    *,
    box: tuple[Sequence[float], Sequence[float]] | None = None,
) -> Pane:
    low, high = box or body.solid.bounds
    return Pane(
        name=name,
        part=body.part,
        material=body.material,
        length=length,
        height=height,
        thickness=thickness,
        area=length * height,
        box=_box(np.array(low), np.array(high)),
        looks=looks,
        note=note,
    )


def _boxes(model: Model) -> Iterator[Pane]:
    for built in model.overflow_boxes:
        glass = built.part.glass
        for body in built.bodies:
            size = np.sort(np.ptp(body.solid.bounds, axis=0))[::-1]
            slots = sum(weir.slots for weir in built.data.weirs if body.name.endswith(f".{weir.side}"))
            note = f"with {slots} slots of its weir" if slots > 1 else ""
            # inner walls look to the middle of the tank
            low, high = body.solid.bounds
            thin = int(np.argmin(high - low))
            looks = [0.0, 0.0, 0.0]
            looks[thin] = math.copysign(
                1.0, model.tank.low[thin] + model.tank.high[thin] - low[thin] - high[thin]
            )
            yield _strip(body, body.name, float(size[0]), float(size[1]), glass, vector(looks), note)


def _sumps(model: Model) -> Iterator[Pane]:
    for built in model.sumps:
        sump: Sump = built.part
        length, depth, height = sump.inside
        glass, box = sump.glass, model.body(f"{sump.name}.box")
        note = "bottom under all walls, ends between front and back: the usual lap, assumed here"
        sizes = {
            "bottom": (length + 2 * glass, depth + 2 * glass),
            "front": (length + 2 * glass, height),
            "back": (length + 2 * glass, height),
            "left": (depth, height),
            "right": (depth, height),
        }
        low, top = box.solid.bounds
        floor = np.array((0.0, 0.0, glass))
        places = {
            "bottom": (low, np.array((top[0], top[1], low[2] + glass))),
            **_sides(low + floor, top, np.array((glass, glass, 0.0))),
        }
        for side, (long, high) in sizes.items():
            name, place = f"{sump.name}.{side}", _box(*places[side])
            yield _strip(box, name, long, high, glass, LOOKS[side], note, box=place)
        for compartment in sump.compartments:
            if compartment.baffle:
                body = model.body(f"{sump.name}.baffle_{compartment.name}")
                gap = glue_gap()
                wide, high = depth - 2.0 * gap, compartment.baffle.height - compartment.baffle.gap
                note = f"two glue joints of {told_length(gap, model.scene.style)} less than the clear width"
                yield _strip(body, body.name, wide, high, compartment.baffle.thickness, LOOKS["right"], note)
