"""Charts: water by level, each pump's curve against its pipework, each drip bar hole by hole."""

from __future__ import annotations

import io
import re
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import numpy as np

from layout3d.band import SETTINGS
from layout3d.catalog.own import GIVEN
from layout3d.draw.style import FINDING_MARKS, PAGE, WATER, Colour
from layout3d.errors import LayoutError, Place
from layout3d.files import folder_made, written
from layout3d.flow.pump import Curve
from layout3d.flow.result import BarRun, PumpRun, RunningFlow
from layout3d.flow.system_curve import system_curve
from layout3d.model.model import Model
from layout3d.units import in_own_units, length_unit, show, to_si
from layout3d.water.cavity import tank_cavity
from layout3d.water.dipstick import Mark
from layout3d.water.sump import overflow_box_water

__all__ = [
    "bar_figure",
    "chart_svg",
    "flow_charts",
    "gauge_figure",
    "pump_figure",
    "save_chart",
]

CHART_FORMATS = (".png", ".svg", ".pdf")
DASHED: Any = (0, (5, 3))
_DOTS = 150  # in an inch of a PNG
_SIZE = (8.0, 5.5)  # [in]
_LOOK: Any = {
    "svg.hashsalt": "layout3d",
    "axes.facecolor": PAGE.top,
    "axes.edgecolor": PAGE.leader,
    "axes.labelcolor": PAGE.ink,
    "axes.titlecolor": PAGE.ink,
    "axes.titlelocation": "left",
    "axes.titlesize": 13.0,
    "grid.color": PAGE.bottom,
    "xtick.color": PAGE.soft_ink,
    "ytick.color": PAGE.soft_ink,
    "legend.frameon": False,
    "legend.fontsize": 9.5,
    "legend.labelcolor": PAGE.ink,
}


def save_chart(draw: Callable[[], Any], to: Path, *, title: str, font: float = 10.0) -> None:
    """Draw a figure and save it as PNG, SVG or PDF, by the file's suffix; an existing file is replaced.

    Parameters
    ----------
    draw : returns the plotting library's figure; called with our settings in force
    font : its size, [pt]

    Raises
    ------
    LayoutError : another suffix, or the file can't be written.
    """
    suffix = to.suffix.lower()
    if suffix not in CHART_FORMATS:
        raise LayoutError(
            f"{suffix or 'no suffix'!r} can't be drawn",
            expected=f"one of: {', '.join(CHART_FORMATS)}",
            place=Place(str(to)),
        )
    with written(to) as partial:
        _save(draw, partial, suffix[1:], title, font)


def chart_svg(draw: Callable[[], Any], *, title: str, font: float = 10.0) -> bytes:
    """Return a figure as SVG; ``draw``, ``title`` and ``font`` are as in :func:`save_chart`."""
    content = io.BytesIO()
    _save(draw, content, "svg", title, font)
    return content.getvalue()


def _save(draw: Callable[[], Any], to: Path | io.BytesIO, suffix: str, title: str, font: float) -> None:
    import matplotlib

    # without a date in it, the same scene gives the same file
    dated = {"svg": {"Date": None}, "pdf": {"CreationDate": None}}.get(suffix, {})
    with matplotlib.rc_context(_LOOK | {"font.size": font}):
        draw().savefig(to, format=suffix, dpi=_DOTS, facecolor=PAGE.top, metadata={"Title": title, **dated})


