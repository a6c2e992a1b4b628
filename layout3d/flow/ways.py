"""Gathers the pipework of a model as ways for water: lengths of pipe, where they meet, and their mouths.

Runs, bulkheads and tees hang together here whether a pump drives them or not. Walls of bulkheads count as
pipe. A closed ball valve parts its run. What flows is computed elsewhere.
"""

from __future__ import annotations

import math
from collections.abc import Iterable

from layout3d.flow.waters import sump_at
from layout3d.flow.ways_data import Mouth, MouthKind, PipeLength, Ways
from layout3d.model.model import Model
from layout3d.parts.base import Port, Vector
from layout3d.parts.run_data import DripHole, Element, RunData
from layout3d.water.kept import kept

__all__ = ["pipe_ways"]

MEETS = 1e-3  # how near an end comes to the port that it is meant for, [m]; the rule ports-meet judges it


@kept
def pipe_ways(model: Model) -> tuple[Ways, ...]:
    """Return all pipework of a model, each that hangs together by itself, in the order of the file."""
    return _Gathering(model).gather()


class _Gathering:
    """Gathers lengths, mouths and pumps of a model, and parts them into what hangs together."""

    def __init__(self, model: Model) -> None:
        self.model = model
        self.lengths: list[PipeLength] = []
        self.mouths: list[Mouth] = []
        self.pumps: dict[str, str] = {}
        self.air: set[str] = set()
        self.taken: set[str] = set()
        self.branches: list[tuple[Port, str]] = []

    def gather(self) -> tuple[Ways, ...]:
        for built in self.model.of_kind("pump"):
            port = built.ports[0].name
            if built.part.air:  # type: ignore[attr-defined] # a pump
                self.air.add(port)
            else:
                self.pumps[built.part.name] = port
        runs = [
            (built.part.name, built.data)
            for built in self.model.of_kind("run")
            if isinstance(built.data, RunData)
        ]
        self.taken = {
            port for name, run in runs for port in (run.start_port, self._end_port(name, run)) if port
        }
        for name, run in runs:
            self._run(name, run)
        for branch, body in self.branches:
            if branch.name not in self.taken:
                part = body.split(".")[0]
                self._mouth(branch.name, "open", branch.at, branch.direction, branch.bore, part, body)
        self._bulkheads()
        return self._parted()

    def _end_port(self, name: str, run: RunData) -> str:
        if run.end_port:
            return run.end_port
        wanted = getattr(self.model.built[name].part, "end_at", "")
        port = self.model.ports.get(wanted) or self.model.ports.get(f"{self.model.tank_name}.{wanted}")
        return port.name if port is not None and math.dist(port.at, run.end_at) <= MEETS else ""

    def _run(self, name: str, run: RunData) -> None:
        here = run.start_port or f"{name}.start"
        if not run.start_port:
            x, y, z = run.start_direction
            first = run.elements[0]
            self._mouth(here, "open", run.start, (-x, -y, -z), first.bore, name, first.body, size=first.size)
        last_node = self._end_port(name, run) or f"{name}.end"
        for element in run.elements:
            there = last_node if element is run.elements[-1] else f"{element.body}.end"
            if element.holes:
                at = element.path[0]
                self._mouth(
                    here,
                    "holes",
                    at,
                    element.holes[0].direction,
                    element.bore,
                    name,
                    element.body,
                    holes=element.holes,
                )
            self._element(name, element, here, there)
            here = there
        if run.end in ("cap", "join") or last_node in self.taken:
            return
        last = run.elements[-1]
        kind: MouthKind = "nozzle" if run.end == "nozzle" else "strainer" if run.end == "strainer" else "open"
        at = last.path[-1] if kind == "nozzle" else run.end_at
        self._mouth(here, kind, at, run.end_direction, last.bore, name, last.body, size=run.end_size)

    def _element(self, name: str, element: Element, here: str, there: str) -> None:
        def add(kind: str, points: tuple[Vector, ...], start: str, end: str) -> None:
            self.lengths.append(
                PipeLength(
                    body=element.body,
                    part=name,
                    kind=kind,
                    bore=element.bore,
                    points=points,
                    start=start,
                    end=end,
                    opening=element.opening,
                )
            )

        if element.kind == "ball_valve" and element.opening == 0.0:
            return
        if element.kind == "tee":
            middle = f"{element.body}.middle"
            port = self.model.ports[element.branch]
            add("tee_run", element.path[:2], here, middle)
            add("tee_run", element.path[1:], middle, there)
            add("tee_branch", (element.path[1], self._seat(port)), middle, port.name)
            self.branches.append((port, element.body))
            return
        add(element.kind, element.path, here, there)

    def _seat(self, port: Port) -> Vector:
        """Return where the water goes on from a port: its socket's bottom, where the pipe in it ends."""
        depth = port.depth if port.end == "socket" and port.name in self.taken else 0.0
        x, y, z = (at - depth * way for at, way in zip(port.at, port.direction, strict=True))
        return (x, y, z)

    def _bulkheads(self) -> None:
        tank = self.model.tank_name
        for hole in self.model.tank.holes.values():
            if not hole.bulkhead or hole.plugged:
                continue
            inside, outside = (
                self.model.ports[f"{tank}.{hole.name}.{side}"] for side in ("inside", "outside")
            )
            body = f"{tank}.{hole.name}"
            self.lengths.append(
                PipeLength(
                    body=body,
                    part=tank,
                    kind="bulkhead",
                    bore=min(inside.bore, outside.bore),
                    points=(self._seat(inside), self._seat(outside)),
                    start=inside.name,
                    end=outside.name,
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
        holes: tuple[DripHole, ...] = (),
    ) -> None:
        name = body if kind == "holes" else node
        self.mouths.append(
            Mouth(
                name=name,
                node=node,
                kind=kind,
                at=at,
                direction=direction,
                bore=bore,
                part=part,
                body=body,
                water=self._water(holes[0].at if holes else at),
                size=size,
                holes=holes,
            )
        )

    def _water(self, point: Vector) -> str:
        if self.model.tank.holds(point):
            return self.model.tank_name
        found = sump_at(self.model, point)
        if found is None:
            return ""
        built, _, compartment = found
        return f"{built.part.name}.{compartment}" if compartment else built.part.name

    def _parted(self) -> tuple[Ways, ...]:
        group: dict[str, str] = {}

        def leader(node: str) -> str:
            while group.setdefault(node, node) != node:
                group[node] = group[group[node]]
                node = group[node]
            return node

        for length in self.lengths:
            group[leader(length.end)] = leader(length.start)
        nodes: Iterable[str] = dict.fromkeys(
            leader(node) for length in self.lengths for node in (length.start, length.end)
        )
        return tuple(
            Ways(
                lengths=tuple(length for length in self.lengths if leader(length.start) == root),
                mouths=tuple(mouth for mouth in self.mouths if leader(mouth.node) == root),
                pumps={pump: node for pump, node in self.pumps.items() if leader(node) == root},
                air=any(leader(node) == root for node in self.air),
            )
            for root in nodes
        )
