"""Reads the pipe network off a model's own pieces: runs, bulkheads and pumps, with nothing typed twice.

Lengths, bores, heights and holes come from the built runs. Gravity drains and air lines are left out.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from layout3d.errors import OutOfRange
from layout3d.fittings.losses import (
    NO_LOSS,
    Loss,
    barb_loss,
    fitting_loss,
    nozzle_loss,
    path_loss,
)
from layout3d.fittings.registry import fitting
from layout3d.flow.bar import Bar
from layout3d.flow.network import (
    CheckValve,
    DripHole,
    Junction,
    Link,
    Node,
    Outlet,
    Pump,
    Reservoir,
    Valve,
)
from layout3d.flow.network import Pipe as PipeLink
from layout3d.flow.plumbing import LaidBar, Piece, Plumbing, on_pumps
from layout3d.flow.pump import Curve
from layout3d.model.model import Model
from layout3d.parts.base import Built, Part, Port, Vector
from layout3d.parts.run_data import Element, RunData
from layout3d.pipework.waters import water_at_point

__all__ = ["plumbing"]

CIRCULATING = " (its own outlet)"


def plumbing(model: Model, *, speeds: Mapping[str, float] | None = None) -> Plumbing | None:
    """Return the network of a model's pressure side; None if no pump lifts water through anything.

    Parameters
    ----------
    model : the built scene
    speeds : pump part -> share of its rated speed, in place of the scene's; 0 stops it

    Raises
    ------
    OutOfRange : a valve opening that no loss is known for, a bore outside the loss tables.
    """
    return _Laying(model, speeds or {}).lay()


@dataclass(slots=True)
class _Laying:
    model: Model
    speeds: Mapping[str, float]
    nodes: dict[str, Node] = field(default_factory=dict)
    links: list[Link] = field(default_factory=list)
    pieces: dict[str, Piece] = field(default_factory=dict)
    bars: list[LaidBar] = field(default_factory=list)
    outlets: dict[str, str] = field(default_factory=dict)
    notes: list[str] = field(default_factory=list)
    taken: set[str] = field(default_factory=set)

    def lay(self) -> Plumbing | None:
        """Lay pumps, bulkheads and runs; keep what hangs on a pump."""
        unknown: list[tuple[str, RunData, OutOfRange]] = []
        for built in self.model.of_kind("pump"):
            if not built.part.air:  # type: ignore[attr-defined] # a pump
                self._pump(built)
        for built in self.model.of_kind("run"):
            assert isinstance(built.data, RunData), "a run builds its data (_Laying.lay)"
            try:
                self._run(built.part.name, built.data)
            except OutOfRange as error:
                error.path = error.path or built.part.name
                unknown.append((built.part.name, built.data, error))
        self._bulkheads()
        self._free_ports()
        kept = on_pumps(self.nodes.values(), self.links)
        if not kept:
            return None
        links = [link for link in self.links if link.name in kept]
        names = {end for link in links for end in (link.start, link.end)}
        parts = {self.pieces[name].part for name in kept}
        for name, run, fault in unknown:
            # a drain may hold what no loss is known for; what hangs on a pump may not
            if name in parts or names & {run.start_port, run.end_port}:
                raise fault
        return Plumbing(
            nodes=tuple(
                node
                for node in self.nodes.values()
                if node.name in names and all(node.name != laid.node for laid in self.bars)
            ),
            links=tuple(links),
            pieces={name: piece for name, piece in self.pieces.items() if name in kept},
            bars=tuple(laid for laid in self.bars if laid.node in names),
            outlets={name: text for name, text in self.outlets.items() if name in names},
            notes=tuple(dict.fromkeys(self.notes)),
        )

    # -- nodes --------------------------------------------------------------------------------------

    def _junction(self, name: str, elevation: float) -> str:
        self.nodes.setdefault(name, Junction(name=name, elevation=elevation))
        return name

    def _water(self, point: Vector) -> str | None:
        """Return the node of the open water a point lies under, made if need be; None if it lies in air."""
        found = water_at_point(self.model, point)
        if found is None or point[2] >= found[1]:
            return None
        name, level = found
        self.nodes.setdefault(name, Reservoir(name=name, level=level))
        return name

    def _outlet(self, name: str, point: Vector, bore: float, loss: Loss | None, where: str) -> None:
        found = water_at_point(self.model, point)
        level = found[1] if found and point[2] < found[1] else None
        exit_loss = loss or fitting_loss("exit", bore)
        self.nodes[name] = Outlet(name=name, elevation=point[2], bore=bore, level=level, loss=exit_loss)
        self.outlets[name] = where

    def _port_node(self, name: str) -> str:
        port = self.model.ports[name]
        self.taken.add(name)
        return self._junction(name, port.at[2])

    # -- links --------------------------------------------------------------------------------------

    def _link(self, link: Link, body: str, kind: str, part: str, bore: float, length: float = 0.0) -> None:
        self.links.append(link)
        self.pieces[link.name] = Piece(
            link=link.name, body=body, kind=kind, part=part, bore=bore, length=length
        )

    def _pump(self, built: Built[Part, object]) -> None:
        part = built.part
        entry = self.model.scene.catalog.pump(part.model)  # type: ignore[attr-defined] # a pump
        inlet = built.anchors["inlet"]
        found = water_at_point(self.model, inlet)
        if found is None:
            self.notes.append(f"{part.name} stands in no water: it is left out")
            return
        name, level = found
        self.nodes.setdefault(name, Reservoir(name=name, level=level))
        port = built.ports[0]
        self._junction(port.name, port.at[2])
        curve = Curve(
            flows=tuple(flow for flow, _ in entry.points),
            heads=tuple(head for _, head in entry.points),
            name=entry.name,
        )
        speed = self.speeds.get(part.name, part.speed)  # type: ignore[attr-defined] # a pump
        pump = Pump(name=part.name, start=name, end=port.name, curve=curve, speed=speed)
        self._link(pump, built.bodies[0].name, "pump", part.name, port.bore)

    def _run(self, name: str, run: RunData) -> None:
        first = run.elements[0]
        if run.start_port:
            here = self._from_port(name, run)
        else:
            here = f"{name}.start"
            water = self._water(run.start)
            if water is None:
                self._outlet(here, run.start, first.bore, None, f"start of {name}")
            else:
                self._junction(here, run.start[2])
                loss = fitting_loss("entrance_projecting", first.bore)
                entrance = PipeLink(
                    name=f"{name}.entrance", start=water, end=here, length=0.0, bore=first.bore, loss=loss
                )
                self._link(entrance, first.body, "entrance", name, first.bore)
        bar = self._bar_element(run)
        before: Element | None = None
        for element in run.elements:
            if bar is not None and element is bar:
                self._lay_bar(name, element, here)
                return
            here = self._element(name, run, element, here, before)
            before = element
        self._end(name, run, here)

    def _from_port(self, name: str, run: RunData) -> str:
        port = self.model.ports[run.start_port]
        node = self._port_node(port.name)
        first = run.elements[0]
        if port.end == "barb":
            barb = f"{name}.barb"
            loss = barb_loss(first.bore, min(port.bore, first.bore))
            end = self._junction(f"{barb}.end", port.at[2])
            link = PipeLink(name=barb, start=node, end=end, length=0.0, bore=first.bore, loss=loss)
            self._link(link, first.body, "barb", name, first.bore)
            return end
        return node

    def _element(self, name: str, run: RunData, element: Element, here: str, before: Element | None) -> str:
        """Lay one element from node ``here``; return the node behind it."""
        after = element.path[-1]
        bore = element.bore
        if element.kind in ("pipe", "tube"):
            return self._pipe(name, run, element, here)
        made = fitting(element.kind)
        if made.place == "end" and element is run.elements[-1]:
            return here
        end = self._junction(f"{element.body}.end", after[2])
        link: Link
        behind = run.elements[run.elements.index(element) + 1 :]
        loss = made.loss(
            bore,
            opening=element.opening,
            before=before.bore if before else 0.0,
            after=behind[0].bore if behind else 0.0,
        )
        if made.valve:
            link = Valve(
                name=element.body, start=here, end=end, bore=bore, opening=element.opening, loss=loss
            )
        elif made.one_way:
            link = CheckValve(name=element.body, start=here, end=end, bore=bore, loss=loss)
        elif element.branch:
            centre = self._junction(f"{element.body}.middle", element.path[1][2])
            self._fitting(f"{element.body}.in", here, centre, element, NO_LOSS, name)
            branch = self._port_node(element.branch)
            side = made.loss(bore, branch=True) or NO_LOSS
            self._fitting(f"{element.body}.branch", centre, branch, element, side, name)
            self._fitting(element.body, centre, end, element, loss or NO_LOSS, name)
            return end
        else:
            self._fitting(element.body, here, end, element, loss or NO_LOSS, name)
            return end
        self._link(link, element.body, element.kind, name, bore)
        return end

    def _fitting(self, link: str, start: str, end: str, element: Element, loss: Loss, part: str) -> None:
        made = PipeLink(name=link, start=start, end=end, length=0.0, bore=element.bore, loss=loss)
        self._link(made, element.body, element.kind, part, element.bore)

    def _pipe(self, name: str, run: RunData, element: Element, here: str) -> str:
        loss = path_loss(element.bore, element.path, run.bend) if run.flexible else NO_LOSS
        end = f"{element.body}.end"
        if not element.holes:
            self._junction(end, element.path[-1][2])
            link = PipeLink(
                name=element.body,
                start=here,
                end=end,
                length=element.flow_length,
                bore=element.bore,
                loss=loss,
            )
            self._link(link, element.body, element.kind, name, element.bore, element.flow_length)
            return end
        self.notes.append(
            f"{element.body} has drip holes but is no dead end: its pressure recovery is not counted"
        )
        done = 0.0
        for number, hole in enumerate(sorted(element.holes, key=lambda h: h.along), start=1):
            node = f"{element.body}.hole_{number}"
            self.nodes[node] = DripHole(
                name=node, elevation=self._hole_level(hole.at), diameter=hole.diameter, wall=hole.wall
            )
            self._span(element, name, here, node, hole.along - done, number)
            here, done = node, hole.along
        self._junction(end, element.path[-1][2])
        self._span(element, name, here, end, element.flow_length - done, len(element.holes) + 1)
        return end

    def _span(self, element: Element, part: str, start: str, end: str, length: float, number: int) -> None:
        link = PipeLink(
            name=f"{element.body}.{number}", start=start, end=end, length=max(length, 0.0), bore=element.bore
        )
        self._link(link, element.body, element.kind, part, element.bore, max(length, 0.0))

    def _hole_level(self, point: Vector) -> float:
        """Return the level a hole works against: its own height, or the water it lies under."""
        found = water_at_point(self.model, point)
        return max(point[2], found[1]) if found else point[2]

    @staticmethod
    def _bar_element(run: RunData) -> Element | None:
        """Return the one pipe with drip holes, if nothing but a cap follows it."""
        bored = [element for element in run.elements if element.holes]
        if len(bored) != 1 or run.end != "cap":
            return None
        place = run.elements.index(bored[0])
        rest = [element.kind for element in run.elements[place + 1 :]]
        return bored[0] if all(kind in ("cap", "pipe", "coupling") for kind in rest) else None

    def _lay_bar(self, name: str, element: Element, here: str) -> None:
        holes = sorted(element.holes, key=lambda h: h.along)
        bar = Bar(
            positions=tuple(hole.along for hole in holes),
            diameters=tuple(hole.diameter for hole in holes),
            heights=tuple(self._hole_level(hole.at) for hole in holes),
            length=element.flow_length,
            bore=element.bore,
            wall=holes[0].wall,
        )
        self.bars.append(LaidBar(node=here, run=name, body=element.body, bar=bar))
        self.outlets[here] = f"drip bar {element.body}"

    def _end(self, name: str, run: RunData, here: str) -> None:
        last = run.elements[-1]
        port = self._end_port(name, run)
        if port is not None:
            self._merge(name, here, self._port_node(port.name), last)
            return
        if run.end == "cap":
            return
        point = run.end_at
        if run.end == "nozzle":
            bore = self.model.scene.catalog.pipe(run.end_size).inside_diameter
            self._move_to_outlet(name, here, point, bore, nozzle_loss(bore, last.bore), f"nozzle of {name}")
            return
        extra = fitting_loss("suction_strainer", last.bore) if run.end == "strainer" else None
        end_loss = None
        if extra is not None:
            end_loss = Loss(
                low=1.0 + extra.low, likely=1.0 + extra.likely, high=1.0 + extra.high, source=extra.source
            )
        self._move_to_outlet(name, here, point, last.bore, end_loss, f"end of {name}")

    def _move_to_outlet(
        self, name: str, here: str, point: Vector, bore: float, loss: Loss | None, where: str
    ) -> None:
        end = f"{name}.out"
        self._outlet(end, point, bore, loss, where)
        link = PipeLink(name=f"{name}.mouth", start=here, end=end, length=0.0, bore=bore)
        self._link(link, name, "mouth", name, bore)

    def _end_port(self, name: str, run: RunData) -> Port | None:
        if run.end_port:
            return self.model.ports[run.end_port]
        wanted = self.model.built[name].part.end_at  # type: ignore[attr-defined] # a run
        port = self.model.ports.get(wanted) or self.model.ports.get(f"{self.model.tank_name}.{wanted}")
        if port is not None and float(np.linalg.norm(np.subtract(port.at, run.end_at))) <= 0.001:
            return port
        return None

    def _merge(self, name: str, here: str, node: str, last: Element) -> None:
        port = self.model.ports[node]
        loss = barb_loss(last.bore, min(port.bore, last.bore)) if port.end == "barb" else NO_LOSS
        link = PipeLink(name=f"{name}.joint", start=here, end=node, length=0.0, bore=last.bore, loss=loss)
        self._link(link, last.body, "joint", name, last.bore)

    def _bulkheads(self) -> None:
        tank = self.model.tank_name
        for hole in self.model.tank.holes.values():
            inside, outside = f"{tank}.{hole.name}.inside", f"{tank}.{hole.name}.outside"
            if not hole.bulkhead or hole.plugged or not {inside, outside} & self.taken:
                continue
            ports = self.model.ports[inside], self.model.ports[outside]
            bore = min(port.bore for port in ports)
            length = float(np.linalg.norm(np.subtract(ports[0].at, ports[1].at)))
            start, end = self._junction(outside, ports[1].at[2]), self._junction(inside, ports[0].at[2])
            body = f"{tank}.{hole.name}"
            link = PipeLink(name=body, start=start, end=end, length=length, bore=bore)
            self._link(link, body, "bulkhead", body, bore, length)

    def _free_ports(self) -> None:
        """Open what no run takes up: a circulation pump's outlet, a bulkhead that ends in the tank."""
        for name, node in list(self.nodes.items()):
            if not isinstance(node, Junction) or name in self.taken or name not in self.model.ports:
                continue
            port = self.model.ports[name]
            if self.model.body(port.body).kind in ("pump", "bulkhead"):
                self._outlet(name, port.at, port.bore, None, f"{name}{CIRCULATING}")
