"""Room to swim, as JSON and as lines of text, in the scene's own units."""

from __future__ import annotations

from typing import Any

from layout3d.report.figures import both_volumes
from layout3d.report.json import told
from layout3d.report.writing import Line, table
from layout3d.swim.room import Room
from layout3d.units import show

__all__ = ["swim_json", "swim_lines"]


def swim_json(room: Room) -> dict[str, Any]:
    """Return what ``check --json`` prints of the room to swim, SI units."""
    return told(room, "sizes widest front behind cell give")


def swim_lines(room: Room, *, style: str) -> list[Line]:
    """Return the room for each size of fish, its traps, and the ways along the tank."""

    def length(metres: float) -> str:
        return show(metres, "length", system=style)

    lines = [Line(""), Line("Room to swim", style="head")]
    lines += table(
        [(f"for a fish {length(size.depth)} deep", *both_volumes(size.volume)) for size in room.sizes],
        right=(1, 2),
    )
    for size in room.sizes:
        for pocket in size.traps:
            gap = f"{length(pocket.gap)} to {length(pocket.gap_most)}"
            at = ", ".join(length(each) for each in pocket.at)
            litres = both_volumes(pocket.volume)[0]
            what = f"may trap one {length(size.depth)} deep: {litres} at {at}, by a gap of {gap}"
            lines.append(Line(what, 2))
    if room.front is not None and room.behind is not None:
        ways = f"{length(room.front)} before rock and wood, {length(room.behind)} behind"
        lines.append(Line(f"along the tank passes a ball of {ways}", 2))
    lines.append(
        Line(
            f"these are certain on a grid of {length(room.cell)}; ways may be {length(room.give)} wider",
            2,
            "faint",
        )
    )
    return lines
