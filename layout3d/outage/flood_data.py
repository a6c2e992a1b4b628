"""What failures do to the water of a circuit, as frozen data: events with ledgers, run-down, fill mark.

Found by ``flow.flood``. SI; levels are z in the tank's axes, [m]. Each event keeps its books: all water
before it equals all water after it, on the floor or not.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from layout3d.band import SETTINGS, Band, Setting
from layout3d.outage.circuit import Circuit
from layout3d.outage.fill_line import FillLine

__all__ = ["BALANCE", "Event", "EventKind", "FillMark", "Flood", "Ledger", "Outcome", "RunDown"]

BALANCE = 1e-4  # share of all water that may go missing in the arithmetic of one event
EventKind = Literal["power cut", "blocked drain", "pump stopped", "sock clogged", "lets go"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Ledger:
    """Where all water is, [m³]: in the tank, the sump, in pipes out of both waters, on the floor."""

    tank: float
    sump: float
    pipes: float
    floor: float = 0.0

    @property
    def total(self) -> float:
        """All of it, [m³]."""
        return self.tank + self.sump + self.pipes + self.floor


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What one event comes to at one setting.

    ``tank_level`` and ``chamber_level`` at the end, z [m]; ``moved`` what went from one vessel to the other,
    [m³]; ``ruled_by`` what sets the tank's level.

    Raises
    ------
    ArithmeticError : water before and after differ by more than 0.01 %: a fault of the program.
    """

    before: Ledger
    after: Ledger
    tank_level: float
    chamber_level: float
    moved: float
    ruled_by: str = ""

    def __post_init__(self) -> None:
        if self.balance > BALANCE:
            raise ArithmeticError(
                f"a fault of the program in flow.flood: {self.balance:.3%} of the water is unaccounted for"
            )

    @property
    def balance(self) -> float:
        """Share of all water that is unaccounted for, [-]."""
        return abs(self.after.total - self.before.total) / max(self.before.total, 1e-12)

    @property
    def floor(self) -> float:
        """Water on the floor, [m³]."""
        return self.after.floor


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """One failure, taken alone and to its end, at low, likely and high losses of water.

    ``subject`` is the part or hole it happens to; ``devices`` tells which safeguards are taken to fail.
    ``tank_margin`` and ``sump_margin`` are what is left below the rims, [m].
    """

    kind: EventKind
    subject: str
    outcomes: Mapping[Setting, Outcome]
    tank_rim: float
    sump_rim: float
    devices: str = ""
    notes: tuple[str, ...] = ()

    def band(self, name: str) -> Band:
        """Return a figure of the outcomes as a band: tank_level, chamber_level, moved or floor."""
        figures = sorted(float(getattr(self.outcomes[setting], name)) for setting in SETTINGS)
        likely = float(getattr(self.outcomes["likely"], name))
        return Band(low=figures[0], likely=likely, high=figures[-1])

    @property
    def tank_level(self) -> Band:
        """Level of the tank at the end, z [m]."""
        return self.band("tank_level")

    @property
    def chamber_level(self) -> Band:
        """Level of the return chamber at the end, z [m]."""
        return self.band("chamber_level")

    @property
    def moved(self) -> Band:
        """Water that went from one vessel to the other, [m³]."""
        return self.band("moved")

    @property
    def floor(self) -> Band:
        """Water on the floor, [m³]."""
        return self.band("floor")

    @property
    def tank_margin(self) -> Band:
        """What is left below the level at which the tank spills, [m]."""
        return self.tank_level.map(lambda level: self.tank_rim - level)

    @property
    def sump_margin(self) -> Band:
        """What is left below the sump's rim, [m]."""
        return self.chamber_level.map(lambda level: self.sump_rim - level)


@dataclass(frozen=True, slots=True, kw_only=True)
class RunDown:
    """The return chamber as water evaporates: ``loss`` [kg/s], ``days`` until a pump draws air, [-].

    ``daily`` is what a day takes, [m³]; ``area`` the open water and wet wall counted, [m²]. ``days`` is None
    where nothing evaporates; ``why_not`` tells why no figure could be given.
    """

    loss: Band | None
    daily: Band | None
    days: Band | None
    area: Band
    stock: float
    why_not: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class FillMark:
    """The band for the fill line on the return chamber, as heights over the sump's floor, [m].

    ``running`` tells lowest and highest mark with the pumps running, ``stopped`` where the same water stands
    with all pumps stopped and all drained; None where there is none. ``mark`` is the scene's,
    ``mark_stopped`` where it comes to stand. ``line`` holds events, room and remedies. ``devices`` as in
    :class:`Event`.
    """

    line: FillLine
    running: tuple[float, float] | None
    stopped: tuple[float, float] | None
    mark: float
    mark_stopped: float
    devices: str = ""

    @property
    def miss(self) -> float:
        """How far the scene's mark lies outside the band, [m]: below 0 under it, above 0 over it, else 0."""
        if self.running is None:
            return 0.0
        low, high = self.running
        return min(0.0, self.mark - low) + max(0.0, self.mark - high)

    @property
    def holds(self) -> bool:
        """Whether there is a band and the mark lies in it."""
        return self.running is not None and abs(self.miss) < 1e-6


@dataclass(frozen=True, slots=True, kw_only=True)
class Flood:
    """All events of a circuit.

    ``power_cut`` with every safeguard working; ``failed`` the same with check valves or siphon breaks that
    fail, empty where there are none to fail. ``blocked`` has all drains stopped, and where there are several
    each alone. ``mark`` is the fill line with safeguards working, ``careful_mark`` with them failed.
    """

    circuit: Circuit
    power_cut: Event
    failed: tuple[Event, ...]
    blocked: tuple[Event, ...]
    stopped: tuple[Event, ...]
    clogged: tuple[Event, ...]
    holes: tuple[Event, ...]
    run_down: RunDown
    mark: FillMark
    careful_mark: FillMark

    @property
    def events(self) -> tuple[Event, ...]:
        """All events in the order of a report."""
        return (
            self.power_cut,
            *self.failed,
            *self.blocked,
            *self.stopped,
            *self.clogged,
            *self.holes,
        )

    @property
    def floods(self) -> bool:
        """Whether a power cut or a blocked drain puts water on the floor, or the fill line does not hold."""
        events = (self.power_cut, *self.failed, *self.blocked)
        return any(event.floor.high > 0.0 for event in events) or not self.mark.holds
