"""Reads the pipework of a model: every run, bulkhead and pump as one graph. Nothing else reads runs for it.

Where a tube goes on a barb the barb is an edge; the wall of a bulkhead counts as pipe. An end that was to
meet a port and misses it by no more than the limit ``port_gap`` joins it.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace

from layout3d.errors import LayoutError
from layout3d.fittings.base import Through
from layout3d.fittings.losses import NO_LOSS, Loss, barb_loss
from layout3d.fittings.registry import fitting, is_one_way
from layout3d.model.model import Model
from layout3d.parts.base import Port, Vector
from layout3d.parts.run_data import Element, RunData
from layout3d.pipework.graph import Edge, Mouth, MouthKind, Pipework, PumpPort
from layout3d.pipework.losses import element_losses, mouth_losses
from layout3d.pipework.waters import vessel_at
from layout3d.water.remembered import kept

__all__ = ["pipework"]

ENDS: Mapping[str, MouthKind] = {"nozzle": "nozzle", "strainer": "strainer", "air_stone": "air_stone"}
"""What the mouth of a run is that ends in a fitting; any other end is open."""


@kept
def pipework(model: Model) -> Pipework:
    """Return all pipework of a model, in the order of the file."""
    return _Reading(model).read()


TOP = 1e-3
"""What a tube has to rise over both its ends to have a top between them, [m]."""


class _Reading:
    """Gathers edges, mouths and pumps of a model."""

    def __init__(self, model: Model) -> None:
        self.model = model
        self.edges: list[Edge] = []
        self.mouths: list[Mouth] = []
        self.heights: dict[str, float] = {}
        self.port_gap = model.scene.catalog.limit("port_gap").value
        self.runs = [(built.part.name, built.data) for built in model.runs]
        self.ends = {name: self._end(name, run) for name, run in self.runs}
        starts = {run.start_port for _, run in self.runs}
        self.taken = (starts | {port for port, _ in self.ends.values()}) - {""}
        """Ports that a run starts or ends at."""

    def read(self) -> Pipework:
        pumps = tuple(self._pumps())
        for name, run in self.runs:
            self._run(name, run)
        self._branches()
        self._bulkheads()
        return Pipework(edges=tuple(self.edges), mouths=tuple(self.mouths), pumps=pumps, heights=self.heights)

    def _pumps(self) -> list[PumpPort]:
        found = []
        for built in self.model.pumps:
            port = built.ports[0]
            self.heights[port.name] = port.at[2]
            air = built.part.air
            inlet = built.anchors["inlet"]
            found.append(PumpPort(name=built.part.name, node=port.name, inlet=inlet, air=air))
            if port.name not in self.taken and not air:
                # a circulation pump: its outlet is a mouth
                part = built.part.name
                self._mouth(port.name, "outlet", port.at, port.direction, port.bore, part, port.body)
        return found

    def _end(self, name: str, run: RunData) -> tuple[str, str]:
        """Return the port that a run ends in, and the one that it was to end in and misses; or ''."""
        if run.end_port:
            return run.end_port, ""
        wanted = str(getattr(self.model.built[name].part, "end_at", ""))
        ports = self.model.ports
        port = ports.get(wanted) or ports.get(f"{self.model.tank_name}.{wanted}")
        if port is None:
            return "", ""
        away = min(math.dist(run.end_at, seat) for seat in (port.at, _back(port, port.depth)))
        return (port.name, "") if away <= self.port_gap else ("", port.name)

    # -- runs ---------------------------------------------------------------------------------------

    def _run(self, name: str, run: RunData) -> None:
        first = run.elements[0]
        here = run.start_port or f"{name}.start"
        if run.start_port:
            port = self.model.ports[run.start_port]
            here = self._barb(f"{name}.start_barb", name, first, port, inward=False)
        else:
            x, y, z = run.start_direction
            self.heights[here] = run.start[2]
            self._mouth(here, "open", run.start, (-x, -y, -z), first.bore, name, first.body, size=first.size)
        end, meant = self.ends[name]
        last = run.elements[-1]
        into = self.model.ports[end] if end else None
        onto_barb = into is not None and into.end == "barb" and last.kind == "tube"
        last_node = f"{name}.end" if into is None or onto_barb else end
        for index, element in enumerate(run.elements):
            there = last_node if element is last else f"{element.body}.end"
            self.heights.setdefault(there, element.path[-1][2])
            self._element(name, run, index, here, there)
            here = there
        if onto_barb and into is not None:
            self._barb(f"{name}.end_barb", name, last, into, inward=True)
        if run.end in ("cap", "join") or end or f"{name}.end" in self.taken:
            return
        kind = ENDS.get(run.end, "open")
        before = run.elements[-2].bore if len(run.elements) > 1 else last.bore
        self._mouth(
            here,
            kind,
            run.end_at,
            run.end_direction,
            last.bore,
            name,
            last.body,
            size=run.end_size,
            before=before,
            meant=meant,
        )

    def _barb(self, name: str, part: str, tube: Element, port: Port, *, inward: bool) -> str:
        """Put a barb between a port and the tube on it; return the tube's node, or the port's without one.

        ``inward`` is for a tube that ends at the port.
        """
        self.heights[port.name] = port.at[2]
        if port.end != "barb" or tube.kind != "tube":
            return port.name
        seat = _back(port, port.depth)
        node = f"{part}.end" if inward else f"{part}.start"
        self.heights[node] = seat[2]
        loss = barb_loss(tube.bore, min(port.bore, tube.bore))
        start, end = (node, port.name) if inward else (port.name, node)
        self.edges.append(
            Edge(
                name=name,
                body=tube.body,
                part=part,
                kind="barb",
                bore=tube.bore,
                points=(seat, seat),
                start=start,
                end=end,
                loss=loss,
                loss_back=loss,
            )
        )
        return node

    def _element(self, name: str, run: RunData, index: int, here: str, there: str) -> None:
        element = run.elements[index]
        forward: Loss | None = None
        backward: Loss | None = None
        no_loss = ""
        try:
            forward, backward = element_losses(run, index)
        except LayoutError as error:
            no_loss = error.found + (f" (expected {error.expected})" if error.expected else "")
        if element.branch:
            self._arms(name, element, here, there)
            return
        if element.holes:
            hole = element.holes[0]
            at = element.path[0]
            self._mouth(here, "holes", at, hole.direction, element.bore, name, element.body, element=element)
        whole = Edge(
            name=element.body,
            body=element.body,
            part=name,
            kind=element.kind,
            bore=element.bore,
            points=element.path,
            start=here,
            end=there,
            length=element.flow_length if element.kind in ("pipe", "tube") else 0.0,
            loss=forward,
            loss_back=backward,
            no_loss=no_loss,
            opening=element.opening,
            one_way=is_one_way(element.kind),
            holes=tuple(sorted(element.holes, key=lambda hole: hole.along)),
        )
        self.edges += self._over_its_top(whole) if element.kind == "tube" else [whole]

    def _over_its_top(self, tube: Edge) -> list[Edge]:
        """Return a tube in two edges where it has a top between its ends, the bends' loss in the first.

        Water has to get over it, as over an elbow.
        """
        top = max(range(len(tube.points)), key=lambda place: tube.points[place][2])
        height = tube.points[top][2]
        if height < max(tube.points[0][2], tube.points[-1][2]) + TOP:
            return [tube]
        node = f"{tube.body}.top"
        self.heights[node] = height
        up = replace(tube, points=tube.points[: top + 1], end=node)
        on = replace(tube, name=f"{tube.body}.on", points=tube.points[top:], start=node)
        return [
            replace(up, length=up.centre_line),
            replace(on, length=on.centre_line, loss=NO_LOSS, loss_back=NO_LOSS),
        ]

    def _arms(self, name: str, element: Element, here: str, there: str) -> None:
        """Lay the three arms of a tee or wye: the loss of its run is at the way on, of its branch there."""
        middle = f"{element.body}.middle"
        port = self.model.ports[element.branch]
        self.heights[middle] = element.path[1][2]
        self.heights[port.name] = port.at[2]
        seat = _back(port, port.depth if port.end == "socket" and port.name in self.taken else 0.0)
        made = fitting(element.kind)
        through, side = (
            made.loss(Through(bore=element.bore, branch=branch)) or NO_LOSS for branch in (False, True)
        )
        arms: tuple[tuple[str, tuple[Vector, ...], str, str, Loss], ...] = (
            (f"{element.body}.in", element.path[:2], here, middle, NO_LOSS),
            (f"{element.body}.branch", (element.path[1], seat), middle, port.name, side),
            (element.body, element.path[1:], middle, there, through),
        )
        for arm, points, start, end, loss in arms:
            self.edges.append(
                Edge(
                    name=arm,
                    body=element.body,
                    part=name,
                    kind=element.kind,
                    bore=element.bore,
                    points=points,
                    start=start,
                    end=end,
                    loss=loss,
                    loss_back=loss,
                )
            )

    # -- what runs leave open ------------------------------------------------------------------------

    def _branches(self) -> None:
        """Open the branches of tees that no run takes up."""
        for name, run in self.runs:
            for element in run.elements:
                if element.branch and element.branch not in self.taken:
                    port = self.model.ports[element.branch]
                    self._mouth(port.name, "open", port.at, port.direction, port.bore, name, element.body)

    def _bulkheads(self) -> None:
        tank = self.model.tank_name
        for hole in self.model.tank.holes.values():
            if not hole.bulkhead or hole.plugged:
                continue
            body = f"{tank}.{hole.name}"
            inside, outside = (self.model.ports[f"{body}.{side}"] for side in ("inside", "outside"))
            seats = tuple(
                _back(port, port.depth if port.end == "socket" and port.name in self.taken else 0.0)
                for port in (inside, outside)
            )
            for port in (inside, outside):
                self.heights[port.name] = port.at[2]
            self.edges.append(
                Edge(
                    name=body,
                    body=body,
                    part=tank,
                    kind="bulkhead",
                    bore=min(inside.bore, outside.bore),
                    points=seats,
                    start=inside.name,
                    end=outside.name,
                    length=math.dist(*seats),
                )
            )
            for port in (inside, outside):
                if port.name not in self.taken:
                    self._mouth(port.name, "bulkhead", port.at, port.direction, port.bore, tank, body)

    def _mouth(
        self,
        node: str,
        kind: MouthKind,
        at: Vector,
        direction: Vector,
        bore: float,
        part: str,
        body: str,
        *,
        size: str = "",
        before: float = 0.0,
        meant: str = "",
        element: Element | None = None,
    ) -> None:
        holes = () if element is None else element.holes
        losses = {} if holes else mouth_losses(kind, bore, before or bore)
        self.mouths.append(
            Mouth(
                name=body if kind == "holes" else node,
                node=node,
                kind=kind,
                at=at,
                direction=direction,
                bore=bore,
                part=part,
                body=body,
                vessel=vessel_at(self.model, holes[0].at if holes else at),
                size=size,
                holes=holes,
                meant=meant,
                **losses,
            )
        )


def _back(port: Port, depth: float) -> Vector:
    """Return the point ``depth`` behind a port's face: its socket's bottom, where the pipe in it ends."""
    x, y, z = (at - depth * way for at, way in zip(port.at, port.direction, strict=True))
    return (x, y, z)
