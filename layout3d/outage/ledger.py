"""The water of a circuit before and after each failure, low, likely and high together, as frozen data.

Found by ``outage.outages``. SI; levels are z in the tank's axes, [m]. All water before an event is all water
after it, on the floor or not.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Literal

from layout3d.band import SETTINGS, Band
from layout3d.outage.circuit import Circuit
from layout3d.outage.fill_line import FillMark

__all__ = ["BALANCE", "NUMBERS", "End", "Event", "EventKind", "Ledger", "Outages", "RunDown", "Three", "each"]

BALANCE = 1e-4  # share of all water that may go missing in the arithmetic of one event
NUMBERS = range(len(SETTINGS))
EventKind = Literal["power cut", "blocked drain", "pump stopped", "sock clogged", "lets go", "drain beside"]
Three = tuple[float, float, float]
"""A figure at low, likely and high losses of water: not always in that order of size."""


def each(figure: Callable[[int], float]) -> Three:
    """Return a figure of 0, 1 and 2, the numbers of low, likely and high."""
    low, likely, high = (float(figure(number)) for number in NUMBERS)
    return (low, likely, high)


@dataclass(frozen=True, slots=True, kw_only=True)
class Ledger:
    """Where all water is, [m³]: in the tank, the sump, in pipes out of both waters, on the floor.

    What a drain brings to a sump that no pump returns from counts with the sump's.
    """

    tank: Three
    sump: Three
    pipes: Three
    floor: Three = (0.0, 0.0, 0.0)

    @property
    def total(self) -> Three:
        """All of it, [m³]."""
        return each(lambda n: self.tank[n] + self.sump[n] + self.pipes[n] + self.floor[n])


@dataclass(frozen=True, slots=True, kw_only=True)
class End:
    """How one event ends at one setting of the losses: levels z [m], and all water as in ``Ledger``, [m³].

    ``moved`` is what went from one vessel to the other, ``rule`` what sets the tank's level, ``boxes`` the
    levels of overflow boxes that end elsewhere than the scene has them.
    """

    tank_level: float
    chamber_level: float
    moved: float
    tank: float
    sump: float
    pipes: float
    floor: float = 0.0
    rule: str = ""
    boxes: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """One failure, taken alone and to its end, at low, likely and high losses of water.

    ``subject`` is the part or hole it happens to; ``devices`` tells which safeguards are taken to fail.
    ``tank_levels`` and ``chamber_levels`` are those at the end, z [m]; ``moves`` what went from one vessel to
    the other, [m³]; ``rules`` what sets the tank's level. ``tank_rim`` is the level at which the tank spills.
    ``box_levels`` are those of overflow boxes that end elsewhere than the scene has them, by name.

    Raises
    ------
    ArithmeticError : water before and after differ by more than 0.01 %: a fault of the program.
    """

    kind: EventKind
    subject: str
    before: Ledger
    after: Ledger
    tank_levels: Three
    chamber_levels: Three
    moves: Three
    tank_rim: float
    sump_rim: float
    rules: tuple[str, str, str] = ("", "", "")
    devices: str = ""
    notes: tuple[str, ...] = ()
    box_levels: Mapping[str, Three] = field(default_factory=dict)

    def __post_init__(self) -> None:
        worst = max(self.balance)
        if worst > BALANCE:
            raise ArithmeticError(
                f"a fault of the program in outage.ledger: {worst:.3%} of the water is unaccounted for"
            )

    @property
    def balance(self) -> Three:
        """Share of all water that is unaccounted for, [-]."""
        before, after = self.before.total, self.after.total
        return each(lambda n: abs(after[n] - before[n]) / max(before[n], 1e-12))

    @property
    def tank_level(self) -> Band:
        """Level of the tank at the end, z [m]."""
        return _band(self.tank_levels)

    @property
    def chamber_level(self) -> Band:
        """Level of the return chamber at the end, z [m]."""
        return _band(self.chamber_levels)

    @property
    def moved(self) -> Band:
        """Water that went from one vessel to the other, [m³]."""
        return _band(self.moves)

    @property
    def floor(self) -> Band:
        """Water on the floor, [m³]."""
        return _band(self.after.floor)

    @property
    def tank_margin(self) -> Band:
        """What is left below the level at which the tank spills, [m]."""
        return self.tank_level.map(lambda level: self.tank_rim - level)

    @property
    def sump_margin(self) -> Band:
        """What is left below the sump's rim, [m]."""
        return self.chamber_level.map(lambda level: self.sump_rim - level)


def _band(figures: Three) -> Band:
    return Band(low=min(figures), likely=figures[1], high=max(figures))


@dataclass(frozen=True, slots=True, kw_only=True)
class RunDown:
    """The return chamber as water evaporates: ``loss`` [kg/s], ``days`` until a pump draws air, [-].

    ``daily`` is what a day takes, [m³]; ``area`` the open water and wet wall counted, [m²]. ``days`` is None
    where nothing evaporates; ``why_not`` tells why no figure could be given. ``first`` is what fails first as
    the chamber runs down, and ``first_days`` when, where that comes before a pump draws air.
    """

    loss: Band | None
    daily: Band | None
    days: Band | None
    area: Band
    stock: float
    why_not: str = ""
    first: str = ""
    first_days: Band | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Outages:
    """All events of a circuit.

    ``power_cut`` with every safeguard working; ``failed`` the same with check valves or siphon breaks that
    fail, empty where there are none to fail. ``blocked`` has all drains stopped, and where there are several
    each alone; ``beside`` the drains that end over the floor, or in a sump
    that no pump returns from. ``mark`` is the fill line with safeguards
    working, ``careful_mark`` with them failed.
    """

    circuit: Circuit
    power_cut: Event
    failed: tuple[Event, ...]
    blocked: tuple[Event, ...]
    stopped: tuple[Event, ...]
    clogged: tuple[Event, ...]
    holes: tuple[Event, ...]
    beside: tuple[Event, ...]
    run_down: RunDown
    mark: FillMark
    careful_mark: FillMark

    @property
    def events(self) -> tuple[Event, ...]:
        """All events in the order of a report."""
        return (
            *self.beside,
            self.power_cut,
            *self.failed,
            *self.blocked,
            *self.stopped,
            *self.clogged,
            *self.holes,
        )

    @property
    def floods(self) -> bool:
        """Whether water gets on the floor by a power cut, a blocked drain or as it runs, or no mark holds."""
        events = (*self.beside, self.power_cut, *self.failed, *self.blocked)
        return any(event.floor.high > 0.0 for event in events) or not self.mark.holds
