"""Pipework as a graph: edges of pipe and fittings between nodes, mouths, pumps, and ways along it.

Read off a model by ``pipework.read``. Heights are z in the tank's axes, [m]. What flows is
computed elsewhere.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from itertools import pairwise
from typing import Literal

from layout3d.fittings.losses import NO_LOSS, Loss
from layout3d.parts.base import Vector
from layout3d.parts.run_data import DripHole

__all__ = ["Edge", "Mouth", "MouthKind", "Pipework", "PumpPort", "Step", "Way", "level_share"]

MouthKind = Literal["open", "nozzle", "strainer", "air_stone", "holes", "bulkhead", "outlet"]
"""'outlet' is that of a pump that nothing joins."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Edge:
    """One element of pipework between two nodes; ``points`` run from ``start`` to ``end``, [m].

    ``kind`` is that of the element in its run, 'bulkhead', or 'barb' where a tube goes on one; a tee has
    three edges. ``length`` is that with wall friction, [m]: 0 for a fitting, whose ``loss`` has all of it.
    ``loss`` and ``loss_back`` are those of water from start to end, and the other way, on the velocity in
    ``bore`` [m]; None where no figure is known, with the reason in ``no_loss``. ``opening`` is that of a
    valve, 0 closed; ``one_way`` a check valve that lets water pass from start to end.
    """

    name: str
    body: str
    part: str
    kind: str
    bore: float
    points: tuple[Vector, ...]
    start: str
    end: str
    length: float = 0.0
    loss: Loss | None = NO_LOSS
    loss_back: Loss | None = NO_LOSS
    no_loss: str = ""
    opening: float = 1.0
    one_way: bool = False
    holes: tuple[DripHole, ...] = ()

    @property
    def closed(self) -> bool:
        """Whether it is a valve that is shut: no water passes."""
        return self.opening == 0.0

    @property
    def centre_line(self) -> float:
        """Length of its centre line, [m], that of a fitting too."""
        return sum(math.dist(a, b) for a, b in pairwise(self.points))

    @property
    def volume(self) -> float:
        """Water that its bore holds, [m³]."""
        return 0.25 * math.pi * self.bore**2 * self.centre_line


@dataclass(frozen=True, slots=True, kw_only=True)
class Mouth:
    """Where water gets in or out: ``at`` its middle, ``direction`` out of the pipe, ``bore`` [m].

    ``vessel`` names what it opens in or over: the tank, a sump's compartment as 'sump.name', a sump alone
    where it is over none of them, or '' (the room). ``exit_loss`` and ``entry_loss`` are those of water that
    leaves and that enters here, on ``bore``. ``holes`` are its drip holes; ``size`` the pipe's name in the
    catalogue. ``meant`` is the port that it was to meet and misses.
    """

    name: str
    node: str
    kind: MouthKind
    at: Vector
    direction: Vector
    bore: float
    part: str
    body: str
    vessel: str
    exit_loss: Loss = NO_LOSS
    entry_loss: Loss = NO_LOSS
    size: str = ""
    holes: tuple[DripHole, ...] = ()
    meant: str = ""

    @property
    def lower_edge(self) -> float:
        """Height of the lowest point of its opening, z [m]; of a strainer, of the pipe behind it."""
        if self.kind == "holes":
            return min(hole.at[2] - hole.diameter / 2.0 for hole in self.holes)
        return self.at[2] - self.bore / 2.0 * level_share(self.direction)

    @property
    def branch(self) -> bool:
        """Whether it is the side of a tee that no run takes up."""
        return self.kind == "open" and self.node not in (f"{self.part}.start", f"{self.part}.end")

    @property
    def words(self) -> str:
        """What it is, for messages."""
        if self.kind == "holes":
            return f"a drip hole of {self.body}"
        if self.kind == "bulkhead":
            return f"the bulkhead at {self.node}"
        if self.kind == "outlet":
            return f"the outlet of {self.part}"
        if self.kind == "air_stone":
            return f"the air stone of {self.part}"
        if self.branch:
            return f"the branch {self.node}"
        return f"the {'start' if self.node == f'{self.part}.start' else 'end'} of {self.part}"


@dataclass(frozen=True, slots=True, kw_only=True)
class PumpPort:
    """A pump as pipework sees it: the ``node`` of its outlet, the middle of its ``inlet``, air or water."""

    name: str
    node: str
    inlet: Vector
    air: bool = False


