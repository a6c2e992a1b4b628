"""What a sweep found as JSON, SI, as a table in the units of ``units.shown_in``, and as CSV."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping, Sequence
from typing import Any

from layout3d.place.asked import kind_of_figure
from layout3d.place.sweep import Axis, Row
from layout3d.report.json import FORMAT
from layout3d.report.writing import Line, section, table
from layout3d.units import KINDS, show

__all__ = ["sweep_csv", "sweep_json", "sweep_lines"]


def sweep_json(scene: str, axes: Sequence[Axis], rows: Sequence[Row], *, asked: int) -> dict[str, Any]:
    """Return the object that ``sweep --json`` prints; ``asked`` is how many rows there would have been."""
    return {
        "format": FORMAT,
        "scene": scene,
        "vary": [{"name": axis.name, "unit": axis.unit, "values": list(axis.figures)} for axis in axes],
        "asked": asked,
        "rows": [
            {
                "values": _values(axes, row),
                "figures": dict(row.figures),
                "faults": list(row.faults),
                "refused": row.refused,
            }
            for row in rows
        ],
    }


def sweep_csv(axes: Sequence[Axis], rows: Sequence[Row], show: Sequence[str]) -> str:
    """Return the rows as CSV: varied values in their own units, figures in SI, each named in the header."""
    text = io.StringIO()
    out = csv.writer(text, lineterminator="\n")
    heads = [f"{axis.name} [{axis.unit}]" if axis.unit else axis.name for axis in axes]
    units = {name: KINDS[kind_of_figure(name)].unit for name in show}
    heads += [f"{name} [{units[name]}]" if units[name] else name for name in show]
    out.writerow([*heads, "faults", "refused"])
    for row in rows:
        figures = ["" if row.figures[name] is None else repr(row.figures[name]) for name in show]
        refused = row.refused.splitlines()[0] if row.refused else ""
        out.writerow([*_values(axes, row).values(), *figures, " ".join(row.faults), refused])
    return text.getvalue()


def sweep_lines(axes: Sequence[Axis], rows: Sequence[Row], names: Sequence[str], *, asked: int) -> list[Line]:
    """Return the rows as a table."""
    bare = {axis.name for axis in axes if axis.unit and not axis.texts[0].endswith(axis.unit)}
    heads = [f"{axis.name}, {axis.unit}" if axis.name in bare else axis.name for axis in axes]
    cells = [[*heads, *names, "faults"]]
    for row in rows:
        figures = [_shown(row.figures, name) for name in names]
        faults = ", ".join(row.faults) or "none"
        cells.append([*row.values.values(), *figures, "can't be built" if row.refused else faults])
    lines = table(cells, right=range(len(axes) + len(names)))
    refused = list(dict.fromkeys(row.refused for row in rows if row.refused))
    why = [Line(one, indent=1) for text in refused[:3] for one in text.splitlines()]
    lines += section("why scenes can't be built, the first of each kind:", why)
    if len(rows) < asked:
        lines += [Line(""), Line(f"stopped: {len(rows)} of {asked} scenes were reached", style="warning")]
    return lines


def _values(axes: Sequence[Axis], row: Row) -> dict[str, float]:
    return {axis.name: axis.figures[axis.texts.index(row.values[axis.name])] for axis in axes}


def _shown(figures: Mapping[str, float | None], name: str) -> str:
    value = figures[name]
    return "no figure" if value is None else show(value, kind_of_figure(name))
