"""Where the fill line goes on the return chamber: lowest and highest safe mark, and what sets each.

The mark is the chamber's level while the pump runs. Each event gives a bound on the water in the chamber;
the band is what all of them leave.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Literal

from layout3d.band import Band
from layout3d.outage.circuit import Circuit
from layout3d.outage.failures import Body
from layout3d.units import show
from layout3d.water.level_table import LevelTable

__all__ = [
    "Bound",
    "FillLine",
    "FillMark",
    "FirstToFail",
    "Mend",
    "blocked_drain_bound",
    "fill_line_band",
    "fill_mark",
    "outage_bound",
    "run_down_bound",
    "suction_bound",
]

Side = Literal["lowest", "highest"]
HIGH = 2  # the number of the high setting


@dataclass(frozen=True, slots=True, kw_only=True)
class Mend:
    """One thing hands can do: ``text`` with a place for a figure, ``per_volume`` times the m³ short.

    ``kind`` is that of the figure, as in ``units.KINDS``. ``most`` is the shortage that it can make up, [m³]:
    no intake goes below its floor, and no less than nothing drains back.
    """

    text: str
    kind: str = "volume"
    per_volume: float = 1.0
    most: float = math.inf

    def told(self, volume: float) -> str:
        """Return the text for a shortage [m³]."""
        return self.text.format(show(self.per_volume * volume, self.kind, digits=3))


@dataclass(frozen=True, slots=True, kw_only=True)
class Bound:
    """What one event asks of the chamber: at least ("lowest") or at most ("highest") ``volume`` in it, [m³].

    The volume may lie below 0 or beyond the chamber: then no mark satisfies the event.
    """

    event: str
    side: Side
    volume: float
    mends: tuple[Mend, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class FirstToFail:
    """What fails first as the return chamber runs down: at which ``level``, z [m], in ``words``."""

    level: float
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class FillLine:
    """The band for the mark.

    lowest, highest: marks, z [m], None where there is none; lowest_event, highest_event: what sets each;
    room: water between them [m³], below 0 by what is missing; remedies: what to do where it is empty, each
    with its event and its figure. One remedy for every event named on one side (those that ask for more
    water, or those that ask for less) opens the band.
    """

    lowest: float | None
    highest: float | None
    lowest_event: str
    highest_event: str
    room: float
    remedies: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class FillMark:
    """The band for the fill line on the return chamber, as heights over the sump's floor, [m].

    ``running`` tells lowest and highest mark with the pumps running, ``stopped`` where the same water stands
    with all pumps stopped and all drained; None where there is none. ``mark`` is the scene's,
    ``mark_stopped`` where it comes to stand. ``line`` holds events, room and remedies. ``devices`` tells
    which safeguards are taken to fail.
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


def outage_bound(sump: Body, *, drained: float, elsewhere: float, display: Body | None = None) -> Bound:
    """Power cut: what comes down must fit under the sump's rim.

    Parameters
    ----------
    sump : the whole of it, over all baffles
    drained : what comes down (:func:`~layout3d.outage.failures.drain_back`), [m³]
    elsewhere : water in the sump's other chambers while the pump runs, [m³]
    display : None where a drain sets its level then; else a remedy says how far to raise the siphon break
    """
    mends = [
        Mend(text="let {} less drain back: raise the siphon break or the return's mouth", most=drained),
        Mend(text="make the sump larger by {} above its baffles"),
    ]
    if display is None:
        # nothing siphons here: the water that runs back is what stands over the overflow's crest
        text = "let {} less drain back: a wider overflow needs less head"
        mends[0] = replace(mends[0], text=text)
    elif display.table.area(display.level) > 0.0:
        per_volume = 1.0 / display.table.area(display.level)
        raised = Mend(
            text="raise the lowest siphon break by {}", kind="length", per_volume=per_volume, most=drained
        )
        mends.insert(0, raised)
    if (area := sump.table.area(sump.rim)) > 0.0:
        mends.append(Mend(text="make the sump {} higher", kind="length", per_volume=1.0 / area))
    return Bound(
        event="power cut",
        side="highest",
        volume=sump.table.volume(sump.rim) - elsewhere - drained,
        mends=tuple(mends),
    )


def blocked_drain_bound(display: Body, chamber: LevelTable, *, suction: float, top_up: float = 0.0) -> Bound:
    """Blocked drain: all that the pump can bring up must fit under the display's rim.

    Parameters
    ----------
    display : as it runs
    chamber : table of the return chamber
    suction : level at which the pump begins to draw air, z [m]
    top_up : reservoir of an automatic top-up, [m³]
    """
    mends = [
        Mend(text="add a second drain that carries the whole flow alone: {} have no room without it"),
    ]
    area = display.table.area(display.level)
    if area > 0.0:
        mends.append(Mend(text="lower the display's overflow by {}", kind="length", per_volume=1.0 / area))
    return Bound(
        event="blocked drain",
        side="highest",
        volume=chamber.volume(suction) + display.room - top_up,
        mends=tuple(mends),
    )


def run_down_bound(
    chamber: LevelTable, *, first: str, level: float, loss: float, interval: float, density: float = 997.0
) -> Bound:
    """Evaporation: nothing must fail before the next top-up.

    Parameters
    ----------
    chamber : table of the return chamber
    first, level : what fails first as the chamber runs down, and at which level, z [m]
    loss : the highest of :func:`~layout3d.outage.evaporation.evaporation`, [kg/s]
    interval : between top-ups, [s]
    density : of water, [kg/m³]
    """
    rate = loss / density
    lost = rate * interval
    mends = []
    if rate > 0.0:
        sooner = "top up {} sooner, or automatically"
        mends.append(Mend(text=sooner, kind="time", per_volume=1.0 / rate, most=lost))
        mends.append(Mend(text="cover open water: lose {} less between top-ups", most=lost))
    event = f"evaporation until {first}"
    return Bound(event=event, side="lowest", volume=chamber.volume(level) + lost, mends=tuple(mends))


