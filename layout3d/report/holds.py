"""How rock and wood holds, as JSON and as lines of text; figures in the units of ``units.shown_in``."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from layout3d.hold.hold import HOLD_CAUTION, Hold
from layout3d.report.json import told
from layout3d.report.writing import Line, section, table
from layout3d.units import show

__all__ = ["HOLD_CAUTION", "hold_lines", "holds_json"]


def holds_json(holds: Sequence[Hold]) -> list[dict[str, Any]]:
    """Return what ``check --json`` prints of each piece, SI units."""
    keys = (
        "part parts rests_on fixed_to mass people lift lift_dried tip_angle push push_dry push_flooded "
        "stands falls_at loads on_glass leans"
    )
    return [told(hold, keys) for hold in holds]


def hold_lines(holds: Sequence[Hold]) -> list[Line]:
    """Return a table of the pieces, heaviest first; empty for none."""

    def force(newtons: float | None) -> str:
        return "-" if newtons is None else show(newtons, "force", digits=2)

    rows = [("piece", "weighs", "tips at", "pushed over by", "in water", "rests on")]
    for hold in sorted(holds, key=lambda each: -each.mass):
        mass = show(hold.mass, "mass", digits=3)
        people = f" ({hold.people} people)" if hold.people > 1 else ""
        tips = "-" if hold.tip_angle is None else show(hold.tip_angle, "angle", digits=2)
        water = f"{'lifted' if hold.lift > 0 else 'sinks'} by {force(abs(hold.lift))}"
        on = (
            f"fixed to {', '.join(hold.fixed_to)}" if hold.fixed_to else ", ".join(hold.rests_on) or "nothing"
        )
        rows.append((hold.part, mass + people, tips, force(hold.push), water, on))
    return section("Rock and wood", table(rows, right=(1, 2, 3), headed=True) if holds else ())
