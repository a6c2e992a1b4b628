"""What a sweep found, drawn: a line for one varied value, a map for two; faults marked, gaps left open."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

from layout3d.draw.charts import save_chart
from layout3d.draw.style import FINDING_MARKS, PAGE, WATER
from layout3d.errors import LayoutError, Place
from layout3d.place.asked import kind_of_figure
from layout3d.place.sweep import Axis, Row
from layout3d.units import system_shown, to_si

__all__ = ["sweep_chart", "sweep_figure"]

_UNITS = {  # of a kind, in metric and in inch scenes
    "volume": ("L", "gal"),
    "flow": ("L/h", "gph"),
    "mass": ("kg", "lb"),
    "length": ("mm", "in"),
    "pressure": ("kPa", "psi"),
}
_FIGURED = 120  # cells of a map that still get their figure written in


def sweep_chart(
    axes: Sequence[Axis], rows: Sequence[Row], show: Sequence[str], *, title: str, to: Path
) -> None:
    """Draw a sweep over one or two values, a picture for each figure beside the others, and save it.

    Raises
    ------
    LayoutError : more than two values, another suffix, or the file can't be written.
    """
    if len(axes) > 2:
        raise LayoutError(
            f"{len(axes)} varied values can't be drawn",
            expected="one (a line) or two (a map)",
            place=Place(str(to)),
        )
    save_chart(lambda: sweep_figure(axes, rows, show, title=title), to, title=title)


def sweep_figure(axes: Sequence[Axis], rows: Sequence[Row], show: Sequence[str], *, title: str) -> Any:
    """Return the chart; figures in the units of ``units.shown_in``."""
    from matplotlib.figure import Figure

    count = len(show)
    figure = Figure(
        figsize=(
            max(8.0, 5.6 * count) if len(axes) == 2 else 8.0,
            5.2 if len(axes) == 2 else 1.4 + 2.9 * count,
        ),
        layout="constrained",
    )
    grid = (1, count) if len(axes) == 2 else (count, 1)
    for number, name in enumerate(show, start=1):
        panel = figure.add_subplot(*grid, number)
        kind = kind_of_figure(name)
        unit = _UNITS.get(kind, ("", ""))[system_shown() == "inch"]
        values = np.array([np.nan if row.figures[name] is None else row.figures[name] for row in rows], float)
        values = values / (to_si(1, unit) if unit else 1.0)
        told = f"{_words(name)}, {unit}" if unit else _words(name)
        (_line if len(axes) == 1 else _map)(panel, axes, rows, values, told)
        if number == 1 and len(axes) == 1:
            panel.legend(loc="best")
    line = "sweep over " + " and ".join(axis.name for axis in axes)
    faulty = sum(bool(row.faults or row.refused) for row in rows)
    figure.suptitle(
        f"{title}: {line}\n{faulty} of {len(rows)} scenes with a fault or not to be built",
        x=0.01,
        ha="left",
        color=PAGE.ink,
        fontsize=12.0,
    )
    return figure


def _line(panel: Any, axes: Sequence[Axis], rows: Sequence[Row], values: Any, told: str) -> None:
    (axis,) = axes
    at = dict(zip(axis.texts, axis.figures, strict=True))
    x = np.array([at[row.values[axis.name]] for row in rows])
    bad = np.array([bool(row.faults) for row in rows], dtype=bool)
    panel.grid(linewidth=0.8)
    panel.plot(x, values, color=WATER.line, linewidth=2.0, zorder=2)
    panel.plot(x[~bad], values[~bad], "o", color=WATER.line, markersize=5.5, label="no fault", zorder=3)
    colour = FINDING_MARKS["fault"].colour
    panel.plot(x[bad], values[bad], "X", color=colour, markersize=8.5, label="a fault was found", zorder=3)
    refused = np.array([bool(row.refused) for row in rows], dtype=bool)
    if refused.any():
        panel.plot(
            x[refused],
            np.full(refused.sum(), 0.03),
            "|",
            color=colour,
            markersize=12,
            transform=panel.get_xaxis_transform(),
            label="can't be built",
        )
    panel.set_xlabel(_axis_words(axis))
    panel.set_ylabel(told)


def _map(panel: Any, axes: Sequence[Axis], rows: Sequence[Row], values: Any, told: str) -> None:
    down, across = axes
    shape = len(down.figures), len(across.figures)
    grid = np.full(shape, np.nan)
    marks = np.zeros(shape, dtype=int)
    for row, value in zip(rows, values, strict=True):
        cell = down.texts.index(row.values[down.name]), across.texts.index(row.values[across.name])
        grid[cell] = value
        marks[cell] = 2 if row.refused else bool(row.faults)
    panel.set_facecolor(PAGE.bottom)
    drawn = panel.imshow(grid, origin="lower", aspect="auto", cmap="cividis")
    bar = panel.figure.colorbar(drawn, ax=panel)
    bar.set_label(told, color=PAGE.ink)
    bar.outline.set_edgecolor(PAGE.leader)
    colour = FINDING_MARKS["fault"].colour
    for kind, sign, label in ((1, "X", "a fault was found"), (2, "s", "can't be built")):
        y, x = np.nonzero(marks == kind)
        if len(x):
            panel.scatter(
                x,
                y + (0.26 if grid.size <= _FIGURED else 0.0),
                marker=sign,
                s=42,
                color=colour,
                edgecolor=PAGE.halo,
                linewidth=0.8,
                label=label,
            )
    if (marks > 0).any():
        panel.legend(loc="upper center", bbox_to_anchor=(0.5, -0.13), ncols=2)
    if grid.size <= _FIGURED:
        _write_in(panel, grid)
    for axis, ticks, label in (
        (across, panel.set_xticks, panel.set_xlabel),
        (down, panel.set_yticks, panel.set_ylabel),
    ):
        step = max(1, -(-len(axis.figures) // 10))
        ticks(range(0, len(axis.figures), step), [f"{figure:g}" for figure in axis.figures[::step]])
        label(_axis_words(axis))


def _write_in(panel: Any, grid: Any) -> None:
    """Write each cell's figure into it, dark on light and light on dark."""
    low, high = (np.nanmin(grid), np.nanmax(grid)) if np.isfinite(grid).any() else (0.0, 1.0)
    for (y, x), value in np.ndenumerate(grid):
        if np.isfinite(value):
            light = high <= low or (value - low) / (high - low) > 0.55
            panel.text(
                x,
                y - 0.1,
                f"{value:.4g}",
                ha="center",
                va="center",
                fontsize=7.5,
                color=PAGE.ink if light else PAGE.top,
            )


def _words(name: str) -> str:
    return name.replace("_", " ").replace(".", ": ")


def _axis_words(axis: Axis) -> str:
    return f"{axis.name}, {axis.unit}" if axis.unit else axis.name