def suction_bound(chamber: LevelTable, *, intake: float, cover: float) -> Bound:
    """Pump intake: enough water over it that it draws no air, ``cover`` over ``intake`` (z), [m]."""
    level = intake + cover
    area = chamber.area(level)
    deepest = max(0.0, chamber.volume(level) - chamber.volume(min(chamber.bottom + cover, chamber.top)))
    lower = "set the pump's intake lower by {}"
    mends = (Mend(text=lower, kind="length", per_volume=1.0 / area, most=deepest),) if area > 0.0 else ()
    return Bound(event="pump draws air", side="lowest", volume=chamber.volume(level), mends=mends)


def fill_line_band(chamber: LevelTable, bounds: Iterable[Bound]) -> FillLine:
    """Combine the bounds of all events into the lowest and highest safe mark on the return chamber.

    Parameters
    ----------
    chamber : table of the return chamber up to its highest mark (the baffle it would flow back over)
    bounds : of the events; the chamber itself bounds where none does

    Returns
    -------
    FillLine. Empty where the bounds cross or lie outside the chamber: then it says by how much water, and
    what would mend it.
    """
    larger = Mend(text="make the return chamber larger by {}")
    all_bounds = (
        Bound(event="bottom of the chamber", side="lowest", volume=chamber.volumes[0]),
        Bound(event="top of the chamber", side="highest", volume=chamber.volumes[-1], mends=(larger,)),
        *bounds,
    )
    lowest = max((bound for bound in all_bounds if bound.side == "lowest"), key=lambda bound: bound.volume)
    highest = min((bound for bound in all_bounds if bound.side == "highest"), key=lambda bound: bound.volume)
    room = highest.volume - lowest.volume
    remedies = []
    for bound in all_bounds:
        other = lowest if bound.side == "highest" else highest
        short = other.volume - bound.volume if bound.side == "highest" else bound.volume - other.volume
        if short > 0.0:
            able = (mend for mend in bound.mends if short <= mend.most)
            remedies += [f"{bound.event}: {mend.told(short)}" for mend in able]
    return FillLine(
        lowest=chamber.level(lowest.volume) if room >= 0.0 else None,
        highest=chamber.level(highest.volume) if room >= 0.0 else None,
        lowest_event=lowest.event,
        highest_event=highest.event,
        room=room,
        remedies=tuple(remedies),
    )


def fill_mark(
    found: Circuit,
    drained: Band,
    *,
    by_drain: bool,
    carried: bool,
    devices: str,
    first: FirstToFail,
    loss: float,
    interval: float,
    margin: float,
    cover: float,
    density: float,
) -> FillMark:
    """Return the band for the fill line of a circuit.

    Parameters
    ----------
    drained : what a power cut brings down, [m³]; its high figure has to fit under the sump's rim
    by_drain : whether a drain sets the tank's level then, not a siphon
    carried : whether the other drains carry the whole flow wherever one place of a drain is stopped
    devices : which safeguards are taken to fail
    first : what fails first as the chamber runs down, and at which level
    loss, interval : by evaporation [kg/s], and between top-ups [s]
    margin : share of the drain-back kept free besides, [-]
    cover : of water over the pumps' inlets, [m]
    density : of water, [kg/m³]
    """
    sump, display = found.sump, found.display(HIGH)
    chamber = sump.chamber.up_to(sump.chamber_top)
    running = found.sump_running(HIGH)
    at_rest = sump.held(sump.resting(found.chamber_level))
    air, suction, lowest = (
        min(max(level, chamber.bottom), chamber.top)
        for level in (found.draws_air, found.suction, first.level)
    )
    # what still comes to the chamber once the drain is blocked: heads over baffles, water in the drain
    more = max(0.0, running - at_rest) + found.drain_contents.high
    bounds = [
        outage_bound(
            Body(name=sump.name, table=sump.whole, level=sump.whole.bottom, rim=sump.rim),
            drained=drained.high * (1.0 + margin),
            elsewhere=max(0.0, running - found.chamber_volume),
            display=None if by_drain else display,
        ),
        run_down_bound(
            chamber, first=first.words, level=lowest, loss=loss, interval=interval, density=density
        ),
    ]
    if not carried:
        bounds.append(blocked_drain_bound(display, chamber, suction=suction, top_up=more))
    if air + cover <= chamber.top:
        bounds.append(suction_bound(chamber, intake=air, cover=cover))
    line = fill_line_band(chamber, bounds)
    marks = None if line.lowest is None or line.highest is None else (line.lowest, line.highest)

    def stopped(level: float) -> float:
        volume = chamber.volume(level) if level <= chamber.top else sump.chamber.volume(level)
        total = volume + found.sump_running() - found.chamber_volume + drained.likely
        return sump.whole.level(min(total, sump.whole.volumes[-1])) - sump.floor

    return FillMark(
        line=line,
        running=None if marks is None else (marks[0] - sump.floor, marks[1] - sump.floor),
        stopped=None if marks is None else (stopped(marks[0]), stopped(marks[1])),
        mark=found.chamber_level - sump.floor,
        mark_stopped=stopped(found.chamber_level),
        devices=devices,
    )
