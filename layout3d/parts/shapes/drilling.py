"""The tank's drilled holes and the bulkheads in them. How near to an edge one may be is for the rules."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from layout3d.errors import LayoutError, SceneMistake
from layout3d.parts.base import Body, Port, Site, vector
from layout3d.parts.shapes.plan import edge_normals
from layout3d.parts.tank_data import DrilledHole, Panel
from layout3d.solid.primitives import cylinder
from layout3d.solid.shape import Placement, Solid

if TYPE_CHECKING:
    from layout3d.parts.tank import HoleFields, Tank

__all__ = ["bulkhead_in", "drill", "hole_in"]

_EDGES = ("left", "right", "front", "back", "start", "end", "bottom", "top")
_BEYOND = 0.01  # how far a drill reaches past the glass, [m]


def hole_in(tank: Tank, site: Site, name: str, panel: Panel) -> DrilledHole:
    """Return a hole of the scene in its panel's axes.

    Raises
    ------
    SceneMistake : not given from one edge each way, not within the panel's inside face, or too small for
        the bulkhead's thread.
    """
    hole = tank.holes[name]
    u, v = (_from_edge(tank, site, name, hole, panel, axis) for axis in (0, 1))
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
    outline = _inside_face(tank, panel)
    room = float(np.min(np.sum(edge_normals(outline) * ((u, v) - outline), axis=1))) - diameter / 2
    if room < 0:
        raise tank.mistake(
            f"holes.{name}",
            f"{name}, {site.length(diameter)} wide, reaches {site.length(-room)} past the edge of the inside "
            f"of {panel.name}",
            expected="a hole that lies within its panel",
            remedy=f"move it in by {site.length(-room, enough=True)} or more, or make it smaller",
        )
    return DrilledHole(
        name=name,
        panel=panel.name,
        centre=(u, v),
        at=panel.at(u, v),
        diameter=diameter,
        bulkhead=entry.name if entry else "",
        flange_diameter=entry.flange_diameter if entry else 0.0,
        nut_diameter=entry.nut_diameter if entry else 0.0,
        flange=hole.flange,
        plugged=hole.plugged,
    )


def drill(panel: Panel, hole: DrilledHole) -> Solid:
    """Return what the drill takes out of the panel."""
    bit = cylinder(hole.diameter / 2, panel.thickness + 2 * _BEYOND)
    start = panel.at(*hole.centre, -panel.thickness - _BEYOND)
    return bit.solid(Placement.from_frame(start, panel.along, panel.inward))


def bulkhead_in(tank: Tank, site: Site, hole: DrilledHole, panel: Panel) -> tuple[Body, list[Port]]:
    """Return the bulkhead in a hole, and its ports 'inside' and 'outside'.

    Raises
    ------
    SceneMistake : the glass is too thick for its thread.
    """
    from layout3d.fittings.bulkhead import bulkhead_shape

    entry = site.catalog.bulkhead(hole.bulkhead)
    try:
        fitting = bulkhead_shape(entry, panel.thickness)
    except LayoutError as error:
        raise tank.mistake(
            f"holes.{hole.name}", error.found, expected=error.expected, remedy=error.remedy
        ) from error
    wet_side = hole.flange == "inside"
    origin = hole.at if wet_side else panel.at(*hole.centre, -panel.thickness)
    axis = vector(np.array(panel.inward) * (1 if wet_side else -1))
    placement = Placement.from_frame(origin, panel.along, axis)
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
        direction = placement.direction(np.array([port.direction]))[0]
        side = "inside" if float(np.dot(direction, panel.inward)) > 0 else "outside"
        ports.append(
            Port(
                name=f"{tank.name}.{hole.name}.{side}",
                at=vector(placement.apply(np.array([port.at]))[0]),
                direction=vector(direction),
                end="socket",
                size=entry.pipe_size,
                bore=port.bore,
                body=body.name,
                depth=port.socket_bottom,
            )
        )
    return body, ports


def _inside_face(tank: Tank, panel: Panel) -> np.ndarray:
    """Return the outline of a panel's inside face in its own axes, (k, 2), [m]."""
    if panel.name == "bottom":
        return tank.plan()
    corners = [(0.0, 0.0), (panel.length, 0.0), (panel.length, panel.height), (0.0, panel.height)]
    return np.array(corners)


def _from_edge(tank: Tank, site: Site, name: str, hole: HoleFields, panel: Panel, axis: int) -> float:
    """Return u (axis 0) or v (axis 1) of the hole's centre from the one edge that the file gives."""
    low, high = panel.edges[2 * axis : 2 * axis + 2]
    given = [edge for edge in (low, high) if getattr(hole, edge) is not None]
    wrong = [edge for edge in _EDGES if getattr(hole, edge) is not None and edge not in panel.edges]
    if len(given) != 1 or wrong:
        raise _ill_given(tank, name, panel, [*given, *wrong], axis)
    distance = float(getattr(hole, given[0]))
    extent = panel.length if axis == 0 else panel.height
    position = distance if given[0] == low else extent - distance
    if not 0 < position < extent:
        raise tank.mistake(
            f"holes.{name}.{given[0]}",
            f"{name} lies {site.length(distance)} from the {given[0]} edge of {panel.name}, off the panel",
            expected=f"between 0 and {site.length(extent)}",
        )
    return position


def _ill_given(tank: Tank, name: str, panel: Panel, given: list[str], axis: int) -> SceneMistake:
    across, up = panel.edges[:2], panel.edges[2:]
    kind = "from no edge" if not given else f"from {' and '.join(given)}"
    which = "sideways" if axis == 0 else ("up and down" if panel.name != "bottom" else "from front to back")
    return tank.mistake(
        f"holes.{name}",
        f"{name} on panel {panel.name} is given {kind} {which}",
        expected=f"one of {across[0]} and {across[1]}, and one of {up[0]} and {up[1]}",
    )
