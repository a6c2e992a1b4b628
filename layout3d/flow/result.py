"""What runs through a model's pipework, as frozen data: pumps, stretches, ways out, drip bars, grade line.

Found by ``flow.running``. Every figure that fittings, holes or pumps have a hand in is a band. SI; heads
and heights are z in the tank's axes, [m].
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from layout3d.band import Band, Setting
from layout3d.flow.bar import Bar, HoleState
from layout3d.flow.network import DrilledPipe, Pipe
from layout3d.flow.pump import Curve
from layout3d.flow.steady import Crest, LinkState

__all__ = [
    "BarRun",
    "Cost",
    "Failure",
    "GradePoint",
    "HoleRun",
    "Idle",
    "PumpRun",
    "RunningFlow",
    "SiphonPoint",
    "Stretch",
    "System",
    "WayOut",
]

FailureKind = Literal["no flow", "beyond the curve", "not figured"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Failure:
    """Why no flow could be figured: what kind, the message, what would mend it, and at which losses.

    ``measured`` and ``limit`` are the shut-off head and the lift it lacks, [m], where that is the reason.
    """

    kind: FailureKind
    message: str
    remedy: str = ""
    setting: Setting = "likely"
    parts: tuple[str, ...] = ()
    measured: float | None = None
    limit: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PumpRun:
    """A pump at its point of operation.

    ``curve`` is the one at the set speed, that of its rated speed where it is stopped; ``water`` names the
    water it stands in; ``head`` is what it adds. Below 0 ``flow`` runs back through it: it is stopped, or
    another one overcomes it.
    """

    pump: str
    model: str
    speed: float
    water: str
    curve: Curve
    flow: Band
    head: Band
    state: LinkState

    @property
    def head_share(self) -> Band:
        """Head over the shut-off head at this speed, [-]; near 1 little flows, above it water runs back."""
        return self.head.map(lambda head: head / self.curve.shut_off_head)

    @property
    def flow_share(self) -> Band:
        """Flow over the greatest flow of the curve at this speed, [-]."""
        return self.flow.map(lambda flow: flow / self.curve.max_flow)


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """One element of pipework: flow (above 0 from its start to its end), speed, head lost and its cost.

    ``share`` is the part of the pumps' power that is lost in here, [-], likely; ``source`` that of its loss
    coefficient; ``loss`` None where it is cut off from all open water.
    """

    link: Pipe | DrilledPipe
    flow: Band
    velocity: Band
    loss: Band | None
    share: float
    state: LinkState
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class WayOut:
    """Where water leaves: a mouth, the holes of a drilled pipe, or open water that a pipe runs into.

    ``velocity`` is that in the mouth; None for holes and open water. ``height`` is the level the water
    leaves at, [m]: the mouth or the water over it, the lowest hole. ``crest`` is a top in its pipe that no
    water passes at likely losses.
    """

    name: str
    where: str
    kind: Literal["mouth", "bar", "water"]
    part: str
    height: float
    flow: Band
    velocity: Band | None = None
    crest: Crest | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class HoleRun:
    """One drip hole: place along its pipe, diameter and height [m], flow [m³/s].

    ``head`` is the static head over it, likely, and ``hold`` that which breaks its drop, [m].
    """

    number: int
    along: float
    diameter: float
    height: float
    flow: Band
    head: float
    hold: float
    state: HoleState


@dataclass(frozen=True, slots=True, kw_only=True)
class BarRun:
    """A drilled pipe as it runs; heads at its inlet as z, [m].

    ``variation`` is the coefficient of variation of the holes' flows, ``uniformity`` the mean of the weakest
    quarter over the mean, [-]. ``margin``: by how much the head over each hole exceeded that which breaks its
    drop as it began, the least of all, [m]. ``crest`` as in :class:`WayOut`.
    """

    run: str
    body: str
    bar: Bar
    holes: tuple[HoleRun, ...]
    flow: Band
    static_head: Band
    total_head: Band
    velocity: Band
    variation: Band
    uniformity: Band
    margin: Band
    crest: Crest | None = None

    @property
    def flow_per_metre(self) -> Band:
        """Flow over the length of wall that the holes serve, [m³/s per m]."""
        return self.flow.map(lambda flow: flow / self.bar.served_length)

    @property
    def level(self) -> float:
        """Mean height of the holes, [m]."""
        return sum(self.bar.heights) / self.bar.count

    def count(self, *states: HoleState) -> int:
        """Return how many holes are in one of these states."""
        return sum(hole.state in states for hole in self.holes)

    @property
    def on_the_brink(self) -> int:
        """How many holes run under a head that would not break their drop: once disturbed they stay shut."""
        return sum(hole.flow.likely > 0.0 and hole.head < hole.hold for hole in self.holes)


@dataclass(frozen=True, slots=True, kw_only=True)
class GradePoint:
    """The grade line at one node: how high water would rise there, and the fastest flow beside it."""

    node: str
    elevation: float | None
    head: Band | None
    velocity: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SiphonPoint:
    """Where water runs ``draw`` [m] below the air's pressure: it counts on a full pipe, without air."""

    node: str
    draw: float

    @property
    def place(self) -> str:
        """The body that the node ends."""
        return self.node.removesuffix(".end")