@dataclass(frozen=True, slots=True)
class Step:
    """An edge as it is passed: ``forward`` from its start to its end, or back."""

    edge: Edge
    forward: bool

    @property
    def start(self) -> str:
        """Node that it is entered at."""
        return self.edge.start if self.forward else self.edge.end

    @property
    def end(self) -> str:
        """Node that it leads to."""
        return self.edge.end if self.forward else self.edge.start

    @property
    def points(self) -> tuple[Vector, ...]:
        """Centre line the way it is passed."""
        return self.edge.points if self.forward else self.edge.points[::-1]

    @property
    def loss(self) -> Loss | None:
        """Loss the way it is passed, on the edge's bore; None where none is known."""
        return self.edge.loss if self.forward else self.edge.loss_back


@dataclass(frozen=True, slots=True, kw_only=True)
class Way:
    """A way through pipework: its steps in order. Empty where it begins and ends at one node."""

    steps: tuple[Step, ...]

    @property
    def edges(self) -> tuple[Edge, ...]:
        """The edges passed, in order."""
        return tuple(step.edge for step in self.steps)

    @property
    def nodes(self) -> tuple[str, ...]:
        """Names of the nodes passed, the first and the last with them."""
        return (self.steps[0].start, *(step.end for step in self.steps)) if self.steps else ()

    @property
    def points(self) -> tuple[Vector, ...]:
        """Centre line, each point once, [m]."""
        line: list[Vector] = []
        for step in self.steps:
            for point in step.points:
                if not line or math.dist(line[-1], point) > 1e-9:
                    line.append(point)
        return tuple(line)

    @property
    def bore(self) -> float:
        """Least bore on the way, [m]."""
        return min(edge.bore for edge in self.edges)

    @property
    def length(self) -> float:
        """Length of the centre line, [m]."""
        return sum(edge.centre_line for edge in self.edges)

    @property
    def top(self) -> float:
        """Height of the highest point of the centre line, z [m]."""
        return max(point[2] for point in self.points)

    def valve_for(self) -> str:
        """Return the body of the first check valve that lets water pass this way only; '' without one."""
        return next((step.edge.body for step in self.steps if step.edge.one_way and step.forward), "")

    def barred_by(self) -> str:
        """Return the body of the first check valve that lets no water pass this way; '' without one."""
        return next((step.edge.body for step in self.steps if step.edge.one_way and not step.forward), "")

    def losses(self) -> tuple[tuple[Loss, float], ...]:
        """Return the loss of each step with its bore [m]; those that nothing is known of are left out."""
        return tuple((step.loss, step.edge.bore) for step in self.steps if step.loss is not None)

    def without_loss(self) -> tuple[Edge, ...]:
        """Return the edges that no loss is known for."""
        return tuple(step.edge for step in self.steps if step.loss is None)

    def crest(self) -> tuple[float, Vector]:
        """Return the height over which water has to rise to run through, z [m], and where that is.

        That is the highest lower edge of the bore, [m]: of a level pipe half a bore below its middle.
        """
        highest = -math.inf
        where: Vector = (0.0, 0.0, 0.0)
        for step in self.steps:
            legs = [
                (a, b, level_share((b[0] - a[0], b[1] - a[1], b[2] - a[2])))
                for a, b in pairwise(step.points)
                if math.dist(a, b) > 1e-9
            ]
            for index, (a, b, flat) in enumerate(legs):
                # at a bend the level side's edge lies lower, and water goes over that
                before = max(flat, legs[index - 1][2]) if index else flat
                after = max(flat, legs[index + 1][2]) if index + 1 < len(legs) else flat
                for point, share in ((a, before), (b, after)):
                    edge = point[2] - step.edge.bore / 2.0 * share
                    if edge > highest:
                        highest, where = edge, point
        return highest, where


