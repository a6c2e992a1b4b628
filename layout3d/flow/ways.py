"""The pipework of a model as ways for water: lengths of pipe, where they meet, and their mouths.

Runs, bulkheads and tees hang together here whether a pump drives them or not. Walls of bulkheads count as
pipe. A closed ball valve parts its run. What flows is computed elsewhere.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Literal

from layout3d.model.model import Model
from layout3d.parts.base import Built, Port, Vector
from layout3d.parts.run_data import DripHole, Element, RunData
from layout3d.parts.sump_data import SumpData
from layout3d.water.kept import kept

__all__ = ["Mouth", "PipeLength", "Way", "Ways", "pipe_ways", "sideways", "sump_at"]

MouthKind = Literal["open", "nozzle", "strainer", "holes", "bulkhead"]
MEETS = 1e-3  # how near an end comes to the port that it is meant for, [m]; the rule ports-meet judges it


@dataclass(frozen=True, slots=True, kw_only=True)
class PipeLength:
    """One element of pipework between two nodes; ``points`` run from ``start`` to ``end``, [m].

    ``kind`` is that of the element, 'bulkhead' or 'tee_run' and 'tee_branch' for the halves of a tee.
    ``bores`` are those of the pipe before it, for a change of bore, and its own.
    """

    body: str
    part: str
    kind: str
    bore: float
    points: tuple[Vector, ...]
    start: str
    end: str
    opening: float = 1.0

    @property
    def length(self) -> float:
        """Length of the centre line, [m]."""
        return sum(math.dist(a, b) for a, b in pairwise(self.points))

    def turned(self) -> PipeLength:
        """Return the same length the other way about."""
        return PipeLength(
            body=self.body,
            part=self.part,
            kind=self.kind,
            bore=self.bore,
            points=self.points[::-1],
            start=self.end,
            end=self.start,
            opening=self.opening,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Mouth:
    """Where water gets in or out: ``at`` its middle, ``direction`` out of the pipe, ``bore`` [m].

    ``water`` names the vessel in whose plan it lies: the tank, a sump's compartment as 'sump.name', or ''
    (the room). ``holes`` are its drip holes; ``size`` the pipe's name in the catalogue.
    """

    name: str
    node: str
    kind: MouthKind
    at: Vector
    direction: Vector
    bore: float
    part: str
    body: str
    water: str
    size: str = ""
    holes: tuple[DripHole, ...] = ()

    @property
    def lower_edge(self) -> float:
        """Height of the lowest point of its opening, z [m]; of a strainer, of the pipe behind it."""
        if self.kind == "holes":
            return min(hole.at[2] - hole.diameter / 2.0 for hole in self.holes)
        return self.at[2] - self.bore / 2.0 * sideways(self.direction)


@dataclass(frozen=True, slots=True, kw_only=True)
class Way:
    """A way through pipework from a mouth: lengths in order, each turned the way it is passed."""

    lengths: tuple[PipeLength, ...]

    @property
    def points(self) -> tuple[Vector, ...]:
        """Centre line, each point once, [m]."""
        line: list[Vector] = []
        for length in self.lengths:
            for point in length.points:
                if not line or math.dist(line[-1], point) > 1e-9:
                    line.append(point)
        return tuple(line)

    @property
    def bore(self) -> float:
        """Least bore on the way, [m]."""
        return min(length.bore for length in self.lengths)

    @property
    def length(self) -> float:
        """Length of the centre line, [m]."""
        return sum(length.length for length in self.lengths)

    @property
    def nodes(self) -> tuple[str, ...]:
        """Names of the nodes passed, the first and the last with them."""
        return (self.lengths[0].start, *(length.end for length in self.lengths)) if self.lengths else ()

    def invert(self) -> tuple[float, Vector]:
        """Return the height over which water has to rise to run through, z [m], and where that is.

        That is the highest lower edge of the bore, [m]: of a level pipe half a bore below its middle.
        """
        highest = -math.inf
        where: Vector = (0.0, 0.0, 0.0)
        for length in self.lengths:
            legs = [
                (a, b, sideways(tuple(q - p for p, q in zip(a, b, strict=True))))  # type: ignore[arg-type] # three floats
                for a, b in pairwise(length.points)
                if math.dist(a, b) > 1e-9
            ]
            for index, (a, b, flat) in enumerate(legs):
                # at a bend the level side's edge lies lower, and water goes over that
                before = max(flat, legs[index - 1][2]) if index else flat
                after = max(flat, legs[index + 1][2]) if index + 1 < len(legs) else flat
                for point, share in ((a, before), (b, after)):
                    edge = point[2] - length.bore / 2.0 * share
                    if edge > highest:
                        highest, where = edge, point
        return highest, where


@dataclass(frozen=True, slots=True, kw_only=True)
class Ways:
    """Pipework that hangs together: its lengths, its mouths, and the pumps whose outlets it takes.

    ``pumps`` maps a pump's name to the node of its outlet; air pumps are no pumps here but make ``air`` true.
    """

    lengths: tuple[PipeLength, ...]
    mouths: tuple[Mouth, ...]
    pumps: Mapping[str, str] = field(default_factory=dict)
    air: bool = False

    def way(self, start: str, end: str) -> Way | None:
        """Return the way with the fewest elements from one node to another; None if there is none."""
        came: dict[str, PipeLength | None] = {start: None}
        edge = [start]
        by_node: dict[str, list[PipeLength]] = defaultdict(list)
        for length in self.lengths:
            by_node[length.start].append(length)
            by_node[length.end].append(length.turned())
        while edge and end not in came:
            following = []
            for node in edge:
                for length in by_node[node]:
                    if length.end not in came:
                        came[length.end] = length
                        following.append(length.end)
            edge = following
        if end not in came:
            return None
        lengths = []
        node = end
        while (length_in := came[node]) is not None:
            lengths.append(length_in)
            node = length_in.start
        return Way(lengths=tuple(reversed(lengths)))


def sideways(direction: Vector) -> float:
    """Return the level share of a direction, 0 for upright to 1 for level, [-]."""
    x, y, z = direction
    whole = math.sqrt(x * x + y * y + z * z)
    return math.hypot(x, y) / whole if whole > 0.0 else 0.0


def sump_at(model: Model, point: Vector) -> tuple[Built, SumpData, str] | None:
    """Return the sump over or in whose plan a point lies, its data, and the compartment or ''."""
    for built in model.of_kind("sump"):
        data = built.data
        assert isinstance(data, SumpData), "a sump builds its data (sump_at)"
        low, high = data.interior.shape.bounds
        x, y, z = data.interior.placement.inverse().apply([list(point)])[0]
        if not (low[0] <= x <= high[0] and low[1] <= y <= high[1] and z >= low[2] - 1e-6):
            continue
        for compartment in data.compartments:
            if all(
                a - 1e-9 <= p <= b + 1e-9
                for p, a, b in zip(point[:2], compartment.low[:2], compartment.high[:2], strict=True)
            ):
                return built, data, compartment.name
        return built, data, ""
    return None


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
            add("tee_branch", (element.path[1], port.at), middle, port.name)
            self.branches.append((port, element.body))
            return
        add(element.kind, element.path, here, there)

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
                    points=(inside.at, outside.at),
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
        tank = self.model.tank
        inside = all(
            sum((p - o) * n for p, o, n in zip(point, panel.origin, panel.inward, strict=True)) >= -1e-9
            for panel in tank.panels.values()
        )
        if inside:
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
