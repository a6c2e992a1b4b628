"""Water by level as a chart: what the dipstick says, beside the same tank with nothing in it."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from layout3d.draw.chart_file import DASHED, chart_axes, save_chart, told_beside
from layout3d.draw.style import PAGE, WATER
from layout3d.model.model import Model
from layout3d.units import show, to_si
from layout3d.water.cavity import tank_cavity
from layout3d.water.gauge import Mark

__all__ = ["gauge_plot"]


def gauge_plot(model: Model, marks: Sequence[Mark], *, to: Path) -> None:
    """Draw the dipstick of a tank to a file, whole or not at all.

    Parameters
    ----------
    marks : as ``water.gauge.dipstick`` gives them
    to : PNG, SVG or PDF, by its suffix; an existing file is replaced

    Raises
    ------
    LayoutError : another suffix, or the file can't be written.
    """
    save_chart(lambda: _drawn(model, marks), to, title=model.scene.title)


def _drawn(model: Model, marks: Sequence[Mark]) -> Any:
    unit = "in" if model.scene.style == "inch" else "mm"
    gallons = to_si(1, "L") / to_si(1, "gal")  # in a litre
    levels = [mark.level / to_si(1, unit) for mark in marks]
    gross, net = ([getattr(mark, name) / to_si(1, "L") for mark in marks] for name in ("gross", "net"))
    figure, axes = chart_axes()
    axes.fill_betweenx(levels, net, color=WATER.side, alpha=0.45, linewidth=0)
    axes.plot(net, levels, color=WATER.line, linewidth=2.2)
    axes.plot(gross, levels, color=PAGE.soft_ink, linewidth=1.2, linestyle=DASHED)
    axes.set_xlim(0.0, max(gross) * 1.02)
    axes.set_ylim(0.0, levels[-1])
    axes.set_xlabel("water, L")
    axes.set_ylabel(f"level over the inside floor, {unit}")
    above = axes.secondary_xaxis(
        "top", functions=(lambda litres: litres * gallons, lambda gal: gal / gallons)
    )
    above.set_xlabel("gal (US)", color=PAGE.soft_ink)
    axes.set_title(model.scene.title, pad=14.0)

    # what each curve is beside it, and the waterline with its volume across
    water = float(tank_cavity(model).net(model.waterline)[0])
    level = model.waterline / to_si(1, unit)
    axes.axhline(level, color=WATER.line, linewidth=1.0)
    shown = show(model.waterline, "length", system=model.scene.style)
    up = level < 0.9 * levels[-1]
    told_beside(
        axes,
        f"waterline {shown}: {water / to_si(1, 'L'):,.1f} L, {water / to_si(1, 'gal'):,.1f} gal",
        (0.99, level),
        (0, 5 if up else -5),
        on=("axes fraction", "data"),
        ha="right",
        va="bottom" if up else "top",
        colour=WATER.line,
    )
    wet, dry = int(0.60 * (len(marks) - 1)), int(0.45 * (len(marks) - 1))
    at = (net[wet], levels[wet])
    told_beside(axes, "water", at, (-8, 0), ha="right", va="bottom", colour=WATER.line)
    told_beside(axes, "empty tank", (gross[dry], levels[dry]), (8, 0), va="top", colour=PAGE.soft_ink)
    return figure