@dataclass(frozen=True, kw_only=True)
class Pipework:
    """Pipework: edges, mouths and pumps in the order of the file. ``heights`` are those of nodes, z [m].

    Of a model (``pipework.read.pipework``) or of what hangs together in it (``parts``).
    """

    edges: tuple[Edge, ...]
    mouths: tuple[Mouth, ...]
    pumps: tuple[PumpPort, ...] = ()
    heights: Mapping[str, float] = field(default_factory=dict)
    notes: tuple[str, ...] = ()

    @cached_property
    def _steps(self) -> Mapping[str, tuple[Step, ...]]:
        """The steps that leave each node, through edges that are not closed."""
        by_node: dict[str, list[Step]] = defaultdict(list)
        for edge in self.edges:
            if not edge.closed:
                by_node[edge.start].append(Step(edge, True))
                by_node[edge.end].append(Step(edge, False))
        return {node: tuple(steps) for node, steps in by_node.items()}

    @property
    def air(self) -> bool:
        """Whether an air pump feeds it."""
        return any(pump.air for pump in self.pumps)

    @property
    def water_pumps(self) -> tuple[PumpPort, ...]:
        """The pumps that lift water into it."""
        return tuple(pump for pump in self.pumps if not pump.air)

    @cached_property
    def parts(self) -> tuple[Pipework, ...]:
        """What hangs together, each by itself; a closed valve parts its run and belongs to neither side."""
        group: dict[str, int] = {}
        for node in self.nodes:
            if node not in group:
                number = len(set(group.values()))
                group.update(dict.fromkeys(self.reached(node), number))
        count = len(set(group.values()))

        def own(number: int) -> Pipework:
            return replace(
                self,
                edges=tuple(e for e in self.edges if not e.closed and group[e.start] == number),
                mouths=tuple(mouth for mouth in self.mouths if group[mouth.node] == number),
                pumps=tuple(pump for pump in self.pumps if group[pump.node] == number),
                heights={node: z for node, z in self.heights.items() if group.get(node) == number},
            )

        return tuple(own(number) for number in range(count))

    @cached_property
    def nodes(self) -> tuple[str, ...]:
        """Names of all nodes: of edges, then of mouths and pumps that hang on none."""
        found = dict.fromkeys(node for edge in self.edges for node in (edge.start, edge.end))
        found |= dict.fromkeys(mouth.node for mouth in self.mouths)
        found |= dict.fromkeys(pump.node for pump in self.pumps)
        return tuple(found)

    def ways_down(self, tank: str) -> Iterator[tuple[Mouth, tuple[Mouth, ...], Way]]:
        """Yield the ways by which water runs from the tank without a pump, of what hangs together.

        Each as its mouth in the tank, all ends outside it, the lowest first, and the way to that one. A
        bulkhead with nothing on its outside is a leak and no end, which the rule plugged tells, unless over a
        sump.
        """
        ends = [
            mouth
            for mouth in self.mouths
            if mouth.vessel != tank and (mouth.kind != "bulkhead" or mouth.vessel)
        ]
        if self.pumps or not ends:
            return
        ends.sort(key=lambda mouth: (mouth.at[2], mouth.name))
        for mouth in self.mouths:
            way = self.way(mouth.node, ends[0].node) if mouth.vessel == tank else None
            if way is not None and way.edges:
                yield mouth, tuple(ends), way

    def part_of(self, node: str) -> Pipework | None:
        """Return what hangs together with a node; None where there is no such node."""
        return next((part for part in self.parts if node in part.nodes), None)

    def joined(self, port: str) -> bool:
        """Tell whether a run starts or ends at a port of a part, or is meant to."""
        own = port.rpartition(".")[0]
        return any(port in (edge.start, edge.end) and edge.body != own for edge in self.edges) or any(
            mouth.meant == port for mouth in self.mouths
        )

    def reached(self, start: str, *, through: Callable[[Edge], bool] = lambda _: True) -> tuple[str, ...]:
        """Return the nodes reached from one, that one first, through open edges that ``through`` allows."""
        seen, todo = {start: None}, [start]
        while todo:
            for step in self._steps.get(todo.pop(), ()):
                if step.end not in seen and through(step.edge):
                    seen[step.end] = None
                    todo.append(step.end)
        return tuple(seen)

    def way(self, start: str, end: str) -> Way | None:
        """Return the way with the fewest edges from one node to another; None where there is none.

        Closed valves are not passed; check valves are, against their way only where all ways are barred so.
        """
        return self._way(start, end, barred=False) or self._way(start, end, barred=True)

    def _way(self, start: str, end: str, *, barred: bool) -> Way | None:
        came: dict[str, Step | None] = {start: None}
        edge = [start]
        while edge and end not in came:
            following = []
            for node in edge:
                for step in self._steps.get(node, ()):
                    if step.end not in came and (barred or step.forward or not step.edge.one_way):
                        came[step.end] = step
                        following.append(step.end)
            edge = following
        if end not in came:
            return None
        steps: list[Step] = []
        node = end
        while (step_in := came[node]) is not None:
            steps.append(step_in)
            node = step_in.start
        return Way(steps=tuple(reversed(steps)))

    def closed_before(self, mouth: Mouth) -> str:
        """Return the closed valve that keeps a mouth dry, as nothing on its side holds water; '' for none.

        Water comes from a pump, or from another mouth in a vessel.
        """
        side = set(self.reached(mouth.node))
        if any(pump.node in side for pump in self.pumps):
            return ""
        if any(other.vessel and other.node in side for other in self.mouths if other is not mouth):
            return ""
        return next((edge.body for edge in self.edges if edge.closed and {edge.start, edge.end} & side), "")


def level_share(direction: Vector) -> float:
    """Return the level share of a direction, 0 for upright to 1 for level, [-]."""
    x, y, z = direction
    whole = math.sqrt(x * x + y * y + z * z)
    return math.hypot(x, y) / whole if whole > 0.0 else 0.0
