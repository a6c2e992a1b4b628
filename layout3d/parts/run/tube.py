"""Lays flexible tube or hose along a plan: corners rounded, valves as straight connectors."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from layout3d.catalog import Tube
from layout3d.fittings.barb import connector_half, connector_tail, tube_connector
from layout3d.fittings.registry import fitting, fittings
from layout3d.parts.base import Port, Site, vector
from layout3d.parts.run.fields import RunFields
from layout3d.parts.run.line import Array, Laying
from layout3d.parts.run.plan import Node, Plan, say_direction
from layout3d.parts.run.shapes import bends, bent_path, tube_shape
from layout3d.parts.run_data import Element
from layout3d.solid.shape import Placement

__all__ = ["TubeLaying", "bend_radius"]

_CONNECTORS = tuple(each.kind for each in fittings().values() if each.in_tube)
_TIGHTEST = 0.6  # of its outside; below it a tube's inner side would fold into itself
_SHARPEST = math.radians(120)  # out of a port; a sharper turn needs a lead longer than any tube has
_LEAD = 0.002  # straight out of a port before a bend begins, [m]


def bend_radius(run: RunFields, site: Site) -> float:
    """Return the radius of a tube's bends, [m]; 0 for rigid pipe."""
    if not run.tube:
        return 0.0
    return run.bend_radius or site.catalog.tube(run.tube).min_bend_radius


@dataclass(slots=True)
class _Corners:
    """The corners of one piece of tube; ``steps[i]`` is the step that leg i came from."""

    points: list[Array]
    steps: list[int]


