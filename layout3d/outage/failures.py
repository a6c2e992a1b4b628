"""What goes wrong with the pump running: a blocked drain, a hose that lets go, a chamber that runs dry.

A power cut is in :mod:`layout3d.outage.drain_back`. Each event is taken alone, and to its end.
"""

from __future__ import annotations

from dataclasses import dataclass

from layout3d.band import Band
from layout3d.errors import OutOfRange
from layout3d.guards import above_zero, finite, not_negative, within
from layout3d.outage.drain_back import Body

__all__ = ["BlockedDrain", "blocked_drain", "lets_go", "run_down"]


@dataclass(frozen=True, slots=True, kw_only=True)
class BlockedDrain:
    """The display with its drain blocked and the pump run dry.

    level: of the display at the end, z [m]; moved: water the pump brought up [m³]; spilled: over the rim
    [m³]; margin: from the level to the rim [m], below 0 where it spills by as much as a higher rim would
    need; chamber_level: of the return chamber, z [m]; runs_dry: whether the pump draws air at the end; took:
    what the emergency drain's own pipe holds then [m³].
    """

    level: float
    moved: float
    spilled: float
    margin: float
    chamber_level: float
    runs_dry: bool
    took: float = 0.0


def blocked_drain(
    display: Body,
    chamber: Body,
    *,
    suction: float,
    top_up: float = 0.0,
    emergency: float | None = None,
    fills: float = 0.0,
    takes: float = 0.0,
) -> BlockedDrain:
    """Tell what happens when all drains (or all but the emergency drain) stop and the pump goes on.

    Parameters
    ----------
    display : as it runs
    chamber : the water the pump draws from, as it runs; what stands behind baffles stays there
    suction : level at which the pump begins to draw air, z [m]
    top_up : water that comes to the chamber meanwhile, [m³]: out of the blocked drain, a top-up's reservoir
    emergency : display level at which a second, clear drain carries the whole flow, z [m]; None for none
    fills : water that an overflow box takes up first, [m³]: to the mouth of its other drain, or to its weir
    takes : water that the emergency drain's own pipe takes up once it runs, [m³]; ``moved`` is without it

    Raises
    ------
    OutOfRange : a suction level out of the chamber's table; an emergency level below the running one.
    """
    within(suction, chamber.table.bottom, chamber.table.top, "suction level of the pump", "m")
    not_negative(top_up, "water of the top-up", "m³")
    least = chamber.table.volume(suction)
    not_negative(fills, "water that fills the overflow box", "m³")
    not_negative(takes, "water that fills the emergency drain", "m³")
    whole = max(0.0, chamber.volume - least) + top_up
    filled = min(fills, whole)
    stock = whole - filled
    room = display.room
    if emergency is not None:
        within(emergency, display.level, display.table.top, "level of the emergency drain", "m")
    if emergency is not None and emergency <= display.rim and filled == fills:
        held = display.table.volume(emergency) - display.volume
        if held <= stock:
            took = min(takes, stock - held)
            left = least + stock - held - took
            return BlockedDrain(
                level=emergency,
                moved=filled + held,
                spilled=0.0,
                margin=display.rim - emergency,
                chamber_level=chamber.table.level(min(left, chamber.table.volumes[-1])),
                runs_dry=took == stock - held,
                took=took,
            )
    spilled = max(0.0, stock - room)
    level = display.rim if spilled > 0.0 else display.table.level(display.volume + stock)
    area = display.table.area(display.rim)
    return BlockedDrain(
        level=level,
        moved=whole,
        spilled=spilled,
        margin=display.rim - level if spilled == 0.0 else -spilled / area if area > 0.0 else 0.0,
        chamber_level=min(chamber.level, suction),
        runs_dry=True,
    )


def lets_go(
    display: Body, chamber: Body, *, drains_to: float, pumped: bool, contents: float, suction: float
) -> tuple[float, float]:
    """Tell what a hose, pipe or bulkhead that lets go unnoticed leaves in the display and puts on the floor.

    Parameters
    ----------
    display, chamber, suction : as in :func:`blocked_drain`
    drains_to : level to which the display empties by it, z [m]: the lower edge of its hole, or the break of
        its siphon
    pumped : whether the pump pushes through it, and throws out the return chamber as well
    contents : water in the pipe itself, [m³]

    Returns
    -------
    The display's level at the end, z [m], and the water on the floor, [m³].

    Notes
    -----
    A gravity hose empties the display to its own level; while the pump runs, it also lifts what is in the
    return chamber to the display and so to the floor: it is counted.
    """
    within(suction, chamber.table.bottom, chamber.table.top, "suction level of the pump", "m")
    not_negative(contents, "water in what lets go", "m³")
    level = max(min(display.level, finite(drains_to, "level that it drains to", "m")), display.table.bottom)
    emptied = display.volume - display.table.volume(level)
    # a gravity hose above the water does nothing; a pumped one throws out the chamber wherever it is
    stock = max(0.0, chamber.volume - chamber.table.volume(suction)) if pumped or emptied > 0.0 else 0.0
    return level, emptied + stock + contents


def run_down(chamber: Body, *, suction: float, loss: Band, density: float = 997.0) -> Band:
    """Time until evaporation lets the pump draw air, [s].

    Parameters
    ----------
    chamber : the return chamber as it runs: all that evaporates anywhere is missing here
    suction : level at which the pump begins to draw air, z [m]
    loss : from :func:`~layout3d.outage.evaporation.evaporation`, [kg/s], above 0
    density : of water, [kg/m³]

    Returns
    -------
    Band, [s]; ``low`` at the highest loss is the one to plan by. 86 400 s is a day.

    Raises
    ------
    OutOfRange : no loss, or a suction level out of the chamber's table.
    """
    within(suction, chamber.table.bottom, chamber.table.top, "suction level of the pump", "m")
    if not loss.low > 0.0:
        raise OutOfRange(
            "a run-down needs a loss above 0 kg/s", remedy="check the humidity and the temperatures"
        )
    stock = max(0.0, chamber.volume - chamber.table.volume(suction))
    mass = stock * above_zero(density, "density of water", "kg/m³")
    return loss.map(lambda rate: mass / rate)
