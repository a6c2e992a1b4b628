"""Where the fill line goes on the return chamber: lowest and highest safe mark, and what sets each.

The mark is the chamber's level while the pump runs. Each event gives a bound on the water in the chamber;
the band is what all of them leave.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

from layout3d.errors import OutOfRange
from layout3d.guards import above_zero, finite, not_negative, within
from layout3d.outage.drain_back import Body
from layout3d.outage.levels import Levels

__all__ = [
    "Bound",
    "FillLine",
    "Mend",
    "blocked_drain_bound",
    "fill_line_band",
    "outage_bound",
    "run_down_bound",
    "suction_bound",
]

Side = Literal["lowest", "highest"]
DAY = 86400.0  # [s]


@dataclass(frozen=True, slots=True, kw_only=True)
class Mend:
    """One thing hands can do: ``text`` with a place for a figure, ``per_volume`` times the m³ short."""

    text: str
    per_volume: float

    def told(self, volume: float) -> str:
        """Return the text for a shortage [m³]."""
        return self.text.format(self.per_volume * volume)


@dataclass(frozen=True, slots=True, kw_only=True)
class Bound:
    """What one event asks of the chamber: at least ("lowest") or at most ("highest") ``volume`` in it, [m³].

    The volume may lie below 0 or beyond the chamber: then no mark satisfies the event.
    """

    event: str
    side: Side
    volume: float
    mends: tuple[Mend, ...] = ()

    def __post_init__(self) -> None:
        finite(self.volume, f"volume of the bound {self.event!r}", "m³")
        if self.side not in ("lowest", "highest"):
            raise OutOfRange(f"a bound is the lowest or the highest, got {self.side!r}")


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


def outage_bound(
    sump: Body, *, drained: float, elsewhere: float, margin: float, display: Body | None = None
) -> Bound:
    """Power cut: what comes down must fit under the sump's rim.

    Parameters
    ----------
    sump : the whole of it, over all baffles
    drained : what comes down (:func:`~layout3d.outage.drain_back.drain_back`), [m³]
    elsewhere : water in the sump's other chambers while the pump runs, [m³]
    margin : kept free below the rim, [m]
    display : where given, a remedy says how far to raise the siphon break
    """
    not_negative(drained, "water that drains back", "m³")
    not_negative(elsewhere, "water in the other chambers", "m³")
    limit = sump.rim - not_negative(margin, "margin below the rim", "m")
    within(limit, sump.table.bottom, sump.table.top, "rim less margin", "m")
    mends = [
        Mend(
            text="let {:.1f} L less drain back: raise the siphon break or the return's mouth",
            per_volume=1000.0,
        ),
        Mend(text="make the sump larger by {:.1f} L above its baffles", per_volume=1000.0),
    ]
    if display is not None and display.table.area(display.level) > 0.0:
        per_volume = 1000.0 / display.table.area(display.level)
        mends.insert(0, Mend(text="raise the lowest siphon break by {:.0f} mm", per_volume=per_volume))
    return Bound(
        event="power cut",
        side="highest",
        volume=sump.table.volume(limit) - elsewhere - drained,
        mends=tuple(mends),
    )


def blocked_drain_bound(
    display: Body, chamber: Levels, *, suction: float, margin: float, top_up: float = 0.0
) -> Bound:
    """Blocked drain: all that the pump can bring up must fit under the display's rim.

    Parameters
    ----------
    display : as it runs
    chamber : table of the return chamber
    suction : level at which the pump begins to draw air, z [m]
    margin : kept free below the display's rim, [m]
    top_up : reservoir of an automatic top-up, [m³]
    """
    limit = display.rim - not_negative(margin, "margin below the rim", "m")
    within(limit, display.table.bottom, display.table.top, "rim less margin", "m")
    room = display.table.volume(limit) - display.volume
    not_negative(top_up, "water of the top-up", "m³")
    mends = [
        Mend(
            text="add a second drain that carries the whole flow alone: {:.1f} L have no room without it",
            per_volume=1000.0,
        ),
    ]
    area = display.table.area(display.level)
    if area > 0.0:
        mends.append(Mend(text="lower the display's overflow by {:.0f} mm", per_volume=1000.0 / area))
    return Bound(
        event="blocked drain",
        side="highest",
        volume=chamber.volume(suction) + room - top_up,
        mends=tuple(mends),
    )


def run_down_bound(
    chamber: Levels, *, suction: float, loss: float, interval: float, density: float = 997.0
) -> Bound:
    """Evaporation: the pump must not draw air before the next top-up.

    Parameters
    ----------
    chamber : table of the return chamber
    suction : level at which the pump begins to draw air, z [m]
    loss : the highest of :func:`~layout3d.outage.evaporation.evaporation`, [kg/s]
    interval : between top-ups, [s]
    density : of water, [kg/m³]
    """
    rate = not_negative(loss, "evaporation", "kg/s") / above_zero(density, "density of water", "kg/m³")
    lost = rate * not_negative(interval, "interval between top-ups", "s")
    mends = []
    if rate > 0.0:
        mends.append(Mend(text="top up {:.1f} days sooner, or automatically", per_volume=1.0 / rate / DAY))
        mends.append(Mend(text="cover open water: lose {:.1f} L less between top-ups", per_volume=1000.0))
    return Bound(
        event="evaporation", side="lowest", volume=chamber.volume(suction) + lost, mends=tuple(mends)
    )


def suction_bound(chamber: Levels, *, intake: float, cover: float) -> Bound:
    """Pump intake: enough water over it that it draws no air, ``cover`` over ``intake`` (z), [m]."""
    level = finite(intake, "intake of the pump", "m") + not_negative(cover, "cover over the intake", "m")
    area = chamber.area(level)
    mends = (
        (Mend(text="set the pump's intake lower by {:.0f} mm", per_volume=1000.0 / area),)
        if area > 0.0
        else ()
    )
    return Bound(event="pump draws air", side="lowest", volume=chamber.volume(level), mends=mends)


def fill_line_band(chamber: Levels, bounds: Iterable[Bound]) -> FillLine:
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
    larger = Mend(text="make the return chamber larger by {:.1f} L", per_volume=1000.0)
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
            remedies += [f"{bound.event}: {mend.told(short)}" for mend in bound.mends]
    return FillLine(
        lowest=chamber.level(lowest.volume) if room >= 0.0 else None,
        highest=chamber.level(highest.volume) if room >= 0.0 else None,
        lowest_event=lowest.event,
        highest_event=highest.event,
        room=room,
        remedies=tuple(remedies),
    )
