"""Lays flexible tube or hose along a plan: legs rounded by the bend radius, valves as straight connectors."""

from __future__ import annotations

import itertools
import math
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from layout3d.errors import OutOfRange, SceneMistake
from layout3d.parts.base import Body, Join, Port, Site, vector
from layout3d.parts.run_data import Element
from layout3d.parts.shapes.pipe_shapes import bent_path, connector_half, tube_connector, tube_shape
from layout3d.parts.shapes.run_plan import Node, Plan
from layout3d.parts.shapes.whereabouts import where_is
from layout3d.solid.shape import Placement

if TYPE_CHECKING:
    from layout3d.parts.run import Run

__all__ = ["lay_tube"]

Array = NDArray[np.float64]
TUBE_MATERIAL = "pvc"


def lay_tube(run: Run, site: Site, plan: Plan) -> tuple[list[Element], list[Body], list[Port], list[Join]]:
    """Return elements in flow order, bodies in the same order, ports (none) and joins.

    Raises
    ------
    SceneMistake : legs too short for their bends; ends that a tube can't have.
    """
    tube = site.catalog.tube(run.tube)
    radius = run.bend_radius or tube.min_bend_radius
    elements: list[Element] = []
    bodies: list[Body] = []
    joins: list[Join] = []

    def add(element: Element, body: Body) -> None:
        if bodies:
            joins.append(Join(bodies[-1].name, body.name, "barb"))
        elements.append(element)
        bodies.append(body)

    def made(shape_solid: object, piece: str, kind: str) -> Body:
        solid = shape_solid
        return run.body(
            solid,  # type: ignore[arg-type] # a Solid; kept loose to serve tube and connector alike
            site,
            material=run.material or TUBE_MATERIAL,
            piece=piece,
            kind=kind,
            where=where_is(site, run, solid.bounds),  # type: ignore[attr-defined]
        )

    pieces = _pieces(plan)
    for number, (first, last) in enumerate(pieces, start=1):
        points = _points(plan, first, last, radius, connector_half(tube.outside))
        try:
            path = bent_path(points, radius)
        except OutOfRange as error:
            raise SceneMistake(
                error.found,
                expected=error.expected,
                path=f"parts.{run.name}.route",
                place=run.places.get("route", run.place),
            ) from error
        solid = tube_shape(path, tube.outside, tube.inside).solid()
        body = made(solid, f"tube_{number}", "tube")
        length = float(np.linalg.norm(np.diff(np.array(path), axis=0), axis=1).sum())
        element = Element(
            kind="tube",
            body=body.name,
            size=tube.name,
            outside=tube.outside,
            bore=tube.inside,
            path=path,
            cut_length=length,
            visible=(path[0], path[-1]),
            step=plan.legs[first].step,
        )
        add(element, body)
        node = plan.nodes[last]
        if node.fitting in ("ball_valve", "check_valve", "cap"):
            add(*_connector(run, site, node, made, len(elements)))
        elif node.fitting in ("strainer", "nozzle"):
            raise SceneMistake(
                f"a {node.fitting} on a tube",
                expected="an open end, a cap or `join`; put a strainer on a port or on pipe",
                path=f"parts.{run.name}.route[{node.step}]",
                place=run.places.get("route", run.place),
            )
    return elements, bodies, [], joins


def _pieces(plan: Plan) -> list[tuple[int, int]]:
    """Return (first node, last node) of each piece of tube between connectors."""
    cuts = [0]
    cuts += [i for i, n in enumerate(plan.nodes) if n.fitting in ("ball_valve", "check_valve") and i]
    cuts.append(len(plan.nodes) - 1)
    return list(itertools.pairwise(cuts))


def _points(plan: Plan, first: int, last: int, radius: float, half: float) -> Array:
    """Return the corners of one piece, with its ends pushed onto barbs and led straight out of ports."""
    nodes = plan.nodes
    points = [np.array(nodes[i].at, dtype=float) for i in range(first, last + 1)]
    begin, end = nodes[first], nodes[last]
    if begin.fitting in ("ball_valve", "check_valve"):
        points[0] = points[0] + half * plan.legs[first].direction
    if end.fitting in ("ball_valve", "check_valve", "cap"):
        points[-1] = points[-1] - half * plan.legs[last - 1].direction
    if begin.port is not None:
        points = _led(points, begin.port, radius)
    if end.port is not None:
        points = _led(points[::-1], end.port, radius)[::-1]
    return np.array(points)


def _led(points: list[Array], port: Port, radius: float) -> list[Array]:
    """Lead the first point straight out of a port before it bends towards the second."""
    way = np.array(port.direction)
    seat = np.array(port.at) - way * port.depth
    toward = points[1] - points[0]
    if float(np.dot(toward / np.linalg.norm(toward), way)) > 1 - 1e-6:
        return [seat, *points[1:]]
    lead = 0.0
    for _ in range(20):  # the bend's length depends on where it starts; settles in a few rounds
        corner = np.array(port.at) + way * lead
        toward = points[1] - corner
        cosine = float(np.clip(np.dot(toward / np.linalg.norm(toward), way), -0.999, 1.0))
        wanted = radius * math.tan(math.acos(cosine) / 2) + 0.002
        if abs(wanted - lead) < 1e-6:
            break
        lead = wanted
    return [seat, np.array(port.at) + way * lead, *points[1:]]


def _connector(run: Run, site: Site, node: Node, made: object, number: int) -> tuple[Element, Body]:
    tube = site.catalog.tube(run.tube)
    assert node.incoming is not None, "a connector has a tube that comes in (_connector)"
    shape = tube_connector(tube.outside, tube.inside, node.fitting == "cap")
    up = (0.0, 0.0, 1.0) if abs(float(node.incoming[2])) < 0.9 else (1.0, 0.0, 0.0)
    solid = shape.solid(Placement.from_frame(node.at, up, node.incoming))
    body: Body = made(solid, node.name or f"{node.fitting}_{number}", node.fitting)  # type: ignore[operator]
    half = connector_half(tube.outside)
    element = Element(
        kind=node.fitting,
        body=body.name,
        size=tube.name,
        outside=1.7 * tube.outside,
        bore=0.75 * tube.inside,
        path=(vector(node.at - half * node.incoming), vector(node.at + half * node.incoming)),
        opening=node.opening,
        step=node.step,
    )
    return element, body
