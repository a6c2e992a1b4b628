"""Builds a run of rigid pipe: fittings on their nodes, pipes from socket bottom to bottom, supports."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from layout3d.errors import LayoutError, SceneMistake
from layout3d.parts.base import Body, Built, Join, Port, Site, vector
from layout3d.parts.run_data import DripHole, Element, RunData
from layout3d.parts.shapes.fittings import fitting_shape
from layout3d.parts.shapes.pipe_shapes import pipe_shape
from layout3d.parts.shapes.port import FittingPort, FittingShape
from layout3d.parts.shapes.run_plan import Leg, Node, Plan, plan_route
from layout3d.parts.shapes.run_supports import add_supports
from layout3d.parts.shapes.run_tube import lay_tube
from layout3d.parts.shapes.whereabouts import where_is
from layout3d.solid.shape import Placement

if TYPE_CHECKING:
    from layout3d.parts.run import Run

__all__ = ["build_run"]

Array = NDArray[np.float64]
_UP, _FRONT = np.array([0.0, 0.0, 1.0]), np.array([0.0, -1.0, 0.0])
_RIGHT = np.array([1.0, 0.0, 0.0])


def build_run(run: Run, site: Site) -> Built:
    """Build a run; see ``parts.run``."""
    plan = plan_route(run, site)
    laid = lay_tube(run, site, plan) if run.tube else _Pipework(run, site, plan).lay()
    elements, bodies, ports, joins = laid
    start, end = plan.nodes[0], plan.nodes[-1]
    if start.port:
        joins.append(Join(bodies[0].name, start.port.body, "barb" if start.port.end == "barb" else "socket"))
    if end.port:
        joins.append(Join(bodies[-1].name, end.port.body, "barb" if end.port.end == "barb" else "socket"))
    tube = site.catalog.tube(run.tube) if run.tube else None
    data = RunData(
        material=run.material,
        flexible=bool(run.tube),
        size=plan.legs[0].size,
        elements=tuple(elements),
        start_port=start.port.name if start.port else "",
        start=vector(start.at),
        start_direction=vector(plan.legs[0].direction),
        end=plan.end,
        end_port=end.port.name if end.port else "",
        end_at=vector(end.at),
        end_direction=vector(plan.legs[-1].direction),
        end_size=plan.legs[-1].size,
        bend=(run.bend_radius or tube.min_bend_radius) if tube else 0.0,
        least_bend=tube.min_bend_radius if tube else 0.0,
    )
    end_port = Port(
        name=f"{run.name}.end",
        at=vector(end.at),
        direction=data.end_direction,
        end="open",
        size=data.end_size,
        bore=elements[-1].bore,
        body=bodies[-1].name,
    )
    supports, held, more = add_supports(run, site, elements, bodies)
    return Built(
        part=run,
        bodies=(*bodies, *held),
        ports=(*ports, end_port) if plan.end in ("open", "nozzle") else tuple(ports),
        joins=(*joins, *more),
        anchors={"end": vector(end.at)} | {n.name: vector(n.at) for n in plan.nodes if n.name},
        data=RunData(**{f: getattr(data, f) for f in data.__slots__ if f != "supports"}, supports=supports),
    )


class _Pipework:
    """Lays rigid pipe and its fittings along a plan."""

    def __init__(self, run: Run, site: Site, plan: Plan) -> None:
        self.run, self.site, self.plan = run, site, plan
        self.bodies: list[Body] = []
        self.ports: list[Port] = []
        self.joins: list[Join] = []
        self.counts: dict[str, int] = {}
        self.seats: list[dict[str, tuple[Array, Array]]] = []
        """For each node: 'in' and 'out' -> where the pipe ends, and the face it disappears behind."""
        self.made: list[list[tuple[Element, Body]]] = []

    def lay(self) -> tuple[list[Element], list[Body], list[Port], list[Join]]:
        """Return elements in flow order, bodies in the same order, ports and joins."""
        for node in self.plan.nodes:
            self._node(node)
        elements: list[Element] = []
        for index, leg in enumerate(self.plan.legs):
            for element, body in self.made[index]:
                self._add(elements, element, body)
            self._add(elements, *self._pipe(index, leg))
        for element, body in self.made[-1]:
            self._add(elements, element, body)
        return elements, self.bodies, self.ports, self.joins

    def _add(self, elements: list[Element], element: Element, body: Body) -> None:
        if self.bodies:
            self.joins.append(Join(self.bodies[-1].name, body.name, "socket"))
        elements.append(element)
        self.bodies.append(body)

    def _name(self, kind: str, given: str = "") -> str:
        self.counts[kind] = self.counts.get(kind, 0) + 1
        return given or f"{kind}_{self.counts[kind]}"

    def _mistake(self, step: int, found: str, expected: str, remedy: str = "") -> SceneMistake:
        place = self.run.route[step - 1][2] if step else self.run.place
        return SceneMistake(
            found, expected=expected, remedy=remedy, path=f"parts.{self.run.name}.route[{step}]", place=place
        )

    # -- fittings -----------------------------------------------------------------------------------

    def _node(self, node: Node) -> None:
        at = node.at
        if node.fitting in ("", "open"):
            self.seats.append({"in": (at, at), "out": (at, at)})
            self.made.append([])
        elif node.fitting in ("start", "join"):
            assert node.port is not None, "a start or join has its port (_Pipework._node)"
            depth = node.port.depth if node.port.end == "socket" else 0.0
            seat = np.array(node.port.at) - np.array(node.port.direction) * depth
            self.seats.append({"in": (seat, at), "out": (seat, at)})
            self.made.append([])
        else:
            self._fitting(node)

    def _fitting(self, node: Node) -> None:
        kind = "coupling" if node.fitting == "reduce" else node.fitting
        shape, placement = self._shaped(node, kind, node.size, node.at)
        body = self._body(shape, placement, kind, node)
        self.made.append([(self._element(shape, placement, kind, node, body, node.size), body)])
        incoming = shape.port("a")
        outgoing = next((port for port in shape.ports if port.name == "b"), incoming)
        if node.fitting == "reduce":
            outgoing, placement = self._bush(node, placement, outgoing)
            first = self._shaped(node, kind, node.size, node.at)[1]
            self.seats.append({"in": _ends(first, incoming), "out": _ends(placement, outgoing)})
            return
        self.seats.append({"in": _ends(placement, incoming), "out": _ends(placement, outgoing)})
        if kind == "tee":
            branch = shape.port("branch")
            self.ports.append(
                Port(
                    name=f"{self.run.name}.{node.name}",
                    at=vector(placement.apply(np.array(branch.at))),
                    direction=vector(placement.direction(np.array(branch.direction))),
                    end="socket",
                    size=node.size,
                    bore=branch.bore,
                    body=body.name,
                    depth=branch.socket_bottom,
                )
            )

    def _shaped(self, node: Node, kind: str, size: str, at: Array) -> tuple[FittingShape, Placement]:
        try:
            shape = fitting_shape(self.site.catalog.fitting(kind, size), opening=node.opening)
        except LayoutError as error:
            raise self._mistake(node.step, error.found, error.expected, error.remedy) from error
        assert node.incoming is not None, "a fitting has a pipe that comes in (_Pipework._shaped)"
        return shape, _set_on(shape, at, node.incoming, node.outgoing, node.branch)

    def _bush(self, node: Node, placement: Placement, socket: FittingPort) -> tuple[FittingPort, Placement]:
        """Put the bush of a reduction into the coupling's outlet; return its outlet and placement."""
        assert node.incoming is not None, "a reduction has a pipe that comes in (_Pipework._bush)"
        size = self.site.catalog.fitting("reducing_bush", node.size, smaller=node.size_after)
        shape = fitting_shape(size)
        seat = placement.apply(np.array(socket.seat))
        turned = _set_on(shape, np.zeros(3), node.incoming, node.incoming, None)
        tip = turned.apply(np.array(shape.port("a").at))
        placed = Placement.at(seat - tip) @ turned
        body = self._body(shape, placed, "reducing_bush", node)
        element = self._element(shape, placed, "reducing_bush", node, body, node.size_after)
        self.made[-1].append((element, body))
        return shape.port("b"), placed

    def _body(self, shape: FittingShape, placement: Placement, kind: str, node: Node) -> Body:
        named = node.name if kind != "reducing_bush" else ""
        solid = shape.shape.solid(placement)
        return self.run.body(
            solid,
            self.site,
            material=self.run.material,
            piece=self._name(kind, named),
            kind=kind,
            where=where_is(self.site, self.run, solid.bounds),
        )

    def _element(
        self, shape: FittingShape, placement: Placement, kind: str, node: Node, body: Body, size: str
    ) -> Element:
        ends = [placement.apply(np.array(p.seat)) for p in shape.ports if p.name in ("a", "b")]
        bend = kind.startswith("elbow") or kind == "tee"
        path = [ends[0], node.at, ends[1]] if bend and len(ends) > 1 else ends
        if len(path) == 1:
            path = [path[0], placement.apply(np.zeros(3))] if kind != "cap" else [path[0], path[0]]
        turn = {"elbow_90": math.pi / 2, "elbow_45": math.pi / 4}.get(kind, 0.0)
        pipe = self.site.catalog.pipe(size)
        return Element(
            kind=kind,
            body=body.name,
            size=size,
            outside=pipe.hub_diameter,
            bore=min(port.bore for port in shape.ports),
            path=tuple(vector(point) for point in path),
            angle=turn,
            opening=node.opening,
            branch=f"{self.run.name}.{node.name}" if kind == "tee" else "",
            step=node.step,
        )

    # -- pipes --------------------------------------------------------------------------------------

    def _pipe(self, index: int, leg: Leg) -> tuple[Element, Body]:
        start, start_face = self.seats[index]["out"]
        end, end_face = self.seats[index + 1]["in"]
        length = float(np.dot(end - start, leg.direction))
        shown = float(np.dot(end_face - start_face, leg.direction))
        if shown < -1e-6:
            hubs = leg.length - shown
            raise self._mistake(
                leg.step,
                f"a leg of {leg.length * 1000:.1f} mm, but the fittings at its ends touch at {hubs * 1000:.1f} mm",
                f"{hubs * 1000:.1f} mm or more, centre to centre",
                f"lengthen this leg by {-shown * 1000:.1f} mm, or take out a fitting",
            )
        pipe = self.site.catalog.pipe(leg.size)
        up = _UP if abs(float(leg.direction[2])) < 0.9 else _RIGHT
        placement = Placement.from_frame(start, up, leg.direction)
        faces = (
            float(np.dot(start_face - start, leg.direction)),
            float(np.dot(end_face - start, leg.direction)),
        )
        marks = self._drip_marks(leg, faces, placement, pipe.outside_diameter)
        shape = pipe_shape(
            pipe.outside_diameter, pipe.inside_diameter, length, marks, leg.drip.diameter if leg.drip else 0.0
        )
        solid = shape.solid(placement)
        body = self.run.body(
            solid,
            self.site,
            material=self.run.material,
            piece=self._name("pipe"),
            kind="pipe",
            where=where_is(self.site, self.run, solid.bounds),
        )
        element = Element(
            kind="pipe",
            body=body.name,
            size=leg.size,
            outside=pipe.outside_diameter,
            bore=pipe.inside_diameter,
            path=(vector(start), vector(end)),
            cut_length=length,
            visible=(vector(start_face), vector(end_face)),
            holes=tuple(
                _hole(placement, along, angle, pipe.outside_diameter, pipe.inside_diameter, leg)
                for along, angle in marks
            ),
            step=leg.step,
        )
        return element, body

    def _drip_marks(
        self, leg: Leg, faces: tuple[float, float], placement: Placement, outside: float
    ) -> tuple[tuple[float, float], ...]:
        """Return (distance along the pipe, angle from its own x) of each drip hole."""
        drip = leg.drip
        if drip is None:
            return ()
        room = faces[1] - faces[0] - 2 * drip.margin
        fit = math.floor(room / drip.pitch + 1e-9) + 1 if room >= 0 else 0
        count = drip.count if drip.count is not None else fit
        if fit == 0 or count > fit:
            raise self._mistake(
                leg.step,
                f"{count or 1} drip holes every {drip.pitch * 1000:.1f} mm in "
                f"{(faces[1] - faces[0]) * 1000:.0f} mm of pipe with margins of {drip.margin * 1000:.0f} mm",
                f"at most {fit} holes",
                "use a smaller pitch, margin or count, or a longer leg",
            )
        if drip.diameter >= outside / 2:
            raise self._mistake(leg.step, "a drip hole half as wide as the pipe", "a smaller hole")
        own_x, own_y = placement.rotation[:, 0], placement.rotation[:, 1]
        base, side = _hole_axes(leg.direction)
        marks = []
        for angle in drip.angles:
            way = math.cos(angle) * base + math.sin(angle) * side
            own = math.atan2(float(np.dot(way, own_y)), float(np.dot(way, own_x)))
            marks += [(faces[0] + drip.margin + k * drip.pitch, own) for k in range(count)]
        return tuple(marks)


