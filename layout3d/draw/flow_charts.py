"""What pumps keep running as charts: each pump's curve against its pipework, each drip bar hole by hole.

Ranges are shaded; the figures are those of ``flow.running``, nothing is computed here but their units.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from layout3d.band import SETTINGS, Setting
from layout3d.draw.chart_file import save_chart
from layout3d.draw.style import FINDING_MARKS, PAGE, WATER
from layout3d.files import folder_made
from layout3d.flow.result import BarRun, PumpRun, RunningFlow
from layout3d.flow.system_curve import system_curve
from layout3d.model.model import Model
from layout3d.units import show, to_si

__all__ = ["bar_figure", "flow_charts", "pump_figure"]

_SIZE = (8.0, 5.5)  # [in]
_POINTS = 80  # of a drawn curve
_SHADE = 0.28

Floats = NDArray[np.float64]


def flow_charts(model: Model, flow: RunningFlow, *, to: Path) -> tuple[Path, ...]:
    """Draw a chart for each running pump and each drip bar into a folder, made if need be.

    Returns
    -------
    The files written: ``pump-NAME.png`` and ``bar-RUN.png``, each whole or not at all.

    Raises
    ------
    LayoutError : the folder or a file can't be written.
    """
    figures: list[tuple[str, Callable[[], Any]]] = [
        (f"pump-{pump.pump}", lambda pump=pump: pump_figure(model, pump))  # type: ignore[misc]
        for pump in flow.pumps
    ]
    figures += [
        (f"bar-{bar.run}", lambda bar=bar: bar_figure(model, bar))  # type: ignore[misc]
        for bar in flow.bars
    ]
    files = []
    with folder_made(to):
        for name, draw in figures:
            file = to / f"{re.sub(r'[^A-Za-z0-9_.-]', '_', name)}.png"
            save_chart(draw, file, title=model.scene.title)
            files.append(file)
    return tuple(files)


def pump_figure(model: Model, pump: PumpRun) -> Any:
    """Return the chart of one pump: its curve, what the pipework asks, and where the two meet."""
    inch = model.scene.style == "inch"
    flow_unit, head_unit = ("gph", "ft") if inch else ("L/h", "m")
    flows, heads = to_si(1, flow_unit), to_si(1, head_unit)
    asked = {
        setting: np.array(system_curve(model, pump.pump, setting)).reshape(-1, 2) / (flows, heads)
        for setting in SETTINGS
    }
    figure, axes = _axes()
    places = np.linspace(0.0, pump.curve.max_flow, _POINTS)
    curve = np.array([pump.curve.head_at(float(place)) for place in places])
    axes.plot(
        places / flows,
        curve / heads,
        color=PAGE.ink,
        linewidth=2.2,
        label=f"{pump.pump} at {pump.speed:.0%} speed",
    )
    most_flow, most_head = pump.curve.max_flow / flows, pump.curve.shut_off_head / heads
    if pump.speed < 1.0:
        # the affinity law again, upward: what the pump would give at its full speed
        full = pump.curve.at_speed(1.0 / pump.speed)
        places = np.linspace(0.0, full.max_flow, _POINTS)
        rated = np.array([full.head_at(float(place)) for place in places])
        dashes = (0, (5, 3))
        axes.plot(
            places / flows,
            rated / heads,
            color=PAGE.soft_ink,
            linewidth=1.2,
            linestyle=dashes,
            label="at full speed",
        )
        most_flow, most_head = full.max_flow / flows, full.shut_off_head / heads
    _asked(axes, asked)
    _point(axes, pump, flows, heads)
    axes.set_xlim(0.0, 1.03 * most_flow)
    axes.set_ylim(0.0, 1.08 * most_head)
    # curves fall to the right, so that corner is free
    _legend(axes, "upper right")
    axes.set_xlabel(f"flow, {flow_unit}", color=PAGE.ink)
    axes.set_ylabel(f"head, {head_unit}", color=PAGE.ink)
    _title(axes, model.scene.title, f"{pump.pump}, {pump.model} (a generic curve): where it works")
    return figure


def _asked(axes: Any, asked: Mapping[Setting, Floats]) -> None:
    """Draw what the pipework asks, its range shaded as far as both ends of it are known."""
    low, likely, high = (asked[setting] for setting in SETTINGS)
    if len(likely) > 1:
        axes.plot(likely[:, 0], likely[:, 1], color=WATER.line, linewidth=2.2, label="what the pipework asks")
    if len(low) > 1 and len(high) > 1:
        reach = np.linspace(max(low[0, 0], high[0, 0]), min(low[-1, 0], high[-1, 0]), _POINTS)
        axes.fill_between(
            reach,
            np.interp(reach, low[:, 0], low[:, 1]),
            np.interp(reach, high[:, 0], high[:, 1]),
            color=WATER.side,
            alpha=_SHADE,
            linewidth=0,
            label="its range, low to high losses",
        )


def _point(axes: Any, pump: PumpRun, flows: float, heads: float) -> None:
    """Mark the point of operation, with its range along the curve."""
    colour = FINDING_MARKS["fault"].colour
    along = np.linspace(pump.flow.low, pump.flow.high, 20)
    range_of = np.array([pump.curve.head_at(float(place)) for place in along])
    axes.plot(along / flows, range_of / heads, color=colour, linewidth=5.0, alpha=0.45)
    x, y = pump.flow.likely / flows, pump.head.likely / heads
    style = "inch" if heads < 1.0 else "metric"
    low, likely, high = (
        show(getattr(pump.flow, setting), "flow", system=style, digits=3) for setting in SETTINGS
    )
    text = f"{likely} against {y:.2f} {'ft' if style == 'inch' else 'm'}"
    if low != high:
        text += f"\n{low} to {high}"
    for line in ([x, x], [0.0, y]), ([0.0, x], [y, y]):
        axes.plot(*line, color=PAGE.soft_ink, linewidth=0.8, linestyle=(0, (2, 3)))
    axes.plot([x], [y], "o", color=colour, markersize=8, markeredgecolor=PAGE.halo, label=text)


def _legend(axes: Any, place: str, columns: int = 1) -> None:
    legend = axes.legend(loc=place, frameon=False, ncols=columns, fontsize=9.5)
    for text in legend.get_texts():
        text.set_color(PAGE.ink)


def bar_figure(model: Model, bar: BarRun) -> Any:
    """Return the chart of one drip bar: what each hole gives, along the wall it wets."""
    inch = model.scene.style == "inch"
    flow_unit, length_unit = ("gph", "in") if inch else ("L/h", "mm")
    flows, lengths = to_si(1, flow_unit), to_si(1, length_unit)
    along = np.array([hole.along for hole in bar.holes]) / lengths
    low, likely, high = (
        np.array([getattr(hole.flow, setting) for hole in bar.holes]) / flows for setting in SETTINGS
    )
    figure, axes = _axes()
    wide = 0.8 * (float(np.diff(along).min()) if len(along) > 1 and np.diff(along).min() > 0 else 10.0)
    axes.bar(along, high - low, width=wide, bottom=low, color=WATER.side, alpha=_SHADE, linewidth=0)
    states = np.array([hole.state for hole in bar.holes])
    marks = {
        "runs": ("o", WATER.line, "running"),
        "weeps": ("v", FINDING_MARKS["warning"].colour, "weeping"),
        "spurts": ("^", FINDING_MARKS["note"].colour, "spurting off the wall"),
        "holds": ("X", FINDING_MARKS["fault"].colour, "dry, drop held"),
        "dry": ("X", FINDING_MARKS["fault"].colour, "dry"),
    }
    for state, (mark, colour, text) in marks.items():
        those = states == state
        if those.any():
            count = int(those.sum())
            axes.plot(
                along[those],
                likely[those],
                mark,
                color=colour,
                markersize=6,
                label=f"{count} {text}",
                clip_on=False,
            )
    dashes = (0, (5, 3))
    axes.axhline(
        float(likely.mean()),
        color=PAGE.soft_ink,
        linewidth=1.0,
        linestyle=dashes,
        label="their mean",
        zorder=1,
    )
    axes.set_ylim(0.0, max(1.15 * float(high.max()), 1e-3))
    half = 0.5 * bar.bar.served_length / bar.bar.count / lengths
    axes.set_xlim(min(0.0, along[0] - half), max(bar.bar.length / lengths, along[-1] + half))
    wet = [place for place, hole in zip(along, bar.holes, strict=True) if hole.flow.likely > 0.0]
    for place in wet:
        axes.axvspan(place - half, place + half, ymax=0.022, color=WATER.line, alpha=0.6, linewidth=0)
    share = len(wet) / len(bar.holes)
    served = show(share * bar.bar.served_length, "length", system=model.scene.style)
    axes.annotate(
        f"wall wetted, {served}" if wet else "no wall wetted",
        xy=((wet or along.tolist())[-1] + half, 0.022),
        xycoords=("data", "axes fraction"),
        xytext=(0, 4),
        textcoords="offset points",
        ha="right",
        color=WATER.line,
    )
    axes.set_xlabel(f"along the bar from its inlet, {length_unit}", color=PAGE.ink)
    axes.set_ylabel(f"flow of each hole, {flow_unit}", color=PAGE.ink)
    per = [
        show(getattr(bar.flow_per_metre, setting), "flow per length", system=model.scene.style, digits=3)
        for setting in ("likely", "low", "high")
    ]
    _legend(axes, "upper left", 3)
    _title(
        axes,
        model.scene.title,
        f"{bar.body}: {per[0]} likely, {per[1]} to {per[2]}; its holes vary by {bar.variation.likely:.1%}",
    )
    return figure


def _axes() -> tuple[Any, Any]:
    from matplotlib.figure import Figure

    figure = Figure(figsize=_SIZE, layout="constrained")
    axes = figure.add_subplot()
    axes.set_facecolor(PAGE.top)
    axes.grid(color=PAGE.bottom, linewidth=0.8)
    axes.set_axisbelow(True)
    axes.tick_params(colors=PAGE.soft_ink)
    for side, spine in axes.spines.items():
        spine.set_color(PAGE.leader)
        spine.set_visible(side in ("left", "bottom"))
    return figure, axes


def _title(axes: Any, title: str, line: str) -> None:
    axes.set_title(f"{title}\n", loc="left", color=PAGE.ink, fontsize=13.0, pad=8.0)
    axes.annotate(
        line,
        xy=(0.0, 1.0),
        xycoords="axes fraction",
        xytext=(0, 9),
        textcoords="offset points",
        color=PAGE.soft_ink,
        fontsize=10.0,
    )
