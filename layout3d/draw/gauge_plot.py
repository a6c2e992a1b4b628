"""Water by level as a chart: what the dipstick says, beside the same tank with nothing in it."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from layout3d.draw.chart_file import save_chart
from layout3d.draw.style import PAGE, WATER
from layout3d.model.model import Model
from layout3d.units import show, to_si
from layout3d.water.cavity import tank_cavity
from layout3d.water.gauge import Mark

__all__ = ["gauge_plot"]

_SIZE = (8.0, 5.5)  # [in]


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
    from matplotlib.figure import Figure

    style = model.scene.style
    unit = "in" if style == "inch" else "mm"
    levels = [mark.level / to_si(1, unit) for mark in marks]
    litres = {name: [getattr(mark, name) / to_si(1, "L") for mark in marks] for name in ("gross", "net")}
    figure = Figure(figsize=_SIZE, layout="constrained")
    axes = figure.add_subplot()
    axes.set_facecolor(PAGE.top)
    axes.fill_betweenx(levels, litres["net"], color=WATER.side, alpha=0.45, linewidth=0)
    axes.plot(litres["net"], levels, color=WATER.line, linewidth=2.2)
    axes.plot(litres["gross"], levels, color=PAGE.soft_ink, linewidth=1.2, linestyle=(0, (5, 3)))
    axes.set_xlim(0.0, max(litres["gross"]) * 1.02)
    axes.set_ylim(0.0, levels[-1])
    axes.set_xlabel("water, L", color=PAGE.ink)
    axes.set_ylabel(f"level over the inside floor, {unit}", color=PAGE.ink)
    above = axes.secondary_xaxis("top", functions=(_gallons_of, _litres_of))
    above.set_xlabel("gal (US)", color=PAGE.soft_ink)
    axes.grid(color=PAGE.bottom, linewidth=0.8)
    for ticked in (axes, above):
        ticked.tick_params(colors=PAGE.soft_ink)
    for spine in axes.spines.values():
        spine.set_color(PAGE.leader)
    _name_curves(axes, model, marks, unit)
    axes.set_title(model.scene.title, loc="left", color=PAGE.ink, fontsize=13.0, pad=14.0)
    return figure


def _gallons_of(litres: Any) -> Any:
    return litres * to_si(1, "L") / to_si(1, "gal")


def _litres_of(gallons: Any) -> Any:
    return gallons * to_si(1, "gal") / to_si(1, "L")


def _name_curves(axes: Any, model: Model, marks: Sequence[Mark], unit: str) -> None:
    """Write what each curve is beside it, and the waterline with its volume across."""
    net = float(tank_cavity(model).net(model.waterline)[0])
    level = model.waterline / to_si(1, unit)
    axes.axhline(level, color=WATER.line, linewidth=1.0)
    style = model.scene.style
    shown = show(model.waterline, "length", system=style)
    above = level < 0.9 * marks[-1].level / to_si(1, unit)
    axes.annotate(
        f"waterline {shown}: {net / to_si(1, 'L'):,.1f} L, {net / to_si(1, 'gal'):,.1f} gal",
        xy=(0.99, level),
        xycoords=("axes fraction", "data"),
        xytext=(0, 5 if above else -5),
        textcoords="offset points",
        ha="right",
        va="bottom" if above else "top",
        color=WATER.line,
    )
    for name, told, share, side in (("net", "water", 0.60, "right"), ("gross", "empty tank", 0.45, "left")):
        mark = marks[int(share * (len(marks) - 1))]
        axes.annotate(
            told,
            xy=(getattr(mark, name) / to_si(1, "L"), mark.level / to_si(1, unit)),
            xytext=(-8 if side == "right" else 8, 0),
            textcoords="offset points",
            ha=side,
            va="bottom" if side == "right" else "top",
            color=WATER.line if name == "net" else PAGE.soft_ink,
        )