def _hole(
    placement: Placement, along: float, angle: float, outside: float, inside: float, leg: Leg
) -> DripHole:
    way = np.array([math.cos(angle), math.sin(angle), 0.0])
    assert leg.drip is not None, "only a leg with drip holes has holes (_hole)"
    return DripHole(
        at=vector(placement.apply(way * outside / 2 + np.array([0.0, 0.0, along]))),
        direction=vector(placement.direction(way)),
        diameter=leg.drip.diameter,
        wall=(outside - inside) / 2,
        along=along,
    )


def _hole_axes(direction: Array) -> tuple[Array, Array]:
    """Return where angle 0 and the quarter turn of drip holes point, for a pipe in this direction."""
    upright = abs(float(direction[2])) > 0.9
    base = _FRONT if upright else -_UP
    base = base - float(np.dot(base, direction)) * direction
    toward = _RIGHT if upright or abs(float(np.dot(_FRONT, direction))) > 0.9 else _FRONT
    side = toward - float(np.dot(toward, direction)) * direction
    side = side - float(np.dot(side, base)) / float(np.dot(base, base)) * base
    return base / np.linalg.norm(base), side / np.linalg.norm(side)


def _ends(placement: Placement, port: FittingPort) -> tuple[Array, Array]:
    """Return where a pipe in this port ends, and the port's face."""
    return placement.apply(np.array(port.seat)), placement.apply(np.array(port.at))


def _set_on(
    shape: FittingShape, at: Array, incoming: Array, outgoing: Array | None, branch: Array | None
) -> Placement:
    """Return the placement that turns a fitting's ports the way the pipes come and go."""
    own_first = np.array(shape.port("a").direction)
    first = -incoming
    names = {port.name: np.array(port.direction) for port in shape.ports}
    if branch is not None and "branch" in names:
        own_second, second = names["branch"], branch
    elif outgoing is not None and "b" in names and abs(float(np.dot(names["b"], own_first))) < 0.999:
        own_second, second = names["b"], outgoing
    else:
        own_second = _UP if abs(float(own_first[2])) < 0.9 else _RIGHT
        second = _UP if abs(float(first[2])) < 0.9 else _FRONT
    rotation = _axes(first, second) @ _axes(own_first, own_second).T
    return Placement(rotation, at)


def _axes(first: Array, second: Array) -> Array:
    """Return (3, 3) orthonormal columns: first, what of second is square to it, and their cross product."""
    square = second - float(np.dot(second, first)) * first
    square = square / np.linalg.norm(square)
    return np.column_stack([first, square, np.cross(first, square)])
