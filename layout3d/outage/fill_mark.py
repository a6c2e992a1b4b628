"""The fill line of a circuit: the band that every event leaves on the return chamber, running and stopped."""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import replace

from layout3d.outage.circuit import Circuit
from layout3d.outage.drain_back import Body
from layout3d.outage.fill_line import (
    Bound,
    Mend,
    blocked_drain_bound,
    fill_line_band,
    outage_bound,
    run_down_bound,
    suction_bound,
)
from layout3d.outage.flood_data import Event, FillMark
from layout3d.outage.levels import Levels

__all__ = ["fill_mark"]

HIGH = 2  # the number of the high setting


def fill_mark(
    found: Circuit,
    power_cut: Event,
    *,
    loss: float,
    interval: float,
    margin: float,
    cover: float,
    density: float,
) -> FillMark:
    """Return the band for the fill line.

    Parameters
    ----------
    power_cut : whose high figure has to fit under the sump's rim
    loss, interval : by evaporation [kg/s], and between top-ups [s]
    margin : share of the drain-back kept free besides, [-]
    cover : of water over the pumps' inlets, [m]
    density : of water, [kg/m³]
    """
    sump = found.sump
    chamber = _up_to(sump.chamber, sump.chamber_top)
    whole = Body(name=sump.name, table=sump.whole, level=sump.whole.bottom, rim=sump.rim)
    running = found.sump_running(HIGH)
    elsewhere = max(0.0, running - found.chamber_volume)
    drained = power_cut.moved.high
    display = found.display(HIGH)
    air = min(max(found.draws_air, chamber.bottom), chamber.top)
    suction = min(max(found.suction, chamber.bottom), chamber.top)
    at_rest = sump.held(sump.resting(found.chamber_level))
    # what still comes to the chamber once the drain is blocked: heads over baffles, water in the drain
    more = max(0.0, running - at_rest) + found.drain_contents.high
    by_drain = power_cut.outcomes["high"].ruled_by in {drain.name for drain in found.drains}
    power_bound = outage_bound(
        whole,
        drained=drained * (1.0 + margin),
        elsewhere=elsewhere,
        margin=0.0,
        display=None if by_drain else display,
    )
    bounds = [
        _with_mends(power_bound, sump.whole.area(sump.rim), by_drain=by_drain),
        blocked_drain_bound(display, chamber, suction=suction, margin=0.0, top_up=more),
        run_down_bound(chamber, suction=air, loss=loss, interval=interval, density=density),
    ]
    if air + cover <= chamber.top:
        bounds.append(suction_bound(chamber, intake=air, cover=cover))
    line = fill_line_band(chamber, bounds)
    marks = None
    if line.lowest is not None and line.highest is not None:
        marks = (line.lowest, line.highest)

    def stopped(level: float) -> float:
        volume = chamber.volume(level) if level <= chamber.top else sump.chamber.volume(level)
        total = volume + found.sump_running() - found.chamber_volume + power_cut.moved.likely
        return sump.whole.level(min(total, sump.whole.volumes[-1])) - sump.floor

    return FillMark(
        line=line,
        running=None if marks is None else (marks[0] - sump.floor, marks[1] - sump.floor),
        stopped=None if marks is None else (stopped(marks[0]), stopped(marks[1])),
        mark=found.chamber_level - sump.floor,
        mark_stopped=stopped(found.chamber_level),
        devices=power_cut.devices,
    )


def _up_to(table: Levels, top: float) -> Levels:
    """Return a table that ends at ``top``, z [m]."""
    if top >= table.top:
        return table
    count = bisect_left(table.levels, top)
    return Levels(
        levels=(*table.levels[:count], top),
        volumes=(*table.volumes[:count], table.volume(top)),
        name=table.name,
    )


def _with_mends(bound: Bound, area: float, *, by_drain: bool) -> Bound:
    """Add how much higher a sump of the same plan would have to be; say what helps where a drain rules."""
    mends = list(bound.mends)
    if by_drain:
        # nothing siphons here: the water that runs back is what stands over the overflow's crest
        mends[0] = Mend(
            text="let {:.1f} L less drain back: a wider overflow needs less head", per_volume=1000.0
        )
    if area > 0.0:
        mends.append(Mend(text="make the sump {:.0f} mm higher", per_volume=1000.0 / area))
    return replace(bound, mends=tuple(mends))
