"""Pipework as ways for water: lengths of pipe between nodes, mouths, and the way from one node to another.

Gathered from a model by ``flow.ways``. What flows is computed elsewhere.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Literal

from layout3d.parts.base import Vector
from layout3d.parts.run_data import DripHole

__all__ = ["Mouth", "MouthKind", "PipeLength", "Way", "Ways", "sideways"]

MouthKind = Literal["open", "nozzle", "strainer", "holes", "bulkhead"]


@dataclass(frozen=True, slots=True, kw_only=True)
class PipeLength:
    """One element of pipework between two nodes; ``points`` run from ``start`` to ``end``, [m].

    ``kind`` is that of the element, 'bulkhead', or 'tee_run' and 'tee_branch' for the arms of a tee.
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