@dataclass(frozen=True, slots=True, kw_only=True)
class Cost:
    """Where a share of the pumps' power goes, [-], likely: a part, the lift, or the speed of what leaves."""

    what: str
    share: float
    kind: Literal["part", "lift", "exit"]


@dataclass(frozen=True, slots=True, kw_only=True)
class System:
    """Pipework that hangs together without passing through open water, and what runs in it.

    Where ``failures`` holds one for 'likely' there are no figures; one for 'low' or 'high' alone leaves the
    bands without that end, and is told. ``water_in`` and ``water_out``: all that enters and leaves, [m³/s].
    """

    pumps: tuple[PumpRun, ...] = ()
    stretches: tuple[Stretch, ...] = ()
    outs: tuple[WayOut, ...] = ()
    bars: tuple[BarRun, ...] = ()
    grade: tuple[GradePoint, ...] = ()
    costs: tuple[Cost, ...] = ()
    siphons: tuple[SiphonPoint, ...] = ()
    failures: tuple[Failure, ...] = ()
    pump_names: tuple[str, ...] = ()
    water_in: Band | None = None
    water_out: Band | None = None

    @property
    def deepest_siphons(self) -> dict[str, SiphonPoint]:
        """The deepest siphon of each run, by its part."""
        ordered = sorted(self.siphons, key=lambda one: one.draw)
        return {one.node.partition(".")[0]: one for one in ordered}

    @property
    def runs(self) -> bool:
        """Whether flow could be figured at likely losses."""
        return bool(self.pumps)

    @property
    def name(self) -> str:
        """Its pumps by name."""
        return ", ".join(self.pump_names)


@dataclass(frozen=True, slots=True, kw_only=True)
class Idle:
    """A pump that is left out, and why."""

    pump: str
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RunningFlow:
    """All that pumps keep running in a model."""

    systems: tuple[System, ...] = ()
    idle: tuple[Idle, ...] = ()
    notes: tuple[str, ...] = ()
    temperature: float = 24.0

    @property
    def pumps(self) -> tuple[PumpRun, ...]:
        """All running pumps."""
        return tuple(pump for system in self.systems for pump in system.pumps)

    @property
    def stretches(self) -> tuple[Stretch, ...]:
        """All elements of pipework."""
        return tuple(stretch for system in self.systems for stretch in system.stretches)

    @property
    def outs(self) -> tuple[WayOut, ...]:
        """All ways out."""
        return tuple(out for system in self.systems for out in system.outs)

    @property
    def bars(self) -> tuple[BarRun, ...]:
        """All drip bars."""
        return tuple(bar for system in self.systems for bar in system.bars)

    def failures(self) -> Iterator[Failure]:
        """Return what could not be figured."""
        for system in self.systems:
            yield from system.failures
