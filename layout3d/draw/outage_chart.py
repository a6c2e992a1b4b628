"""Tank and sump in elevation, to scale, with the levels they run at and come to rest at, and the fill line.

Plain outlines: hardscape is in the figures, not in the picture. What is labelled is also in the report.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

from layout3d.draw.chart_file import save_chart
from layout3d.draw.outage_levels import FILL, Level, apart, levels_shown
from layout3d.draw.style import PAGE, WATER, Colour
from layout3d.model.model import Model
from layout3d.outage.circuit import Circuit
from layout3d.outage.ledger import Outages

__all__ = ["outage_chart", "outage_figure"]

_WIDEST, _TALLEST = 6.6, 7.2  # the drawing at most, [in]
_LETTER, _LEADER = 0.072, 0.45  # of a label's letter, on the mean, and its leader, [in]
_MARGIN = 0.35  # [in]
_HEAD = 0.75  # above the drawing, [in]
_FONT = 9.0  # [pt]
_LINE = 0.165  # from label to label, [in]
_PIPE: Colour = (0.76, 0.78, 0.78)
_EQUIPMENT: Colour = (0.62, 0.66, 0.68)


def outage_chart(model: Model, found: Outages, *, to: Path) -> None:
    """Draw the chart to a PNG, SVG or PDF, whole or not at all; an existing file is replaced.

    Raises
    ------
    LayoutError : another suffix, or the file can't be written.
    """
    save_chart(lambda: outage_figure(model, found), to, title=model.scene.title, font=_FONT)


def outage_figure(model: Model, found: Outages) -> Any:
    """Return the chart as a figure of the plotting library."""
    from matplotlib.figure import Figure

    circuit = found.circuit
    sump = _sump_span(circuit)
    tank = (float(model.tank.low[0]), float(model.tank.high[0]))
    shown = levels_shown(model, found)
    chamber_left = _chamber_left(circuit)
    tank_levels = [one for one in shown if one.vessel == "tank"]
    sump_levels = [one for one in shown if one.vessel == "sump"]
    right_column = _column(tank_levels if chamber_left else shown)
    left_column = _column(sump_levels) if chamber_left else 0.0
    x = min(tank[0], sump[0]) - 0.03, max(tank[1], sump[1]) + 0.03
    boxes = _boxes(model, circuit)
    pipes = [point[2] for way in circuit.returns for edge in way.pipework.edges for point in edge.points]
    z = circuit.sump.floor - 0.07, max(circuit.rim, *pipes, *(box[1][2] for box in boxes)) + 0.03
    scale = min(_WIDEST / (x[1] - x[0]), _TALLEST / (z[1] - z[0]))  # [in/m]
    width, height = (x[1] - x[0]) * scale, (z[1] - z[0]) * scale
    page = width + 2.0 * _MARGIN + right_column + left_column, height + _HEAD + _MARGIN
    figure = Figure(figsize=page)
    axes = figure.add_axes(
        ((_MARGIN + left_column) / page[0], _MARGIN / page[1], width / page[0], height / page[1])
    )
    axes.set_xlim(*x)
    axes.set_ylim(*z)
    axes.axis("off")
    _pipes(axes, found, scale, turned=_turned(circuit))
    _tank(axes, circuit, tank, shown)
    _sump(axes, found, sump, shown)
    _equipment(axes, boxes)
    _labels(axes, tank_levels, tank, scale, side="right", edge=x[1])
    if chamber_left:
        _labels(axes, sump_levels, sump, scale, side="left", edge=x[0])
    else:
        _labels(axes, sump_levels, sump, scale, side="right", edge=x[1])
    figure.text(
        _MARGIN / page[0],
        1.0 - 0.30 / page[1],
        f"{model.scene.title}: where the water stands when something fails",
        fontsize=13.0,
        color=PAGE.ink,
    )
    figure.text(
        _MARGIN / page[0],
        1.0 - 0.52 / page[1],
        "levels over each vessel's floor; shaded from low to high. Test over a drain before you trust them.",
        color=PAGE.soft_ink,
    )
    return figure


def _chamber_left(circuit: Circuit) -> bool:
    first, last = circuit.sump.data.compartments[0], circuit.sump.data.compartments[-1]
    return last.low[0] < first.low[0]


def _turned(circuit: Circuit) -> bool:
    """Tell whether the sump's compartments follow one another from front to back: drawn from its side."""
    first, last = circuit.sump.data.compartments[0], circuit.sump.data.compartments[-1]
    return first is not last and abs(last.low[1] - first.low[1]) > abs(last.low[0] - first.low[0])


