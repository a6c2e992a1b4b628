"""What failures do to waters that are told by their volume at each level: where all comes to rest.

Power cut, blocked drain, a hose that lets go, a chamber that runs dry; each alone, and to its end. Left out:
how long it takes, water that clings to walls and plants, and a check valve that does not close (take it as
none: that is the careful case).
"""

from __future__ import annotations

from dataclasses import dataclass

from layout3d.errors import OutOfRange
from layout3d.flow.roots import root
from layout3d.guards import within
from layout3d.units import show
from layout3d.water.level_table import LevelTable

__all__ = ["BlockedDrain", "Body", "DrainBack", "Path", "blocked_drain", "drain_back", "lets_go"]

ROUNDED_AWAY = 1e-15  # less water than this is rounding, and moves no level, [m³]
LEAST_BALANCED = 1e-6  # the balance is relative to what moves, or to 1 mL where less does, [m³]


@dataclass(frozen=True, slots=True, kw_only=True)
class Body:
    """Open water as it runs: its table, its ``level``, and the ``rim`` over which it spills, z [m]."""

    name: str
    table: LevelTable
    level: float
    rim: float

    def __post_init__(self) -> None:
        for name in ("level", "rim"):
            within(getattr(self, name), self.table.bottom, self.table.top, f"{name} of {self.name}", "m")
        if self.level > self.rim:
            level, rim = show(self.level, "length"), show(self.rim, "length")
            raise OutOfRange(f"{self.name} stands at {level}, above its rim at {rim}")

    @property
    def volume(self) -> float:
        """Water in it, [m³]."""
        return self.table.volume(self.level)

    @property
    def room(self) -> float:
        """Volume it takes before it spills, [m³]."""
        return self.table.volume(self.rim) - self.volume


@dataclass(frozen=True, slots=True, kw_only=True)
class Path:
    """One way down from a body: it drains that body to ``break_level`` and lets go of its own ``contents``.

    ``break_level``, z [m], is the crest of an overflow, the siphon-break hole of a return, or else the lowest
    mouth of a return under water. ``contents`` is the water in its pipe that falls to the sump, [m³]. A path
    with a ``check_valve`` that can be trusted lets nothing back and keeps its contents.
    """

    name: str
    body: str
    break_level: float
    contents: float = 0.0
    check_valve: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class DrainBack:
    """Where it all comes to rest.

    levels: of each body by name, z [m]; sump_level, z [m]; drained: by body [m³]; contents: from the pipes
    [m³]; spilled: over the sump's rim [m³]; rules: the path that sets each body's level, "" where none
    drains it.
    """

    levels: dict[str, float]
    sump_level: float
    drained: dict[str, float]
    contents: float
    spilled: float
    rules: dict[str, str]

    @property
    def volume(self) -> float:
        """All that came down, [m³]."""
        return sum(self.drained.values()) + self.contents


def drain_back(bodies: tuple[Body, ...], paths: tuple[Path, ...], sump: Body) -> DrainBack:
    """Find where every water stands after the pump has stopped.

    Parameters
    ----------
    bodies : waters above the sump that paths lead down from, each with a name of its own: display, overflow
        box
    paths : ways down, each from one of the bodies and no lower than its table
    sump : the water below; its table is for the whole of it, over all baffles

    Returns
    -------
    DrainBack. Water in equals water out to 0.01 %, checked.

    Notes
    -----
    A body drains to the lowest break level of its open paths, or to the sump's own level where that comes
    to stand higher; it never rises.
    """
    stops: dict[str, float] = {}
    rules: dict[str, str] = {}
    for body in bodies:
        open_paths = [path for path in paths if path.body == body.name and not path.check_valve]
        lowest = min(open_paths, key=lambda path: path.break_level, default=None)
        if lowest is None or lowest.break_level >= body.level:
            stops[body.name], rules[body.name] = body.level, ""
            continue
        stops[body.name], rules[body.name] = lowest.break_level, lowest.name
    contents = sum(path.contents for path in paths if not path.check_valve)

    def rest(sump_level: float) -> dict[str, float]:
        return {body.name: min(body.level, max(stops[body.name], sump_level)) for body in bodies}

    def held(sump_level: float) -> float:
        levels = rest(sump_level)
        above = sum(body.table.volume(levels[body.name]) for body in bodies)
        return sump.table.volume(sump_level) + above

    total = sump.volume + sum(body.volume for body in bodies) + contents
    spilled = max(0.0, total - held(sump.rim))
    if spilled > 0.0:
        sump_level = sump.rim
    else:
        sump_level = (
            root(lambda level: held(level) - total, sump.level, sump.rim)
            if total - held(sump.level) > ROUNDED_AWAY
            else sump.level
        )
    levels = rest(sump_level)
    drained = {body.name: body.volume - body.table.volume(levels[body.name]) for body in bodies}
    came = sum(drained.values()) + contents
    rise = sump.table.volume(sump_level) - sump.volume
    balance = abs(came - rise - spilled) / max(came, LEAST_BALANCED)
    if balance > 1e-4:
        raise ArithmeticError(
            f"a fault of the program in outage.failures: {balance:.2%} of the water is unaccounted for"
        )
    return DrainBack(
        levels=levels,
        sump_level=sump_level,
        drained=drained,
        contents=contents,
        spilled=spilled,
        rules=rules,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class BlockedDrain:
    """The display with its drain blocked and the pump run dry, or carried by another drain.

    level: of the display at the end, z [m]; moved: water the pump brought up [m³]; spilled: over the rim
    [m³]; chamber_level: of the return chamber, z [m]; took: what the emergency drain's own pipe holds then
    [m³].
    """

    level: float
    moved: float
    spilled: float
    chamber_level: float
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
    """
    least = chamber.table.volume(suction)
    whole = max(0.0, chamber.volume - least) + top_up
    filled = min(fills, whole)
    stock = whole - filled
    if emergency is not None and emergency <= display.rim and filled == fills:
        held = display.table.volume(emergency) - display.volume
        if held <= stock:
            took = min(takes, stock - held)
            left = least + stock - held - took
            return BlockedDrain(
                level=emergency,
                moved=filled + held,
                spilled=0.0,
                chamber_level=chamber.table.level(min(left, chamber.table.volumes[-1])),
                took=took,
            )
    spilled = max(0.0, stock - display.room)
    level = display.rim if spilled > 0.0 else display.table.level(display.volume + stock)
    return BlockedDrain(level=level, moved=whole, spilled=spilled, chamber_level=min(chamber.level, suction))


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
    level = max(min(display.level, drains_to), display.table.bottom)
    emptied = display.volume - display.table.volume(level)
    # a gravity hose above the water does nothing; a pumped one throws out the chamber wherever it is
    stock = max(0.0, chamber.volume - chamber.table.volume(suction)) if pumped or emptied > 0.0 else 0.0
    return level, emptied + stock + contents
