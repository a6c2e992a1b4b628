"""Builds the tank's bodies: panes, silicone beads, braces, rim, and the bulkheads in the drilled holes."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import TYPE_CHECKING

import numpy as np

from layout3d.parts.base import Body, Built, Join, Port, Site, Space, vector
from layout3d.parts.shapes.plan import edge_normals, move_edges
from layout3d.parts.tank_data import DrilledHole, Panel, TankData
from layout3d.solid.boolean import difference, intersection, union
from layout3d.solid.primitives import box, cylinder, prism
from layout3d.solid.shape import Placement, Solid

if TYPE_CHECKING:
    from layout3d.parts.tank import HoleFields, Tank

__all__ = ["build_tank", "panel_walls"]

_RECTANGLE_EDGES = {
    "front": ("right", "left", "bottom", "top"),
    "right": ("back", "front", "bottom", "top"),
    "back": ("left", "right", "bottom", "top"),
    "left": ("front", "back", "bottom", "top"),
}


def build_tank(tank: Tank, site: Site) -> Built:
    """Build the tank; see ``parts.tank``."""
    height = tank.inside_size()[2]
    plan, outer = tank.plan(), tank.outer_plan()
    panels = {panel.name: panel for panel in panel_walls(tank)}
    panels["bottom"] = _bottom(tank)
    holes = {name: _hole(tank, site, name, hole, panels[hole.panel]) for name, hole in tank.holes.items()}
    interior = prism(plan, height).solid()
    bodies: list[Body] = []
    for name in tank.panel_names():
        panel = panels[name]
        pane = _pane(tank, panel)
        drills = [_drill(panel, hole) for hole in holes.values() if hole.panel == name]
        drilled = difference(pane, drills) if drills else pane
        assert drilled is not None, "a pane is larger than its holes (build_tank)"
        bodies.append(tank.body(drilled, site, material=tank.material, piece=name, kind="panel"))
    bodies += _trim(tank, site, interior)
    ports: list[Port] = []
    joins = [Join(tank.name, tank.name, "seal")]
    for hole in holes.values():
        if hole.bulkhead:
            body, found = _bulkhead(tank, site, hole, panels[hole.panel])
            bodies.append(body)
            ports += found
            joins += [Join(body.name, panels[hole.panel].body, "hole")]
    data = TankData(
        plan=tuple((float(x), float(y)) for x, y in plan),
        outer_plan=tuple((float(x), float(y)) for x, y in outer),
        height=height,
        silicone=tank.silicone,
        panels=panels,
        holes=holes,
        interior=interior,
    )
    return Built(
        part=tank,
        bodies=tuple(bodies),
        ports=tuple(ports),
        joins=tuple(joins),
        anchors={name: hole.at for name, hole in holes.items()},
        spaces=(Space(name=tank.name, low=data.low, high=data.high),),
        data=data,
    )


def panel_walls(tank: Tank) -> list[Panel]:
    """Return the walls' panels, counter-clockwise from the front."""
    plan, outer = tank.plan(), tank.outer_plan()
    height = tank.inside_size()[2]
    normals = edge_normals(plan)
    walls = []
    for index, name in enumerate(tank.wall_names()):
        # u runs as seen from inside, left to right, so that u, v, w are right-handed on every wall
        end, origin = plan[index], plan[(index + 1) % len(plan)]
        along = (end - origin) / np.linalg.norm(end - origin)
        length = float(np.linalg.norm(end - origin))
        thickness = tank.thickness(name)
        low, high = 0.0, length
        if tank.footprint is not None:
            edges = ("end", "start", "bottom", "top")
            low = float(np.dot(outer[(index + 1) % len(plan)] - origin, along))
            high = float(np.dot(outer[index] - origin, along))
        else:
            edges = _RECTANGLE_EDGES[name]
            if name in ("front", "back"):
                low -= tank.thickness(edges[0])
                high += tank.thickness(edges[1])
        walls.append(
            Panel(
                name=name,
                body=f"{tank.name}.{name}",
                origin=(float(origin[0]), float(origin[1]), 0.0),
                along=(float(along[0]), float(along[1]), 0.0),
                up=(0.0, 0.0, 1.0),
                inward=(float(normals[index][0]), float(normals[index][1]), 0.0),
                length=length,
                height=height,
                thickness=thickness,
                tempered=name in tank.tempered,
                edges=edges,
                glass=((low, 0.0), (high, 0.0), (high, height), (low, height)),
            )
        )
    return walls