def _spans(circuit: Circuit) -> list[tuple[float, float]]:
    """Return where each compartment is drawn, [m] along x."""
    axis = 1 if _turned(circuit) else 0
    return [(c.low[axis], c.high[axis]) for c in circuit.sump.data.compartments]


def _sump_span(circuit: Circuit) -> tuple[float, float]:
    spans = _spans(circuit)
    return min(low for low, _ in spans), max(high for _, high in spans)


def _outline(axes: Any, span: tuple[float, float], bottom: float, top: float) -> None:
    axes.plot(
        [span[0], span[0], span[1], span[1]],
        [top, bottom, bottom, top],
        color=PAGE.ink,
        linewidth=2.0,
        solid_joinstyle="miter",
        zorder=5,
    )


def _water(axes: Any, span: tuple[float, float], bottom: float, top: float) -> None:
    axes.fill_between(span, bottom, top, color=WATER.side, alpha=0.32, linewidth=0, zorder=2)


def _lines(axes: Any, shown: Sequence[Level], span: tuple[float, float]) -> None:
    for level in shown:
        if level.low is not None and level.high is not None and level.high > level.low:
            axes.fill_between(
                span, level.low, level.high, color=level.colour, alpha=0.15, linewidth=0, zorder=3
            )
        style: Any = (0, level.dashes) if level.dashes else "solid"
        axes.plot(span, [level.z, level.z], color=level.colour, linewidth=1.5, linestyle=style, zorder=6)


def _tank(axes: Any, circuit: Circuit, span: tuple[float, float], shown: Sequence[Level]) -> None:
    _water(axes, span, 0.0, circuit.level.likely)
    _lines(axes, [one for one in shown if one.vessel == "tank"], span)
    _outline(axes, span, 0.0, circuit.rim)
    axes.text(span[0], -0.015, circuit.tank_name, color=PAGE.soft_ink, va="top", zorder=7)


def _sump(axes: Any, found: Outages, span: tuple[float, float], shown: Sequence[Level]) -> None:
    circuit = found.circuit
    data, floor = circuit.sump.data, circuit.sump.floor
    spans = _spans(circuit)
    for item, (low, high) in zip(circuit.compartments, spans, strict=True):
        _water(axes, (low, high), floor, item.level.likely)
        axes.plot((low, high), [item.level.likely] * 2, color=WATER.line, linewidth=1.2, zorder=4)
        axes.text(
            (low + high) / 2.0, floor - 0.015, item.name, color=PAGE.soft_ink, ha="center", va="top", zorder=7
        )
    for number, compartment in enumerate(data.compartments[:-1]):
        ends = sorted((*spans[number], *spans[number + 1]))[1:3]
        axes.fill_between(
            ends,
            floor + compartment.baffle_gap,
            floor + compartment.baffle_height,
            color=PAGE.soft_ink,
            linewidth=0,
            zorder=5,
        )
    for sock in circuit.socks:
        axis = 1 if _turned(circuit) else 0
        low, high = sock.low[axis], sock.high[axis]
        axes.plot(
            [low, low, high, high],
            [sock.rim, sock.low[2], sock.low[2], sock.rim],
            color=PAGE.soft_ink,
            linewidth=1.0,
            linestyle=(0, (2, 1.5)),
            zorder=4,
        )
    chamber = spans[-1]
    rest = [one for one in shown if one.vessel == "sump" and "power cut" in one.words]
    own = [one for one in shown if one.vessel == "sump" and one not in rest]
    for level in rest:
        # where the water rests below a baffle, the compartments before it keep theirs
        for own_span, height in zip(spans, circuit.sump.resting(level.z), strict=True):
            if height <= level.z + 1e-9:
                _lines(axes, [level], own_span)
    _lines(axes, own, chamber)
    if found.mark.running is not None:
        low, high = (floor + mark for mark in found.mark.running)
        outer = chamber[0] if _chamber_left(circuit) else chamber[1]
        axes.plot([outer, outer], [low, high], color=FILL, linewidth=6.0, solid_capstyle="butt", zorder=8)
    _outline(axes, span, floor, circuit.sump.rim)
    axes.text(
        (span[0] + span[1]) / 2.0,
        circuit.sump.rim + 0.012,
        circuit.sump.name,
        color=PAGE.soft_ink,
        ha="center",
        zorder=7,
    )


