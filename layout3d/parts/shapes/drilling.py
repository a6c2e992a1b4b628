"""A tank's drilled holes and the bulkheads in them. How near to an edge one may be is for the rules."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from layout3d.errors import LayoutError, SceneMistake
from layout3d.parts.base import Body, Port, Site
from layout3d.parts.tank_data import DrilledHole, Wall
from layout3d.solid.primitives import cylinder
from layout3d.solid.shape import Solid

if TYPE_CHECKING:
    from layout3d.parts.drilled_tank import TankPart

__all__ = ["bulkhead_in", "drill", "flat_centre", "hole_in"]

_EDGES = ("left", "right", "front", "back", "start", "end", "bottom", "top")
_BEYOND = 0.01  # how far a drill reaches past the glass, [m]


def hole_in(tank: TankPart, site: Site, name: str, wall: Wall, centre: tuple[float, float]) -> DrilledHole:
    """Return a hole of the scene, with its centre (u, v) in its wall's axes, [m].

    Raises
    ------
    SceneMistake : not within the wall's inside face, or too small for the bulkhead's thread.
    """
    hole = tank.holes[name]
    entry = site.catalog.bulkhead(hole.bulkhead) if hole.bulkhead else None
    diameter = hole.diameter if hole.diameter is not None else (entry.hole_diameter if entry else 0.0)
    if entry and diameter < entry.thread_diameter:
        raise tank.mistake(
            f"holes.{name}.diameter",
            f"{name}: a hole of {site.length(diameter)} for a thread of {site.length(entry.thread_diameter)}",
            expected="a hole that the bulkhead's thread goes through",
            remedy=f"leave `diameter:` out to take the {site.length(entry.hole_diameter)} that "
            f"{entry.name} asks for",
        )
    room = min(edge.distance(centre) for edge in (*wall.seams, *wall.outline)) - diameter / 2
    if room < 0:
        raise tank.mistake(
            f"holes.{name}",
            f"{name}, {site.length(diameter)} wide, reaches {site.length(-room)} past the edge of the inside "
            f"of {wall.name}",
            expected="a hole that lies within its panel",
            remedy=f"move it in by {site.length(-room, enough=True)} or more, or make it smaller",
        )
    widest = max(diameter, entry.flange_diameter, entry.nut_diameter) if entry else diameter
    if widest / 2 >= wall.radius:
        raise tank.mistake(
            f"holes.{name}",
            f"{name}, {site.length(widest)} wide with what goes in it, is wider than {wall.name} is round",
            expected="a hole and a fitting smaller than the wall they go through",
        )
    return DrilledHole(
        name=name,
        panel=wall.name,
        centre=centre,
        at=wall.at(*centre),
        diameter=diameter,
        bulkhead=entry.name if entry else "",
        flange_diameter=entry.flange_diameter if entry else 0.0,
        nut_diameter=entry.nut_diameter if entry else 0.0,
        flange=hole.flange,
        plugged=hole.plugged,
        drilled_from=hole.drilled_from,
        gap=wall.stand_off(entry.flange_diameter / 2, outside=hole.flange == "outside") if entry else 0.0,
    )


def drill(wall: Wall, hole: DrilledHole) -> Solid:
    """Return what the drill takes out of the wall."""
    inward = _BEYOND + wall.stand_off(hole.diameter / 2)
    bit = cylinder(hole.diameter / 2, wall.thickness + _BEYOND + inward)
    return bit.solid(wall.frame(*hole.centre, -wall.thickness - _BEYOND))


def bulkhead_in(tank: TankPart, site: Site, hole: DrilledHole, wall: Wall) -> tuple[Body, list[Port]]:
    """Return the bulkhead in a hole, and its ports 'inside' and 'outside'.

    On a bent wall what is inside, flange or nut, touches the hollow face with its rim and stands off it in
    the middle; what is outside touches the crest of the wall.

    Raises
    ------
    SceneMistake : the glass is too thick for its thread.
    """
    from layout3d.fittings.bulkhead import bulkhead_shape

    entry = site.catalog.bulkhead(hole.bulkhead)
    wet_side = hole.flange == "inside"
    off = wall.stand_off((entry.flange_diameter if wet_side else entry.nut_diameter) / 2)
    try:
        fitting = bulkhead_shape(entry, wall.thickness + off)
    except LayoutError as error:
        raise tank.mistake(
            f"holes.{hole.name}", error.found, expected=error.expected, remedy=error.remedy
        ) from error
    placement = wall.frame(*hole.centre, off if wet_side else -wall.thickness)
    inward = placement.rotation[:, 2]
    if not wet_side:
        placement = placement.from_frame(placement.offset, placement.rotation[:, 0], -inward)
    body = tank.body(
        fitting.shape,
        site,
        material="pvc",
        piece=hole.name,
        kind="bulkhead",
        group="plumbing",
        placement=placement,
    )
    ports = []
    for port in fitting.ports:
        inside = float(np.dot(placement.direction(port.direction), inward)) > 0
        name = f"{tank.name}.{hole.name}.{'inside' if inside else 'outside'}"
        ports.append(Port.placed(port, placement, name=name, size=entry.pipe_size, body=body.name))
    return body, ports


def flat_centre(tank: TankPart, site: Site, name: str, panel: Wall) -> tuple[float, float]:
    """Return the centre (u, v) of a hole that is given from the edges of a flat pane, [m].

    Raises
    ------
    SceneMistake : not given from one edge each way, or off the pane.
    """
    return (_from_edge(tank, site, name, panel, 0), _from_edge(tank, site, name, panel, 1))


def _from_edge(tank: TankPart, site: Site, name: str, panel: Wall, axis: int) -> float:
    """Return u (axis 0) or v (axis 1) of the hole's centre from the one edge that the file gives."""
    hole = tank.holes[name]
    low, high = panel.edges[2 * axis : 2 * axis + 2]
    given = [edge for edge in (low, high) if getattr(hole, edge, None) is not None]
    wrong = [edge for edge in _EDGES if getattr(hole, edge, None) is not None and edge not in panel.edges]
    if len(given) != 1 or wrong:
        raise _ill_given(tank, name, panel, [*given, *wrong], axis)
    distance = float(getattr(hole, given[0]))
    extent = panel.length if axis == 0 else panel.height
    position = distance if given[0] == low else extent - distance
    if not 0 < position < extent:
        raise tank.mistake(
            f"holes.{name}.{given[0]}",
            f"the centre of {name} lies {site.length(distance)} from the {given[0]} edge of {panel.name}, "
            f"{'on its very edge' if position in (0, extent) else 'off the panel'}",
            expected=f"more than 0 and less than {site.length(extent)}: half the hole's width and the glass "
            "around it come off either end",
        )
    return position


def _ill_given(tank: TankPart, name: str, panel: Wall, given: list[str], axis: int) -> SceneMistake:
    across, up = panel.edges[:2], panel.edges[2:]
    kind = "from no edge" if not given else f"from {' and '.join(given)}"
    which = "sideways" if axis == 0 else ("up and down" if panel.name != "bottom" else "from front to back")
    return tank.mistake(
        f"holes.{name}",
        f"{name} on panel {panel.name} is given {kind} {which}",
        expected=f"one of {across[0]} and {across[1]}, and one of {up[0]} and {up[1]}",
    )
