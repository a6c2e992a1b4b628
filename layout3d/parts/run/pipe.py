"""Lays rigid pipe along a plan: fittings on their nodes, pipes from socket bottom to socket bottom."""

from __future__ import annotations

import math
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass

import numpy as np

from layout3d.errors import LayoutError, SceneMistake, SceneRefused
from layout3d.fittings.base import Fitting
from layout3d.fittings.port import FittingPort, FittingShape
from layout3d.fittings.registry import fitting
from layout3d.parts.base import Body, KeepClear, Port, Site, vector
from layout3d.parts.run.drip import drip_hole, drip_marks
from layout3d.parts.run.fields import RunFields
from layout3d.parts.run.line import Array, Laying, axes
from layout3d.parts.run.plan import Leg, Node, Plan
from layout3d.parts.run.shapes import pipe_shape
from layout3d.parts.run_data import Element
from layout3d.solid.shape import Placement

__all__ = ["PipeLaying"]

_UP, _FRONT = np.array([0.0, 0.0, 1.0]), np.array([0.0, -1.0, 0.0])
_RIGHT = np.array([1.0, 0.0, 0.0])
_LEAN_MORE = 1.25  # short legs lean a little more than the turn they share; the limit is no sharper than this


@dataclass(frozen=True, slots=True, kw_only=True)
class _Seat:
    """Where a pipe ends in a node, and the face of the fitting that it disappears behind.

    ``axis`` is the socket's way out, and ``give`` how far a pipe may lean in it, [rad]; None at a bare end.
    """

    bottom: Array
    face: Array
    axis: Array | None = None
    give: float = 0.0


