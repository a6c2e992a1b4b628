"""Lays rigid pipe along a plan: fittings on their nodes, pipes from socket bottom to socket bottom."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from layout3d.errors import LayoutError, SceneMistake, SceneRefused
from layout3d.parts.base import Body, Join, Port, Site, vector
from layout3d.parts.run_data import Element
from layout3d.parts.shapes.drip import drip_hole, drip_marks
from layout3d.parts.shapes.fittings import fitting_shape
from layout3d.parts.shapes.pipe_shapes import pipe_shape
from layout3d.parts.shapes.port import FittingPort, FittingShape
from layout3d.parts.shapes.run_names import Names
from layout3d.parts.shapes.run_plan import Leg, Node, Plan
from layout3d.parts.shapes.whereabouts import where_is
from layout3d.solid.shape import Placement

if TYPE_CHECKING:
    from layout3d.parts.run import Run

__all__ = ["Laid", "lay_pipe"]

Array = NDArray[np.float64]
_UP, _FRONT = np.array([0.0, 0.0, 1.0]), np.array([0.0, -1.0, 0.0])
_RIGHT = np.array([1.0, 0.0, 0.0])
_TURNS = {"elbow_90": math.pi / 2, "elbow_45": math.pi / 4}
_HALF_TURNED = {"elbow_90", "elbow_45", "tee"}
"""Fittings whose centreline goes by way of their middle."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Laid:
    """What a run is laid from: elements in flow order, bodies in the same order, ports, joins.

    ``end`` is where the run ends: a port of its own where something may join on, else None.
    """

    elements: list[Element]
    bodies: list[Body]
    ports: list[Port]
    joins: list[Join]
    end: Port | None


@dataclass(frozen=True, slots=True, kw_only=True)
class _Seat:
    """Where a pipe ends in a node, and the face of the fitting that it disappears behind."""

    bottom: Array
    face: Array


def lay_pipe(run: Run, site: Site, plan: Plan) -> Laid:
    """Lay rigid pipe.

    Raises
    ------
    SceneRefused : with every leg too short for the fittings at its ends, or whose drip holes don't fit.
    SceneMistake : at its step: a fitting that is not made in this size.
    """
    return _Pipework(run, site, plan).lay()