def _bottom(tank: Tank) -> Panel:
    outer = tank.outer_plan()
    length, depth, _ = tank.inside_size()
    return Panel(
        name="bottom",
        body=f"{tank.name}.bottom",
        origin=(0.0, 0.0, 0.0),
        along=(1.0, 0.0, 0.0),
        up=(0.0, 1.0, 0.0),
        inward=(0.0, 0.0, 1.0),
        length=length,
        height=depth,
        thickness=tank.thickness("bottom"),
        tempered="bottom" in tank.tempered,
        edges=("left", "right", "front", "back"),
        glass=tuple((float(x), float(y)) for x, y in outer),
    )


def _pane(tank: Tank, panel: Panel) -> Solid:
    """Return the undrilled pane."""
    if panel.name == "bottom":
        shape = prism(np.array(panel.glass), panel.thickness)
        return shape.solid(Placement.at((0.0, 0.0, -panel.thickness)))
    if tank.footprint is None:
        (low, _), (high, top) = panel.glass[0], panel.glass[2]
        corners = [np.array(panel.at(u, 0.0, w)) for u in (low, high) for w in (0.0, -panel.thickness)]
        least, most = np.min(corners, axis=0), np.max(corners, axis=0)
        size = (float(most[0] - least[0]), float(most[1] - least[1]), top)
        return box(size).solid(Placement.at(vector(least)))
    plan, outer = tank.plan(), tank.outer_plan()
    index = tank.wall_names().index(panel.name)
    after = (index + 1) % len(plan)
    return prism(np.array([outer[index], outer[after], plan[after], plan[index]]), panel.height).solid()


def _drill(panel: Panel, hole: DrilledHole) -> Solid:
    beyond = 0.01
    bit = cylinder(hole.diameter / 2, panel.thickness + 2 * beyond)
    start = panel.at(*hole.centre, -panel.thickness - beyond)
    return bit.solid(Placement.from_frame(start, panel.along, panel.inward))


