"""Puts tanks together: panes with their holes and bulkheads, of any kind of tank; flat panes of a plan."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import TypeVar

import numpy as np

from layout3d.parts.base import Body, Built, Join, Port, Site, Space, Vector, vector
from layout3d.parts.drilled_tank import TankPart
from layout3d.parts.shapes.bracing import bracing
from layout3d.parts.shapes.drilling import bulkhead_in, drill, flat_centre, hole_in
from layout3d.parts.shapes.plan import Polygon, edge_normals
from layout3d.parts.tank_data import Edge, Panel, TankData, Wall
from layout3d.parts.tank_fields import TankFields
from layout3d.solid.boolean import difference
from layout3d.solid.primitives import box, prism
from layout3d.solid.shape import Placement, Solid

__all__ = ["assemble", "bottom_panel", "build_tank", "upright_panel"]

TankT = TypeVar("TankT", bound=TankPart)
FlatT = TypeVar("FlatT", bound=TankFields)

_RECTANGLE_EDGES = {
    "front": ("right", "left", "bottom", "top"),
    "right": ("back", "front", "bottom", "top"),
    "back": ("left", "right", "bottom", "top"),
    "left": ("front", "back", "bottom", "top"),
}


def assemble(
    tank: TankT,
    site: Site,
    *,
    panes: Mapping[str, tuple[Wall, Solid]],
    centres: Mapping[str, tuple[float, float]],
    plan: Polygon,
    outer_plan: Polygon,
    sides: Sequence[str],
    silicone: float = 0.0,
    more: Sequence[Body] = (),
) -> Built[TankT, TankData]:
    """Return a tank of any kind from its panes: drilled, with bulkheads.

    Parameters
    ----------
    panes : walls counter-clockwise from the front, then 'bottom'; each with its undrilled solid
    centres : of each hole, (u, v) on its wall, [m]
    plan, outer_plan : of the inside and the outside, (k, 2) counter-clockwise, convex, [m]
    sides : the wall along each edge of ``plan``
    silicone : leg of the beads in its corners, [m]
    more : braces, rim, beads
    """
    height = tank.inside_size()[2]
    walls = {name: wall for name, (wall, _) in panes.items()}
    holes = {
        name: hole_in(tank, site, name, walls[tank.holes[name].panel], at) for name, at in centres.items()
    }
    bodies: list[Body] = []
    for name, (wall, pane) in panes.items():
        drilled = difference(pane, [drill(wall, hole) for hole in holes.values() if hole.panel == name])
        assert drilled is not None, "a pane is larger than its holes (assemble)"
        bodies.append(tank.body(drilled, site, material=tank.material, piece=name, kind="panel"))
    bodies += more
    ports: list[Port] = []
    joins = [Join(tank.name, tank.name, "seal")]
    for hole in holes.values():
        if hole.bulkhead:
            body, found = bulkhead_in(tank, site, hole, walls[hole.panel])
            bodies.append(body)
            ports += found
            joins += [Join(body.name, walls[hole.panel].body, "hole")]
    data = TankData(
        plan=tuple((float(x), float(y)) for x, y in plan),
        outer_plan=tuple((float(x), float(y)) for x, y in outer_plan),
        floor=0.0,
        rim=height,
        silicone=silicone,
        panels=walls,
        sides=tuple(sides),
        holes=holes,
        interior=prism(plan, height).solid(),
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


def build_tank(tank: FlatT, site: Site) -> Built[FlatT, TankData]:
    """Build a tank of flat panes; see ``parts.tank``."""
    plan, outer, height = tank.plan(), tank.outer_plan(), tank.inside_size()[2]
    names = tank.wall_names()
    panels = [*(_wall(tank, index) for index in range(len(names))), _bottom(tank)]
    by_name = {panel.name: panel for panel in panels}
    return assemble(
        tank,
        site,
        panes={panel.name: (panel, _pane(tank, panel)) for panel in panels},
        centres={
            name: flat_centre(tank, site, name, hole, by_name[hole.panel])
            for name, hole in tank.holes.items()
        },
        plan=plan,
        outer_plan=outer,
        sides=names,
        silicone=tank.silicone,
        more=bracing(tank, site, prism(plan, height).solid()),
    )


def upright_panel(
    tank: TankPart,
    name: str,
    start: Sequence[float],
    end: Sequence[float],
    *,
    edges: tuple[str, str, str, str],
    glass: tuple[float, float],
    drillable: tuple[float, float],
    neighbours: tuple[tuple[str, float], tuple[str, float]],
    tempered: bool = False,
) -> Panel:
    """Return a flat wall.

    Parameters
    ----------
    start, end : inside corners in plan as seen from inside, left and right, [m]
    edges : its names for u low, u high, v low, v high
    glass : how far its own glass reaches, u low and high, [m]
    drillable : the same of the narrower face, where its ends are mitred, [m]
    neighbours : at its left and at its right, each with the angle between the two, [rad]
    """
    origin, way = np.asarray(start, dtype=float), np.subtract(end, start)
    length, height = float(np.linalg.norm(way)), tank.inside_size()[2]
    along = way / length
    (low, high), (left, right) = glass, neighbours
    a, b = drillable
    ring = ((a, 0.0), (b, 0.0), (b, height), (a, height))
    return Panel(
        name=name,
        body=f"{tank.name}.{name}",
        origin=(float(origin[0]), float(origin[1]), 0.0),
        along=(float(along[0]), float(along[1]), 0.0),
        up=(0.0, 0.0, 1.0),
        inward=(float(along[1]), float(-along[0]), 0.0),
        length=length,
        height=height,
        thickness=tank.thickness(name),
        tempered=tempered,
        edges=edges,
        glass=((low, 0.0), (high, 0.0), (high, height), (low, height)),
        outline=_ring((edges[2], edges[1], edges[3], edges[0]), ring),
        seams=(
            Edge(name=left[0], start=(0.0, height), end=(0.0, 0.0), angle=left[1]),
            Edge(name=right[0], start=(length, 0.0), end=(length, height), angle=right[1]),
            Edge(name="bottom", start=(0.0, 0.0), end=(length, 0.0)),
        ),
    )


def bottom_panel(
    tank: TankPart,
    *,
    plan: Polygon,
    outer_plan: Polygon,
    sides: Sequence[str],
    tempered: bool = False,
) -> Panel:
    """Return the flat bottom under walls that stand on it; arguments as of ``assemble``."""
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
        tempered=tempered,
        edges=("left", "right", "front", "back"),
        glass=_pairs(outer_plan),
        outline=_ring(sides, _pairs(outer_plan)),
        seams=_ring(sides, _pairs(plan)),
    )


def _ring(names: Sequence[str], corners: Sequence[tuple[float, float]]) -> tuple[Edge, ...]:
    """Return the sides of an outline, counter-clockwise, from each corner to the next."""
    return tuple(
        Edge(name=name, start=corner, end=corners[(number + 1) % len(corners)])
        for number, (name, corner) in enumerate(zip(names, corners, strict=True))
    )


def _pairs(polygon: Polygon) -> tuple[tuple[float, float], ...]:
    return tuple((float(x), float(y)) for x, y in polygon)


def _wall(tank: TankFields, index: int) -> Panel:
    plan, outer, names = tank.plan(), tank.outer_plan(), tank.wall_names()
    normals = edge_normals(plan)
    name, count = names[index], len(names)
    # u runs as seen from inside, left to right, against the order of the walls: low u is at the next wall
    end, origin = plan[index], plan[(index + 1) % count]
    length = float(np.linalg.norm(end - origin))
    after, before = (index + 1) % count, (index - 1) % count
    if tank.footprint is not None:
        edges = ("end", "start", "bottom", "top")
        along = (end - origin) / length
        low, high = (float(np.dot(outer[corner] - origin, along)) for corner in (after, index))
    else:
        edges, low, high = _RECTANGLE_EDGES[name], 0.0, length
        if name in ("front", "back"):
            low -= tank.thickness(edges[0])
            high += tank.thickness(edges[1])
    mitred = tank.footprint is not None
    return upright_panel(
        tank,
        name,
        origin,
        end,
        edges=edges,
        glass=(low, high),
        drillable=(max(low, 0.0), min(high, length)) if mitred else (low, high),
        neighbours=(
            (names[after], _between(normals[index], normals[after])),
            (names[before], _between(normals[index], normals[before])),
        ),
        tempered=name in tank.tempered,
    )


def _between(inward: Polygon, other: Polygon) -> float:
    """Return the angle inside the corner of two walls, [rad]."""
    return math.acos(max(-1.0, min(1.0, -float(np.dot(inward, other)))))


def _bottom(tank: TankFields) -> Panel:
    return bottom_panel(
        tank,
        plan=tank.plan(),
        outer_plan=tank.outer_plan(),
        sides=tank.wall_names(),
        tempered="bottom" in tank.tempered,
    )


def _pane(tank: TankFields, panel: Panel) -> Solid:
    """Return the undrilled pane."""
    if panel.name == "bottom":
        shape = prism(np.array(panel.glass), panel.thickness)
        return shape.solid(Placement.at((0.0, 0.0, -panel.thickness)))
    if tank.footprint is None:
        return flat_pane(panel)
    plan, outer = tank.plan(), tank.outer_plan()
    index = tank.wall_names().index(panel.name)
    after = (index + 1) % len(plan)
    return prism(np.array([outer[index], outer[after], plan[after], plan[index]]), panel.height).solid()


def flat_pane(panel: Panel) -> Solid:
    """Return an upright pane along one of the axes, with square ends."""
    (low, _), (high, top) = panel.glass[0], panel.glass[2]
    corners = [np.array(panel.at(u, 0.0, w)) for u in (low, high) for w in (0.0, -panel.thickness)]
    least, most = np.min(corners, axis=0), np.max(corners, axis=0)
    size: Vector = (float(most[0] - least[0]), float(most[1] - least[1]), top)
    return box(size).solid(Placement.at(vector(least)))