class PipeLaying(Laying):
    """Rigid pipe, laid from fitting to fitting."""

    def __init__(self, run: RunFields, site: Site, plan: Plan) -> None:
        super().__init__(run, site, plan)
        self.into: list[_Seat] = []
        self.onward: list[_Seat] = []
        """For each node: where the pipe that comes in ends, and the pipe that goes on begins."""
        self.made: list[list[tuple[Element, Body]]] = []

    def lay(self) -> None:
        """Lay all of it.

        Raises
        ------
        SceneRefused : with every leg too short for the fittings at its ends, or whose drip holes don't fit.
        SceneMistake : at its step: a fitting that is not made in this size.
        """
        for node in self.plan.nodes:
            self._node(node)
        mistakes: list[LayoutError] = []
        for index, leg in enumerate(self.plan.legs):
            for made in self.made[index]:
                self.add(*made)
            try:
                self.add(*self._pipe(index, leg))
            except SceneMistake as mistake:
                mistakes.append(mistake)  # the legs after it are looked at too, to tell all in one run
        if mistakes:
            raise SceneRefused(mistakes)
        for made in self.made[-1]:
            self.add(*made)
        if self.plan.end == "open" and self.end is None:
            leg = self.plan.legs[-1]
            self.end = Port(
                name=f"{self.run.name}.end",
                at=vector(self.plan.nodes[-1].at),
                direction=vector(leg.direction),
                end="open",
                size=leg.size,
                bore=self.elements[-1].bore,
                body=self.bodies[-1].name,
            )

    # -- fittings -----------------------------------------------------------------------------------

    def _node(self, node: Node) -> None:
        self.made.append([])
        if node.fitting in ("", "open"):
            seats = (_Seat(bottom=node.at, face=node.at),) * 2
        elif node.fitting in ("start", "join"):
            port = node.port
            assert port is not None, "a start or join has its port (PipeLaying._node)"
            out = np.array(port.direction)
            bottom = np.array(port.at) - out * (port.depth if port.end == "socket" else 0.0)
            give = self._give("socket_give") if port.end == "socket" else 0.0
            seats = (_Seat(bottom=bottom, face=node.at, axis=out, give=give),) * 2
        elif fitting(node.fitting).holder:
            seats = self._reduction(node)
        else:
            seats = self._fitting(node)
        self.into.append(seats[0])
        self.onward.append(seats[1])

    def _give(self, name: str) -> float:
        return self.site.catalog.limit(name).value

    def _seat(self, placement: Placement, port: FittingPort, give: str) -> _Seat:
        return _Seat(
            bottom=placement.apply(np.array(port.seat)),
            face=placement.apply(np.array(port.at)),
            axis=placement.direction(np.array(port.direction)),
            give=self._give(give),
        )

    def _fitting(self, node: Node) -> tuple[_Seat, _Seat]:
        made = fitting(node.fitting)
        shape, placement = self._shaped(node, made.kind, node.size, node.size_after or None)
        body = self._put(node, shape, placement, made, node.size, node.name)
        first, *onward = (shape.port(name) for name in _through(shape, node))
        if made.value == "branch":
            self.ports.append(self._port(node.name, shape.port("branch"), placement, node.size, body))
        if onward and node.outgoing is None:
            self.end = self._port("end", onward[0], placement, node.size_after or node.size, body)
        ports = (first, onward[0] if onward else first)
        return self._seat(placement, ports[0], made.give), self._seat(placement, ports[1], made.give)

    def _reduction(self, node: Node) -> tuple[_Seat, _Seat]:
        """Put a coupling of the wider pipe on the node, and a bush in the socket on its narrower side."""
        made = fitting(node.fitting)
        holder = fitting(made.holder)
        pipe, after = (self.site.catalog.pipe(size) for size in (node.size, node.size_after))
        narrows = pipe.outside_diameter > after.outside_diameter
        wide, narrow = (pipe, after) if narrows else (after, pipe)
        with self._told(node):
            bush = made.shape(made.size(self.site.catalog, wide, narrow))
        assert node.incoming is not None, "a leg comes before a reduction (PipeLaying._reduction)"
        sleeve, placement = self._shaped(node, holder.kind, wide.name)
        socket = sleeve.port("b" if narrows else "a")
        axis = placement.direction(np.array(socket.direction))
        turned = _set_on(bush, np.zeros(3), axis, None, None)
        tip = turned.apply(np.array(bush.port("a").at))
        placed = Placement.at(placement.apply(np.array(socket.seat)) - tip) @ turned
        order = [(sleeve, placement, holder, wide.name), (bush, placed, made, narrow.name)]
        for shape, at, each, size in order if narrows else order[::-1]:
            body = self._put(node, shape, at, each, size)
        seats = (
            self._seat(placement, sleeve.port("a" if narrows else "b"), holder.give),
            self._seat(placed, bush.port("b"), made.give),
        )
        if node.outgoing is None:
            last = (bush.port("b"), placed) if narrows else (sleeve.port("b"), placement)
            self.end = self._port("end", *last, node.size_after, body)
        return seats if narrows else (seats[1], seats[0])

    @contextmanager
    def _told(self, node: Node) -> Iterator[None]:
        """Tell what a fitting refuses at the step of the route that asked for it."""
        try:
            yield
        except LayoutError as error:
            raise self.run.mistake(
                f"route[{node.step}]", error.found, expected=error.expected, remedy=error.remedy
            ) from error

    def _shaped(
        self, node: Node, kind: str, size: str, after: str | None = None
    ) -> tuple[FittingShape, Placement]:
        made = fitting(kind)
        with self._told(node):
            shape = made.shape(made.size(self.site.catalog, size, after), opening=node.opening)
        assert node.incoming is not None, "a leg comes before a fitting (PipeLaying._shaped)"
        enters = _through(shape, node)[0]
        return shape, _set_on(shape, node.at, node.incoming, node.outgoing, node.branch, enters)

    def _put(
        self,
        node: Node,
        shape: FittingShape,
        placement: Placement,
        made: Fitting,
        size: str,
        name: str = "",
    ) -> Body:
        """Make a fitting's body and element, and add them to the node."""
        assert node.incoming is not None, "a leg comes before a fitting (PipeLaying._put)"
        body = self.body(shape.shape.solid(placement), made.kind, name)
        if shape.room is not None:
            room, why = shape.room.solid(placement), "a hand on its wheel"
            self.clear.append(KeepClear(name=f"{body.name}.clear", part=self.run.name, solid=room, why=why))
        ends = [
            placement.apply(np.array(shape.port(each).seat)) for each in ("a", "b") if each in shape.names
        ]
        if np.dot(ends[-1] - ends[0], node.incoming) < -1e-9:
            ends.reverse()  # a bush before a wider pipe is passed from its socket to its tip
        if made.half_turned:
            ends.insert(1, node.at)
        elif len(ends) == 1:
            ends.append(ends[0])
        element = Element(
            kind=made.kind,
            body=body.name,
            size=size,
            outside=self.site.catalog.pipe(size).hub_diameter,
            bore=min(port.bore for port in shape.ports),
            path=tuple(vector(point) for point in ends),
            angle=made.angle,
            opening=node.opening,
            branch=f"{self.run.name}.{node.name}" if made.value == "branch" else "",
            step=node.step,
        )
        self.made[-1].append((element, body))
        return body

    def _port(self, name: str, port: FittingPort, placement: Placement, size: str, body: Body) -> Port:
        return Port.placed(port, placement, name=f"{self.run.name}.{name}", size=size, body=body.name)

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
        axis = (end.bottom - begin.bottom) / np.linalg.norm(end.bottom - begin.bottom)
        length = float(np.linalg.norm(end.bottom - begin.bottom))
        self._check_lean(leg, axis, begin, end)
        up = _UP if abs(float(axis[2])) < 0.9 else _RIGHT
        placement = Placement.from_frame(begin.bottom, up, axis)

        def along(point: Array) -> float:
            return float(np.dot(point - begin.bottom, axis))

        faces, start = (along(begin.face), along(end.face)), along(self.plan.nodes[index].at)
        marks = drip_marks(self.run, self.site, leg, pipe, placement, faces, start)
        shape = pipe_shape(pipe.outside_diameter, pipe.inside_diameter, length, marks)
        body = self.body(shape.solid(placement), "pipe")
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

    def _check_lean(self, leg: Leg, axis: Array, begin: _Seat, end: _Seat) -> None:
        """Refuse a pipe that would have to lean further in a socket than sockets give."""
        for seat, way in ((begin, axis), (end, -axis)):
            if seat.axis is None or not seat.give:
                continue
            lean = 2.0 * math.asin(min(1.0, float(np.linalg.norm(seat.axis - way)) / 2.0))
            if lean > seat.give * _LEAN_MORE:
                raise self.run.mistake(
                    f"route[{leg.step}]",
                    f"a pipe that leans by {math.degrees(lean):.1f} degrees in its socket",
                    expected=f"{math.degrees(seat.give):.1f} degrees at most",
                    remedy="lay it with less fall, lengthen the leg, or turn it by fittings",
                )


