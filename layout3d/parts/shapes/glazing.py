"""Puts tanks of any kind together from panes, with holes and bulkheads; flat panes as they are drilled."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from typing import TypeVar

import numpy as np

from layout3d.keep import remembered
from layout3d.parts.base import Body, Built, Join, Port, Site, Space
from layout3d.parts.drilled_tank import TankPart
from layout3d.parts.shapes.drilling import bulkhead_in, drill, flat_centre, hole_in
from layout3d.parts.shapes.plan import CORNER, Polygon, move_edges
from layout3d.parts.tank_data import Edge, Panel, TankData, Wall
from layout3d.solid.boolean import difference, union, whole
from layout3d.solid.primitives import prism
from layout3d.solid.shape import Shape, Solid

__all__ = ["assemble", "beads", "bottom_panel", "ring", "upright_panel"]

TankT = TypeVar("TankT", bound=TankPart)


def assemble(
    tank: TankT,
    site: Site,
    *,
    panes: Mapping[str, tuple[Wall, Solid]],
    centre: Callable[[str, Wall], tuple[float, float]] | None = None,
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
    centre : finds that of a hole by name, (u, v) on its wall, [m]; by default from the edges of flat panes
    plan, outer_plan : of the inside and the outside, (k, 2) counter-clockwise, convex, [m]
    sides : the wall along each edge of ``plan``
    silicone : leg of the beads in its corners, [m]
    more : braces, rim, beads
    """
    height = tank.inside_size()[2]
    walls = {name: wall for name, (wall, _) in panes.items()}
    holes = {}
    for name, hole in tank.holes.items():
        wall = walls[hole.panel]
        at = centre(name, wall) if centre else flat_centre(tank, site, name, wall)
        holes[name] = hole_in(tank, site, name, wall, at)
    bodies: list[Body] = []
    for name, (wall, pane) in panes.items():
        drilled = difference(pane, [drill(wall, made) for made in holes.values() if made.panel == name])
        bodies.append(
            tank.body(whole(drilled, "pane"), site, material=tank.material, piece=name, kind="panel")
        )
    bodies += more
    ports: list[Port] = []
    joins = [Join(tank.name, tank.name, "seal")]
    for drilled_hole in holes.values():
        if drilled_hole.bulkhead:
            wall = walls[drilled_hole.panel]
            body, found = bulkhead_in(tank, site, drilled_hole, wall)
            bodies.append(body)
            ports += found
            joins += [Join(body.name, wall.body, "hole")]
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


def upright_panel(
    tank: TankPart,
    name: str,
    start: Sequence[float],
    end: Sequence[float],
    *,
    glass: tuple[float, float],
    neighbours: tuple[tuple[str, float], tuple[str, float]],
    drillable: tuple[float, float] | None = None,
    ends: tuple[str, str] | None = None,
    tempered: bool = False,
) -> Panel:
    """Return a flat wall.

    Parameters
    ----------
    start, end : inside corners in plan as seen from inside, left and right, [m]
    glass : how far its own glass reaches, u low and high, [m]
    neighbours : at its left and at its right, each with the angle between the two, [rad]
    drillable : as ``glass``, of the narrower face where its ends are mitred, [m]
    ends : its names for u low and u high; those of its neighbours if not given
    """
    origin, way = np.asarray(start, dtype=float), np.subtract(end, start)
    length, height = float(np.linalg.norm(way)), tank.inside_size()[2]
    along = way / length
    (low, high), (left, right), (a, b) = glass, neighbours, drillable or glass
    edges = (*(ends or (left[0], right[0])), "bottom", "top")
    corners = ((a, 0.0), (b, 0.0), (b, height), (a, height))
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
        outline=ring((edges[2], edges[1], edges[3], edges[0]), corners),
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
        outline=ring(sides, _pairs(outer_plan)),
        seams=ring(sides, _pairs(plan)),
    )


def beads(plan: np.ndarray, height: float, leg: float) -> Solid:
    """Return the triangular bead along the bottom edges, mitred in the corners, and up the corners."""
    return remembered("beads", plan, height, leg, make=lambda: _beads(plan, height, leg))


def _beads(plan: np.ndarray, height: float, leg: float) -> Solid:
    count, inner = len(plan), move_edges(plan, leg)
    vertices = np.concatenate(
        [np.column_stack([ring, np.full(count, z)]) for ring, z in ((plan, 0.0), (plan, leg), (inner, 0.0))]
    )
    here = np.arange(count)
    onward = np.roll(here, -1)
    faces = [
        np.column_stack([low, low_on, high_on, low, high_on, high]).reshape(-1, 3)
        for low, low_on, high, high_on in (
            (here, onward, count + here, count + onward),  # on the walls
            (count + here, count + onward, 2 * count + here, 2 * count + onward),  # the open face
            (2 * count + here, 2 * count + onward, here, onward),  # on the floor
        )
    ]
    beads = [Shape.of(vertices, np.concatenate(faces)).solid()]
    for index in range(count):
        corner, ahead, back = plan[index], plan[(index + 1) % count], plan[index - 1]
        ways = [(point - corner) / math.hypot(*(point - corner)) for point in (ahead, back)]
        if float(np.dot(*ways)) < -math.cos(CORNER):
            continue
        beads.append(prism(np.array([corner, *(corner + leg * way for way in ways)]), height).solid())
    return whole(union(beads), "bead")


def ring(
    names: Sequence[str], corners: Sequence[tuple[float, float]], angles: Sequence[float] | None = None
) -> tuple[Edge, ...]:
    """Return the sides of an outline, counter-clockwise, from each corner to the next; square if not told."""
    onward = [*corners[1:], corners[0]]
    square = angles or [math.pi / 2] * len(corners)
    return tuple(
        Edge(name=name, start=start, end=end, angle=angle)
        for name, start, end, angle in zip(names, corners, onward, square, strict=True)
    )


def _pairs(polygon: Polygon) -> tuple[tuple[float, float], ...]:
    return tuple((float(x), float(y)) for x, y in polygon)