class TubeLaying(Laying):
    """Flexible tube or hose, laid from connector to connector."""

    joint = "barb"

    def __init__(self, run: RunFields, site: Site, plan: Plan) -> None:
        super().__init__(run, site, plan)
        self.tube: Tube = site.catalog.tube(run.tube)
        self.radius = bend_radius(run, site)
        least = _TIGHTEST * self.tube.outside
        if self.radius < least:
            raise run.mistake(
                "bend_radius",
                f"bends of {site.length(self.radius)} in a tube {site.length(self.tube.outside)} wide",
                expected=f"{site.length(least, enough=True)} or more; this tube allows "
                f"{site.length(self.tube.min_bend_radius)}",
            )

    def lay(self) -> None:
        """Lay all of it.

        Raises
        ------
        SceneMistake : at its step: a leg too short for its bends and connectors, a turn straight back.
        """
        nodes = self.plan.nodes
        first = 0
        for last in range(1, len(nodes)):
            if nodes[last].fitting in _CONNECTORS or last == len(nodes) - 1:
                self._piece(first, last)
                first = last
        self.end = self._end(nodes[-1])

    def _end(self, node: Node) -> Port | None:
        """Return the port at an open end: the bare tube, or the tail of a valve."""
        if self.plan.end != "open":
            return None
        way, at, depth = self.plan.legs[-1].direction, node.at, 0.0
        if node.fitting in _CONNECTORS:
            depth = connector_tail(self.tube.inside)
            at = at + (connector_half(self.tube.outside) + depth) * way
        return Port(
            name=f"{self.run.name}.end",
            at=vector(at),
            direction=vector(way),
            end="barb" if depth else "open",
            size=self.tube.name,
            bore=self.elements[-1].bore,
            body=self.bodies[-1].name,
            depth=depth,
        )

    def _piece(self, first: int, last: int) -> None:
        """Lay the tube between two nodes, and the connector at the second one."""
        corners = self._corners(first, last)
        self._check(corners, first, last)
        points = np.array(corners.points)
        path = bent_path(points, self.radius)
        body = self.body(tube_shape(path, self.tube.outside, self.tube.inside).solid(), "tube")
        straight = float(np.linalg.norm(np.diff(points, axis=0), axis=1).sum())
        turns, tangents = bends(points, self.radius)
        element = Element(
            kind="tube",
            body=body.name,
            size=self.tube.name,
            outside=self.tube.outside,
            bore=self.tube.inside,
            path=path,
            # a bend is shorter than the corner it cuts off
            cut_length=straight - float(np.sum(2 * tangents - self.radius * turns)),
            visible=(path[0], path[-1]),
            step=corners.steps[0],
        )
        self.add(element, body)
        if self.plan.nodes[last].fitting in _CONNECTORS:
            self._connector(self.plan.nodes[last])

    def _connector(self, node: Node) -> None:
        assert node.incoming is not None, "a connector has a tube that comes in (TubeLaying._connector)"
        made = fitting(node.fitting)
        ends = made.place == "end"
        outside, inside = self.tube.outside, self.tube.inside
        shape = made.on_tube(outside, inside) or tube_connector(outside, inside, ends)
        up = (0.0, 0.0, 1.0) if abs(float(node.incoming[2])) < 0.9 else (1.0, 0.0, 0.0)
        solid = shape.solid(Placement.from_frame(node.at, up, node.incoming))
        body = self.body(solid, node.fitting, node.name)
        half = connector_half(self.tube.outside)
        faces = (node.at - half * node.incoming, node.at + half * node.incoming)
        element = Element(
            kind=node.fitting,
            body=body.name,
            size=self.tube.name,
            outside=1.7 * self.tube.outside,
            bore=0.75 * self.tube.inside,
            path=(vector(faces[0]), vector(faces[0] if ends else faces[1])),
            opening=node.opening,
            step=node.step,
        )
        self.add(element, body)

    # -- corners --------------------------------------------------------------------------------------

    def _corners(self, first: int, last: int) -> _Corners:
        """Return the corners of one piece, its ends pushed onto barbs and led straight out of ports."""
        nodes, legs = self.plan.nodes, self.plan.legs
        points = [np.array(node.at, dtype=float) for node in nodes[first : last + 1]]
        made = _Corners(points, [leg.step for leg in legs[first:last]])
        half = connector_half(self.tube.outside)
        if nodes[first].fitting in _CONNECTORS:
            points[0] = points[0] + half * legs[first].direction
        if nodes[last].fitting in _CONNECTORS:
            points[-1] = points[-1] - half * legs[last - 1].direction
        if nodes[first].port is not None:
            self._led(made, nodes[first].port)
        if nodes[last].port is not None:
            made.points.reverse()
            made.steps.reverse()
            self._led(made, nodes[last].port)
            made.points.reverse()
            made.steps.reverse()
        return made

    def _led(self, corners: _Corners, port: Port | None) -> None:
        """Lead the first corner straight out of a port before the tube bends towards the second."""
        assert port is not None, "only an end at a port is led (TubeLaying._led)"
        way, face = np.array(port.direction), np.array(port.at)
        seat = face - way * port.depth
        second = corners.points[1]
        turn = _turn(second - face, way)
        if turn < 1e-6:
            corners.points[0] = seat
            return
        if turn > _SHARPEST:
            raise self.run.mistake(
                f"route[{corners.steps[0]}]",
                f"the tube turns by {math.degrees(turn):.0f} degrees right at {port.name}",
                expected=f"a turn of {math.degrees(_SHARPEST):.0f} degrees at most",
                remedy=f"put a leg {say_direction(way)} between, straight out of the port",
            )
        lead = 0.0
        for _ in range(50):  # the bend's length depends on where it starts; settles in a few rounds
            wanted = self.radius * math.tan(min(_turn(second - face - way * lead, way), 3.0) / 2) + _LEAD
            if abs(wanted - lead) < 1e-9:
                break
            lead = wanted
        corners.points[:1] = [seat, face + way * lead]
        corners.steps.insert(0, corners.steps[0])

    def _check(self, corners: _Corners, first: int, last: int) -> None:
        """Refuse legs that are too short for the connectors and bends at their ends."""
        half, nodes = connector_half(self.tube.outside), self.plan.nodes
        for index in range(first, last):
            leg = self.plan.legs[index]
            taken = half * sum(nodes[end].fitting in _CONNECTORS for end in (index, index + 1))
            if leg.length < taken + 1e-3:
                raise self._too_short(leg.step, leg.length, taken + 1e-3)
        points = np.array(corners.points)
        turns, tangents = bends(points, self.radius)
        for number, turn in enumerate(turns):
            if turn > math.radians(179):
                raise self.run.mistake(
                    f"route[{corners.steps[number + 1]}]",
                    "the tube turns straight back",
                    expected="a bend of less than 180 degrees, or two bends",
                )
        lengths = np.linalg.norm(np.diff(points, axis=0), axis=1)
        padded = np.concatenate([[0.0], tangents, [0.0]])
        for number, (step, length) in enumerate(zip(corners.steps, lengths, strict=True)):
            needed = float(padded[number] + padded[number + 1])
            if needed > length + 1e-9:
                raise self._too_short(step, float(length), needed)

    def _too_short(self, step: int, length: float, needed: float) -> Exception:
        leg = next(leg for leg in self.plan.legs if leg.step == step)
        long, least = leg.length + needed - length, self.tube.min_bend_radius
        smaller = f"a smaller `bend_radius:` (this tube allows {self.site.length(least)})"
        other = smaller if self.radius > least else "a tube that bends tighter"
        return self.run.mistake(
            f"route[{step}]",
            f"a leg of {self.site.length(leg.length)} is too short for the tube's bends of "
            f"{self.site.length(self.radius)} and what stands at its ends",
            expected=f"{self.site.length(long, enough=True)} or more, corner to corner",
            remedy=f"lengthen this leg by {self.site.length(long - leg.length, enough=True)}, or take "
            f"{other}",
        )


def _turn(toward: Array, way: Array) -> float:
    """Return the angle between a vector and a unit vector, [rad]."""
    unit = toward / max(float(np.linalg.norm(toward)), 1e-12)
    return 2.0 * math.atan2(float(np.linalg.norm(unit - way)), float(np.linalg.norm(unit + way)))