def _through(shape: FittingShape, node: Node) -> tuple[str, ...]:
    """Return the names of the ports that the run comes in and goes on by."""
    names = tuple(name for name in ("a", "b") if name in shape.names)
    return names[::-1] if node.reversed else names


def _set_on(
    shape: FittingShape,
    at: Array,
    incoming: Array,
    outgoing: Array | None,
    branch: Array | None,
    enters: str = "a",
) -> Placement:
    """Return the placement that turns a fitting's ports the way the pipes come and go.

    What they lack to the fitting's own angle is shared: both pipes lean by half of it. A straight fitting has
    its up (a valve's handle) up; on upright pipe it faces the front.
    """
    own_in = -np.array(shape.port(enters).direction)
    leaves = {"a": "b", "b": "a"}[enters]
    own_on = np.array(shape.port(leaves).direction) if leaves in shape.names else own_in
    on = incoming if outgoing is None else outgoing
    own_axis, axis = _unit(own_in + own_on), _unit(incoming + on)
    if branch is not None:
        own_second, second = np.array(shape.port("branch").direction), branch
    elif float(np.dot(own_in, own_on)) < 0.999:
        own_second, second = own_on - own_in, on - incoming
    else:
        own_second = _UP if abs(float(own_axis[2])) < 0.9 else _RIGHT
        second = _UP if abs(float(axis[2])) < 0.9 else _FRONT
    return Placement(axes(axis, second) @ axes(own_axis, own_second).T, at)


def _unit(way: Array) -> Array:
    unit: Array = way / np.linalg.norm(way)
    return unit