def chart_axes(*, framed: bool = False) -> tuple[Any, Any]:
    """Return a figure of the usual size, and its axes with a grid, ``framed`` all round."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=_SIZE, layout="constrained")
    axes = figure.add_subplot()
    axes.grid(linewidth=0.8)
    if not framed:
        axes.set_axisbelow(True)
        axes.spines[["top", "right"]].set_visible(False)
    return figure, axes


def told_beside(
    axes: Any,
    text: str,
    at: Any,
    offset: tuple[float, float],
    *,
    on: Any = "data",
    colour: Colour,
    **more: Any,
) -> None:
    """Write a line ``offset`` [pt] beside a place, in the coordinates that ``on`` names."""
    axes.annotate(text, xy=at, xycoords=on, xytext=offset, textcoords="offset points", color=colour, **more)


@in_own_units
def gauge_figure(model: Model, marks: Sequence[Mark]) -> Any:
    """Return the dipstick as a figure of the plotting library, of ``water.dipstick``'s marks."""
    unit = length_unit()
    (first, below), (second, other) = (("gal", "gal (US)"), ("L", "L"))[:: 1 if unit == "in" else -1]
    seconds = to_si(1, first) / to_si(1, second)  # of the unit above in one of that below
    levels = [mark.level / to_si(1, unit) for mark in marks]
    gross, net = ([getattr(mark, name) / to_si(1, first) for mark in marks] for name in ("gross", "net"))
    figure, axes = chart_axes(framed=True)
    axes.fill_betweenx(levels, net, color=WATER.side, alpha=0.45, linewidth=0)
    axes.plot(net, levels, color=WATER.line, linewidth=2.2)
    axes.plot(gross, levels, color=PAGE.soft_ink, linewidth=1.2, linestyle=DASHED)
    axes.set_xlim(0.0, max(gross) * 1.02)
    axes.set_ylim(0.0, levels[-1])
    axes.set_xlabel(f"water, {below}")
    axes.set_ylabel(f"level over the inside floor, {unit}")
    above = axes.secondary_xaxis("top", functions=(lambda one: one * seconds, lambda two: two / seconds))
    above.set_xlabel(other, color=PAGE.soft_ink)
    axes.set_title(model.scene.title, pad=14.0)

    # what each curve is beside it, and the waterline with its volume across
    water = float(tank_cavity(model).net(model.waterline)[0]) + overflow_box_water(model)
    level = model.waterline / to_si(1, unit)
    axes.axhline(level, color=WATER.line, linewidth=1.0)
    shown = show(model.waterline, "length")
    up = level < 0.9 * levels[-1]
    told_beside(
        axes,
        f"waterline {shown}: " + ", ".join(f"{water / to_si(1, u):,.1f} {u}" for u in (first, second)),
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


_POINTS = 80  # of a drawn curve
_SHADE = 0.28


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


@in_own_units
def pump_figure(model: Model, pump: PumpRun) -> Any:
    """Return the chart of one pump: its curve, what the pipework asks, and where the two meet."""
    flow_unit, head_unit = ("gph", "ft") if length_unit() == "in" else ("L/h", "m")
    units = to_si(1, flow_unit), to_si(1, head_unit)
    figure, axes = chart_axes()
    label = f"{pump.pump} at {pump.speed:.0%} speed"
    _plot_curve(axes, pump.curve, units, color=PAGE.ink, linewidth=2.2, label=label)
    full = pump.curve
    if pump.speed < 1.0:
        # the affinity law again, upward: what the pump would give at its full speed
        full = pump.curve.at_speed(1.0 / pump.speed)
        look = {"color": PAGE.soft_ink, "linewidth": 1.2, "linestyle": DASHED}
        _plot_curve(axes, full, units, label="at full speed", **look)
    low, likely, high = (
        (np.array(system_curve(model, pump.pump, setting)).reshape(-1, 2) / units).T for setting in SETTINGS
    )
    if likely.shape[1] > 1:
        axes.plot(*likely, color=WATER.line, linewidth=2.2, label="what the pipework asks")
    if low.shape[1] > 1 and high.shape[1] > 1:  # as far as both ends of the range are known
        reach = np.linspace(max(low[0, 0], high[0, 0]), min(low[0, -1], high[0, -1]), _POINTS)
        between = np.interp(reach, *low), np.interp(reach, *high)
        told = "its range, low to high losses"
        axes.fill_between(reach, *between, color=WATER.side, alpha=_SHADE, linewidth=0, label=told)
    colour = FINDING_MARKS["fault"].colour
    _plot_curve(
        axes, pump.curve, units, pump.flow.low, pump.flow.high, color=colour, linewidth=5.0, alpha=0.45
    )
    x, y = pump.flow.likely / units[0], pump.head.likely / units[1]
    shown = {setting: show(getattr(pump.flow, setting), "flow", digits=3) for setting in SETTINGS}
    text = f"{shown['likely']} against {y:.2f} {head_unit}"
    if shown["low"] != shown["high"]:
        text += f"\n{shown['low']} to {shown['high']}"
    for line in ([x, x], [0.0, y]), ([0.0, x], [y, y]):
        axes.plot(*line, color=PAGE.soft_ink, linewidth=0.8, linestyle=(0, (2, 3)))
    axes.plot([x], [y], "o", color=colour, markersize=8, markeredgecolor=PAGE.halo, label=text)
    axes.set_xlim(0.0, 1.03 * full.max_flow / units[0])
    axes.set_ylim(0.0, 1.08 * full.shut_off_head / units[1])
    axes.legend(loc="upper right")  # curves fall to the right, so that corner is free
    axes.set_xlabel(f"flow, {flow_unit}")
    axes.set_ylabel(f"head, {head_unit}")
    own = model.scene.catalog.pump(pump.model).source.startswith(GIVEN)
    whose = "the scene's own" if own else "a generic curve"
    _title(axes, model.scene.title, f"{pump.pump}, {pump.model} ({whose}): where it works")
    return figure


def _plot_curve(
    axes: Any,
    curve: Curve,
    units: tuple[float, float],
    low: float = 0.0,
    high: float | None = None,
    **look: Any,
) -> None:
    """Plot a pump's curve between two flows, by default all of it; ``units`` of flow and head are in SI."""
    flows = np.linspace(low, curve.max_flow if high is None else high, _POINTS)
    heads = np.array([curve.head_at(float(flow)) for flow in flows])
    axes.plot(flows / units[0], heads / units[1], **look)


@in_own_units
def bar_figure(model: Model, bar: BarRun) -> Any:
    """Return the chart of one drip bar: what each hole gives, along the wall it wets."""
    unit = length_unit()
    flow_unit = "gph" if unit == "in" else "L/h"
    flows, lengths = to_si(1, flow_unit), to_si(1, unit)
    along = np.array([hole.along for hole in bar.holes]) / lengths
    low, likely, high = (
        np.array([getattr(hole.flow, setting) for hole in bar.holes]) / flows for setting in SETTINGS
    )
    figure, axes = chart_axes()
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
            drawn: dict[str, Any] = {"color": colour, "label": f"{int(those.sum())} {text}"}
            axes.plot(along[those], likely[those], mark, markersize=6, clip_on=False, **drawn)
    mean: dict[str, Any] = {"color": PAGE.soft_ink, "linewidth": 1.0, "label": "their mean"}
    axes.axhline(float(likely.mean()), linestyle=DASHED, zorder=1, **mean)
    axes.set_ylim(0.0, max(1.15 * float(high.max()), 1e-3))
    half = 0.5 * bar.bar.served_length / bar.bar.count / lengths
    axes.set_xlim(min(0.0, along[0] - half), max(bar.bar.length / lengths, along[-1] + half))
    wet = [place for place, hole in zip(along, bar.holes, strict=True) if hole.flow.likely > 0.0]
    for place in wet:
        axes.axvspan(place - half, place + half, ymax=0.022, color=WATER.line, alpha=0.6, linewidth=0)
    share = len(wet) / len(bar.holes)
    served = show(share * bar.bar.served_length, "length")
    told_beside(
        axes,
        f"wall wetted, {served}" if wet else "no wall wetted",
        ((wet or along.tolist())[-1] + half, 0.022),
        (0, 4),
        on=("data", "axes fraction"),
        ha="right",
        colour=WATER.line,
    )
    axes.set_xlabel(f"along the bar from its inlet, {unit}")
    axes.set_ylabel(f"flow of each hole, {flow_unit}")
    per = [
        show(getattr(bar.flow_per_metre, setting), "flow per length", digits=3)
        for setting in ("likely", "low", "high")
    ]
    axes.legend(loc="upper left", ncols=3)
    _title(
        axes,
        model.scene.title,
        f"{bar.body}: {per[0]} likely, {per[1]} to {per[2]}; its holes vary by {bar.variation.likely:.1%}",
    )
    return figure


def _title(axes: Any, title: str, line: str) -> None:
    axes.set_title(f"{title}\n", pad=8.0)
    told_beside(axes, line, (0.0, 1.0), (0, 9), on="axes fraction", colour=PAGE.soft_ink, fontsize=10.0)