def _pipes(axes: Any, found: Outages, scale: float, *, turned: bool) -> None:
    circuit = found.circuit
    lengths = [
        *(length for drain in circuit.drains for length in drain.way.edges),
        *(length for way in circuit.returns for length in way.pipework.edges),
    ]
    for length in lengths:
        points = np.array(length.points)
        if turned and points[:, 2].max() < 0.0:
            continue
        # as wide as its bore, in points of 1/72 in
        axes.plot(
            points[:, 0],
            points[:, 2],
            color=_PIPE,
            linewidth=max(1.5, length.bore * scale * 72.0),
            solid_capstyle="projecting",
            zorder=1.5,
        )


def _boxes(model: Model, circuit: Circuit) -> list[Any]:
    """Return the bounding boxes of return pumps, strainers and nozzles, (2, 3) each, [m]."""
    names = [pump.name for pump in circuit.pumps if not _turned(circuit)]
    names += [drain.mouth.body for drain in circuit.drains if drain.mouth.kind == "strainer"]
    names += [
        mouth.body
        for way in circuit.returns
        for mouth in way.pipework.mouths
        if mouth.kind == "nozzle" and mouth.vessel == model.tank_name
    ]
    return [body.solid.bounds for body in model.bodies_of(*names)]


def _equipment(axes: Any, boxes: Sequence[Any]) -> None:
    for (x_low, _, z_low), (x_high, _, z_high) in boxes:
        axes.fill(
            [x_low, x_low, x_high, x_high],
            [z_low, z_high, z_high, z_low],
            facecolor=_EQUIPMENT,
            edgecolor=PAGE.soft_ink,
            linewidth=0.8,
            zorder=1.6,
        )


def _column(shown: Sequence[Level]) -> float:
    """Return the width of a column of labels, [in]."""
    return _LEADER + _LETTER * max(len(level.words) for level in shown)


def _labels(
    axes: Any, shown: Sequence[Level], span: tuple[float, float], scale: float, *, side: str, edge: float
) -> None:
    """Write the levels' words in a column beside the drawing, none over another, each with its leader."""
    heights = apart([level.z for level in shown], _LINE / scale)
    way = 1.0 if side == "right" else -1.0
    wall = span[1] if side == "right" else span[0]
    turn, start = edge + way * 0.05 / scale, edge + way * 0.30 / scale
    for level, height in zip(shown, heights, strict=True):
        axes.plot(
            [wall, turn, start],
            [level.z, level.z, height],
            color=level.colour,
            linewidth=0.8,
            clip_on=False,
            zorder=1,
        )
        axes.text(
            start + way * 0.05 / scale,
            height,
            level.words,
            color=level.colour,
            ha="left" if side == "right" else "right",
            va="center",
            clip_on=False,
            zorder=9,
        )
