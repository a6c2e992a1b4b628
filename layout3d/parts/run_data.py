"""What a built run tells the others: its elements in order from start to end, its drip holes and supports."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

from layout3d.parts.base import Vector

__all__ = ["DripHole", "Element", "NoSupport", "RunData", "Support"]


@dataclass(frozen=True, slots=True, kw_only=True)
class DripHole:
    """A hole through a pipe's wall: centre on the outside, outward direction, distance along it, [m]."""

    at: Vector
    direction: Vector
    diameter: float
    wall: float
    along: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Element:
    """One piece of a run. ``path`` is its centreline from inlet to outlet, [m].

    ``kind`` is 'pipe', 'tube' or a fitting's kind. ``cut_length`` is the length to saw (pipe, tube), from
    socket bottom to socket bottom; ``visible`` that between the fittings' faces. ``bore`` is the least inside
    diameter. ``angle`` is the turn of an elbow, [rad]; ``opening`` that of a valve, [-]; ``branch`` the port
    a tee opens. ``step`` counts from 1 the step of the route it came from.
    """

    kind: str
    body: str
    size: str
    outside: float
    bore: float
    path: tuple[Vector, ...]
    cut_length: float = 0.0
    visible: tuple[Vector, Vector] | None = None
    angle: float = 0.0
    opening: float = 1.0
    branch: str = ""
    holes: tuple[DripHole, ...] = ()
    step: int = 0

    @property
    def flow_length(self) -> float:
        """Return the length of the centreline, [m]."""
        return sum(math.dist(a, b) for a, b in itertools.pairwise(self.path))


@dataclass(frozen=True, slots=True, kw_only=True)
class Support:
    """A clip or suction cup; ``at`` is on the run's centreline, ``along`` from its start, [m].

    ``body`` is '' where the room holds it.
    """

    body: str
    at: Vector
    along: float


@dataclass(frozen=True, slots=True, kw_only=True)
class NoSupport:
    """A support that the scene asks for and that can't be put there; ``at`` is on the run's centreline, [m].

    ``away`` is how far the run's middle is from what it should be fixed to (``wall``), None where nothing is
    beside it; ``reach`` is the least and greatest distance that it bridges, [m].
    """

    kind: str
    where: str
    at: Vector
    along: float
    against: str
    away: float | None = None
    wall: str = ""
    reach: tuple[float, float] = (0.0, 0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class RunData:
    """A built run. ``start_port`` and ``end_port`` are full port names or '' (an open or free end).

    ``end`` is 'open', 'join', 'cap', 'nozzle', 'strainer' or 'air_stone'. ``end_direction`` is that of the
    flow there. ``bend`` is the bend radius of a tube, [m]; ``least_bend`` the least it allows; both 0 for
    rigid pipe.
    """

    material: str
    flexible: bool
    size: str
    elements: tuple[Element, ...]
    start_port: str
    start: Vector
    start_direction: Vector
    end: str
    end_port: str
    end_at: Vector
    end_direction: Vector
    end_size: str
    supports: tuple[Support, ...] = ()
    no_supports: tuple[NoSupport, ...] = ()
    bend: float = 0.0
    least_bend: float = 0.0
