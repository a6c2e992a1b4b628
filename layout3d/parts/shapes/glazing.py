"""Builds the tank: its panes with their holes; bracing and bulkheads are in modules of their own."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from layout3d.parts.base import Body, Built, Join, Port, Site, Space, vector
from layout3d.parts.shapes.bracing import bracing
from layout3d.parts.shapes.drilling import bulkhead_in, drill, hole_in
from layout3d.parts.shapes.plan import edge_normals
from layout3d.parts.tank_data import Panel, TankData
from layout3d.solid.boolean import difference
from layout3d.solid.primitives import box, prism
from layout3d.solid.shape import Placement, Solid

if TYPE_CHECKING:
    from layout3d.parts.tank import Tank

__all__ = ["build_tank", "panel_walls"]

_RECTANGLE_EDGES = {
    "front": ("right", "left", "bottom", "top"),
    "right": ("back", "front", "bottom", "top"),
    "back": ("left", "right", "bottom", "top"),
    "left": ("front", "back", "bottom", "top"),
}


def build_tank(tank: Tank, site: Site) -> Built[Tank, TankData]:
    """Build the tank; see ``parts.tank``."""
    height = tank.inside_size()[2]
    plan, outer = tank.plan(), tank.outer_plan()
    panels = {panel.name: panel for panel in panel_walls(tank)}
    panels["bottom"] = _bottom(tank)
    holes = {name: hole_in(tank, site, name, panels[hole.panel]) for name, hole in tank.holes.items()}
    interior = prism(plan, height).solid()
    bodies: list[Body] = []
    for name in tank.panel_names():
        panel = panels[name]
        pane = _pane(tank, panel)
        drills = [drill(panel, hole) for hole in holes.values() if hole.panel == name]
        drilled = difference(pane, drills) if drills else pane
        assert drilled is not None, "a pane is larger than its holes (build_tank)"
        bodies.append(tank.body(drilled, site, material=tank.material, piece=name, kind="panel"))
    bodies += bracing(tank, site, interior)
    ports: list[Port] = []
    joins = [Join(tank.name, tank.name, "seal")]
    for hole in holes.values():
        if hole.bulkhead:
            body, found = bulkhead_in(tank, site, hole, panels[hole.panel])
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
