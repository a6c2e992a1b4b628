"""Room to swim, as JSON and as lines of text; figures in the units of ``units.shown_in``."""

from __future__ import annotations

from typing import Any

from layout3d.report.figures import both_volumes
from layout3d.report.json import told
from layout3d.report.writing import Line, section, table
from layout3d.swim.room import Room
from layout3d.units import show

__all__ = ["swim_json", "swim_lines"]


def swim_json(room: Room) -> dict[str, Any]:
    """Return what ``check --json`` prints of the room to swim, SI units."""
    return told(room, "sizes widest front behind cell give")


def swim_lines(room: Room) -> list[Line]:
    """Return the room for each size of fish, its traps, and the ways along the tank."""
    lines = table(
        [
            (f"for a fish {show(size.depth, 'length')} deep", *both_volumes(size.volume))
            for size in room.sizes
        ],
        right=(1, 2),
    )
    for size in room.sizes:
        for pocket in size.traps:
            gap = f"{show(pocket.gap, 'length')} to {show(pocket.gap_most, 'length')}"
            at = ", ".join(show(each, "length") for each in pocket.at)
            litres = both_volumes(pocket.volume)[0]
            what = f"may trap one {show(size.depth, 'length')} deep: {litres} at {at}, by a gap of {gap}"
            lines.append(Line(what, 2))
    if room.front is not None and room.behind is not None:
        ways = f"{show(room.front, 'length')} before rock and wood, {show(room.behind, 'length')} behind"
        lines.append(Line(f"along the tank passes a ball of {ways}", 2))
    cell, give = show(room.cell, "length"), show(room.give, "length")
    certain = f"these are certain on a grid of {cell}; ways may be {give} wider"
    return section("Room to swim", [*lines, Line(certain, 2, "faint")])