def _hole(tank: Tank, site: Site, name: str, hole: HoleFields, panel: Panel) -> DrilledHole:
    u = _from_edge(tank, name, hole, panel, 0)
    v = _from_edge(tank, name, hole, panel, 1)
    entry = site.catalog.bulkhead(hole.bulkhead) if hole.bulkhead else None
    diameter = hole.diameter if hole.diameter is not None else (entry.hole_diameter if entry else 0.0)
    if entry and diameter < entry.thread_diameter:
        raise tank.mistake(
            f"holes.{name}",
            f"{name}: a hole of {diameter * 1000:.1f} mm for a thread of {entry.thread_diameter * 1000:.1f} mm",
            expected="a hole that the bulkhead's thread goes through",
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


def _from_edge(tank: Tank, name: str, hole: HoleFields, panel: Panel, axis: int) -> float:
    """Return u (axis 0) or v (axis 1) of the hole's centre from the one edge that the file gives."""
    low, high = panel.edges[2 * axis : 2 * axis + 2]
    given = [edge for edge in (low, high) if getattr(hole, edge) is not None]
    wrong = [
        edge
        for edge in ("left", "right", "front", "back", "start", "end", "bottom", "top")
        if getattr(hole, edge) is not None and edge not in panel.edges
    ]
    if len(given) != 1 or wrong:
        found = f"{name} is given from {' and '.join([*given, *wrong]) or 'no edge'}"
        raise tank.mistake(
            f"holes.{name}",
            f"{found} on panel {panel.name}",
            expected=f"one of {low} and {high}, and one of {' and '.join(panel.edges[2 * (1 - axis) :][:2])}",
        )
    distance = float(getattr(hole, given[0]))
    extent = panel.length if axis == 0 else panel.height
    position = distance if given[0] == low else extent - distance
    if not 0 < position < extent:
        raise tank.mistake(
            f"holes.{name}",
            f"{name} lies {distance * 1000:.0f} mm from the {given[0]} edge of {panel.name}, off the panel",
            expected=f"between 0 and {extent * 1000:.0f} mm",
        )
    return position


def _bulkhead(tank: Tank, site: Site, hole: DrilledHole, panel: Panel) -> tuple[Body, list[Port]]:
    from layout3d.parts.shapes.bulkhead import bulkhead_shape

    entry = site.catalog.bulkhead(hole.bulkhead)
    fitting = bulkhead_shape(entry, panel.thickness)
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


def _trim(tank: Tank, site: Site, interior: Solid) -> list[Body]:
    """Return beads, braces and rim."""
    plan, height = tank.plan(), tank.inside_size()[2]
    bodies: list[Body] = []

    def add(solid: Solid | None, piece: str, kind: str, material: str) -> Solid | None:
        if solid is not None:
            bodies.append(tank.body(solid, site, material=material, piece=piece, kind=kind))
        return solid

    strip = None
    if tank.perimeter_brace:
        brace = tank.perimeter_brace
        inner = move_edges(plan, brace.width)
        ring = prism(plan, brace.thickness, holes=[inner])
        top = height - brace.below_top - brace.thickness
        strip = add(ring.solid(Placement.at((0, 0, top))), "perimeter_brace", "brace", tank.material)
    for index, cross in enumerate(tank.cross_braces):
        depth = float(np.ptp(plan[:, 1]))
        slab = box((cross.width, depth, cross.thickness)).solid(
            Placement.at((cross.at - cross.width / 2, 0.0, height - cross.thickness))
        )
        cut = intersection(slab, interior)
        if cut is not None and strip is not None:
            cut = difference(cut, [strip])
        add(cut, f"cross_brace_{index + 1}", "brace", tank.material)
    if tank.rim:
        rim, outer = tank.rim, tank.outer_plan()
        wide = move_edges(outer, -rim.thickness)
        band = prism(wide, rim.height, holes=[outer]).solid(Placement.at((0, 0, height - rim.height)))
        lip = prism(wide, rim.thickness, holes=[plan]).solid(Placement.at((0, 0, height)))
        add(union([band, lip]), "rim", "rim", rim.material)
    if tank.silicone > 0:
        beads = union(_beads(plan, height, tank.silicone))
        assert beads is not None, "a tank has corners (build_tank)"
        bead = intersection(beads, interior)
        cutters = [body.solid for body in bodies if body.kind == "brace"]
        if bead is not None and cutters:
            bead = difference(bead, cutters)
        add(bead, "silicone", "silicone", "silicone")
    return bodies


def _beads(plan: np.ndarray, height: float, leg: float) -> list[Solid]:
    """Return the triangular beads along the bottom edges and up the corners; ends may run past the inside."""
    beads = []
    inward = edge_normals(plan)
    triangle = np.array([[0.0, 0.0], [leg, 0.0], [0.0, leg]])
    turn: Callable[[np.ndarray], np.ndarray] = lambda v: v / np.linalg.norm(v)  # noqa: E731 - one line, used twice
    for index in range(len(plan)):
        a, b, before = plan[index], plan[(index + 1) % len(plan)], plan[index - 1]
        edge = b - a
        length = math.hypot(*edge)
        # the profile's x runs inward, its y up, its z (the prism's axis) along the edge
        frame = Placement.from_frame(
            (float(a[0]), float(a[1]), 0.0),
            (float(inward[index][0]), float(inward[index][1]), 0.0),
            (float(edge[0] / length), float(edge[1] / length), 0.0),
        )
        beads.append(prism(triangle, length).solid(frame))
        corner = np.array([a, a + leg * turn(edge), a + leg * turn(before - a)])
        beads.append(prism(corner, height).solid())
    return beads