class _Pipework:
    def __init__(self, run: Run, site: Site, plan: Plan) -> None:
        self.run, self.site, self.plan = run, site, plan
        self.bodies: list[Body] = []
        self.ports: list[Port] = []
        self.joins: list[Join] = []
        self.names = Names(node.name for node in plan.nodes)
        self.into: list[_Seat] = []
        self.onward: list[_Seat] = []
        """For each node: where the pipe that comes in ends, and the pipe that goes on begins."""
        self.made: list[list[tuple[Element, Body]]] = []
        self.last: Port | None = None

    def lay(self) -> Laid:
        for node in self.plan.nodes:
            self._node(node)
        elements: list[Element] = []
        mistakes: list[LayoutError] = []
        for index, leg in enumerate(self.plan.legs):
            for element, body in self.made[index]:
                self._add(elements, element, body)
            try:
                self._add(elements, *self._pipe(index, leg))
            except SceneMistake as mistake:
                mistakes.append(mistake)  # the legs after it are looked at too, to tell all in one run
        if mistakes:
            raise SceneRefused(mistakes)
        for element, body in self.made[-1]:
            self._add(elements, element, body)
        end = self.last
        if self.plan.end == "open" and end is None:
            last = self.plan.nodes[-1]
            end = Port(
                name=f"{self.run.name}.end",
                at=vector(last.at),
                direction=vector(self.plan.legs[-1].direction),
                end="open",
                size=self.plan.legs[-1].size,
                bore=elements[-1].bore,
                body=self.bodies[-1].name,
            )
        return Laid(elements=elements, bodies=self.bodies, ports=self.ports, joins=self.joins, end=end)

    def _add(self, elements: list[Element], element: Element, body: Body) -> None:
        if self.bodies:
            self.joins.append(Join(self.bodies[-1].name, body.name, "socket"))
        elements.append(element)
        self.bodies.append(body)

    # -- fittings -----------------------------------------------------------------------------------

    def _node(self, node: Node) -> None:
        self.made.append([])
        if node.fitting in ("", "open"):
            seats = (_Seat(bottom=node.at, face=node.at),) * 2
        elif node.fitting in ("start", "join"):
            assert node.port is not None, "a start or join has its port (_Pipework._node)"
            depth = node.port.depth if node.port.end == "socket" else 0.0
            bottom = np.array(node.port.at) - np.array(node.port.direction) * depth
            seats = (_Seat(bottom=bottom, face=node.at),) * 2
        elif node.fitting == "reduce":
            seats = self._reduction(node)
        else:
            seats = self._fitting(node)
        self.into.append(seats[0])
        self.onward.append(seats[1])

    def _fitting(self, node: Node) -> tuple[_Seat, _Seat]:
        shape, placement = self._shaped(node, node.fitting, node.size)
        body = self._put(node, shape, placement, node.fitting, node.size, node.name)
        onward = next((port for port in shape.ports if port.name == "b"), None)
        if node.fitting == "tee":
            self.ports.append(self._port(node.name, shape.port("branch"), placement, node.size, body))
        if onward is not None and node.outgoing is None:
            self.last = self._port("end", onward, placement, node.size, body)
        incoming = shape.port("a")
        return _seat(placement, incoming), _seat(placement, onward or incoming)

    def _reduction(self, node: Node) -> tuple[_Seat, _Seat]:
        """Put a coupling of the wider pipe on the node, and a bush in the socket on its narrower side."""
        pipe, after = (self.site.catalog.pipe(size) for size in (node.size, node.size_after))
        narrows = pipe.outside_diameter > after.outside_diameter
        wide, narrow = (pipe, after) if narrows else (after, pipe)
        try:
            bush = fitting_shape(self.site.catalog.fitting("reducing_bush", wide, smaller=narrow))
        except LayoutError as error:
            raise self.run.mistake(
                f"route[{node.step}]", error.found, expected=error.expected, remedy=error.remedy
            ) from error
        assert node.incoming is not None, "a leg comes before a reduction (_Pipework._reduction)"
        sleeve, placement = self._shaped(node, "coupling", wide.name)
        socket = sleeve.port("b" if narrows else "a")
        outward = node.incoming if narrows else -node.incoming
        turned = _set_on(bush, np.zeros(3), outward, None, None)
        tip = turned.apply(np.array(bush.port("a").at))
        placed = Placement.at(placement.apply(np.array(socket.seat)) - tip) @ turned
        order = [(sleeve, placement, "coupling", wide.name), (bush, placed, "reducing_bush", narrow.name)]
        for shape, at, kind, size in order if narrows else order[::-1]:
            body = self._put(node, shape, at, kind, size)
        seat = _seat(placed, bush.port("b"))
        if narrows:
            seats = (_seat(placement, sleeve.port("a")), seat)
        else:
            seats = (seat, _seat(placement, sleeve.port("b")))
        if node.outgoing is None:
            last = (bush.port("b"), placed) if narrows else (sleeve.port("b"), placement)
            self.last = self._port("end", *last, node.size_after, body)
        return seats

    def _shaped(self, node: Node, kind: str, size: str) -> tuple[FittingShape, Placement]:
        try:
            shape = fitting_shape(self.site.catalog.fitting(kind, size), opening=node.opening)
        except LayoutError as error:
            raise self.run.mistake(
                f"route[{node.step}]", error.found, expected=error.expected, remedy=error.remedy
            ) from error
        assert node.incoming is not None, "a leg comes before a fitting (_Pipework._shaped)"
        return shape, _set_on(shape, node.at, node.incoming, node.outgoing, node.branch)

    def _put(
        self, node: Node, shape: FittingShape, placement: Placement, kind: str, size: str, name: str = ""
    ) -> Body:
        """Make a fitting's body and element, and add them to the node."""
        assert node.incoming is not None, "a leg comes before a fitting (_Pipework._put)"
        solid = shape.shape.solid(placement)
        body = self.run.body(
            solid,
            self.site,
            material=self.run.material,
            piece=name or self.names.next(kind),
            kind=kind,
            where=where_is(self.site, self.run, solid.bounds),
        )
        first = placement.apply(np.array(shape.port("a").seat))
        ends = [first, *(placement.apply(np.array(port.seat)) for port in shape.ports if port.name == "b")]
        if np.dot(ends[-1] - first, node.incoming) < -1e-9:
            ends.reverse()  # a bush before a wider pipe is passed from its socket to its tip
        if kind in _HALF_TURNED:
            ends.insert(1, node.at)
        elif len(ends) == 1:
            ends.append(first)
        element = Element(
            kind=kind,
            body=body.name,
            size=size,
            outside=self.site.catalog.pipe(size).hub_diameter,
            bore=min(port.bore for port in shape.ports),
            path=tuple(vector(point) for point in ends),
            angle=_TURNS.get(kind, 0.0),
            opening=node.opening,
            branch=f"{self.run.name}.{node.name}" if kind == "tee" else "",
            step=node.step,
        )
        self.made[-1].append((element, body))
        return body

    def _port(self, name: str, port: FittingPort, placement: Placement, size: str, body: Body) -> Port:
        return Port(
            name=f"{self.run.name}.{name}",
            at=vector(placement.apply(np.array(port.at))),
            direction=vector(placement.direction(np.array(port.direction))),
            end="socket" if port.end == "socket" else "open",
            size=size,
            bore=port.bore,
            body=body.name,
            depth=port.socket_bottom,
        )

    # -- pipes --------------------------------------------------------------------------------------

    def _pipe(self, index: int, leg: Leg) -> tuple[Element, Body]:
        begin, end = self.onward[index], self.into[index + 1]
        length = float(np.dot(end.bottom - begin.bottom, leg.direction))
        shown = float(np.dot(end.face - begin.face, leg.direction))
        if shown < -1e-6 or length < 1e-4:
            needed = leg.length - shown if shown < -1e-6 else leg.length + 0.01
            said = self.site.length(needed, enough=True)
            raise self.run.mistake(
                f"route[{leg.step}]",
                f"a leg of {self.site.length(leg.length)} is too short for what stands at its ends",
                expected=f"{said} or more, centre to centre, where the fittings touch",
                remedy=f"lengthen this leg by {self.site.length(needed - leg.length, enough=True)}, "
                "or take out a fitting",
            )
        pipe = self.site.catalog.pipe(leg.size)
        up = _UP if abs(float(leg.direction[2])) < 0.9 else _RIGHT
        placement = Placement.from_frame(begin.bottom, up, leg.direction)

        def along(point: Array) -> float:
            return float(np.dot(point - begin.bottom, leg.direction))

        faces, start = (along(begin.face), along(end.face)), along(self.plan.nodes[index].at)
        marks = drip_marks(self.run, self.site, leg, pipe, placement, faces, start)
        solid = pipe_shape(pipe.outside_diameter, pipe.inside_diameter, length, marks).solid(placement)
        body = self.run.body(
            solid,
            self.site,
            material=self.run.material,
            piece=self.names.next("pipe"),
            kind="pipe",
            where=where_is(self.site, self.run, solid.bounds),
        )
        element = Element(
            kind="pipe",
            body=body.name,
            size=leg.size,
            outside=pipe.outside_diameter,
            bore=pipe.inside_diameter,
            path=(vector(begin.bottom), vector(end.bottom)),
            cut_length=length,
            visible=(vector(begin.face), vector(end.face)),
            holes=tuple(drip_hole(mark, placement, pipe) for mark in marks),
            step=leg.step,
        )
        return element, body


def _seat(placement: Placement, port: FittingPort) -> _Seat:
    return _Seat(bottom=placement.apply(np.array(port.seat)), face=placement.apply(np.array(port.at)))


def _set_on(
    shape: FittingShape, at: Array, incoming: Array, outgoing: Array | None, branch: Array | None
) -> Placement:
    """Return the placement that turns a fitting's ports the way the pipes come and go.

    A straight fitting has its up (a valve's handle) up; on upright pipe it faces the front.
    """
    own_first = np.array(shape.port("a").direction)
    first = -incoming
    ways = {port.name: np.array(port.direction) for port in shape.ports}
    if branch is not None and "branch" in ways:
        own_second, second = ways["branch"], branch
    elif outgoing is not None and "b" in ways and abs(float(np.dot(ways["b"], own_first))) < 0.999:
        own_second, second = ways["b"], outgoing
    else:
        own_second = _UP if abs(float(own_first[2])) < 0.9 else _RIGHT
        second = _UP if abs(float(first[2])) < 0.9 else _FRONT
    return Placement(_axes(first, second) @ _axes(own_first, own_second).T, at)


def _axes(first: Array, second: Array) -> Array:
    """Return (3, 3) orthonormal columns: first, what of second is square to it, and their cross product."""
    square = second - float(np.dot(second, first)) * first
    square = square / np.linalg.norm(square)
    return np.column_stack([first, square, np.cross(first, square)])
