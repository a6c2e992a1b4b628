"""Tank and sump in elevation, to scale, with the levels they run at and come to rest at, and the fill line.

Plain outlines: hardscape is in the figures, not in the picture. What is labelled is also in the report.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from layout3d.draw.chart_file import refuse_format, save_chart
from layout3d.draw.style import FINDING_MARKS, PAGE, WATER, Colour
from layout3d.flow.circuit import Circuit
from layout3d.flow.flood_data import Event, Flood
from layout3d.model.model import Model
from layout3d.units import show

__all__ = ["Level", "apart", "levels_shown", "outage_chart", "outage_figure"]

_WIDEST, _TALLEST = 6.6, 7.2  # the drawing at most, [in]
_LETTER, _LEADER = 0.072, 0.45  # of a label's letter, on the mean, and its leader, [in]
_MARGIN = 0.35  # [in]
_HEAD = 0.75  # above the drawing, [in]
_FONT = 9.0  # [pt]
_LINE = 0.165  # from label to label, [in]
_PIPE: Colour = (0.76, 0.78, 0.78)
_EQUIPMENT: Colour = (0.62, 0.66, 0.68)
_CUT = FINDING_MARKS["note"].colour
_BLOCKED = FINDING_MARKS["fault"].colour
_FILL: Colour = (0.0, 0.62, 0.45)  # bluish green of Okabe and Ito 2008, as the marks of findings


@dataclass(frozen=True, slots=True, kw_only=True)
class Level:
    """One level to show: where, z [m], its words, colour and dashes; ``low`` and ``high`` of its band."""

    vessel: str
    z: float
    words: str
    colour: Colour
    dashes: tuple[float, ...] = ()
    low: float | None = None
    high: float | None = None


def outage_chart(model: Model, found: Flood, *, to: Path) -> None:
    """Draw the chart to a PNG, SVG or PDF, whole or not at all; an existing file is replaced.

    Raises
    ------
    LayoutError : another suffix, or the file can't be written.
    """
    refuse_format(to)
    import matplotlib

    settings: Any = {"svg.hashsalt": "layout3d", "font.size": _FONT}
    with matplotlib.rc_context(settings):
        save_chart(outage_figure(model, found), to, title=model.scene.title)


def levels_shown(model: Model, found: Flood) -> tuple[Level, ...]:
    """Return the levels that are labelled, those of the tank first."""
    circuit, style = found.circuit, model.scene.style

    def words(text: str, z: float, floor: float = 0.0) -> str:
        return f"{text}  {show(z - floor, 'length', system=style)}"

    level, cut = circuit.level, found.power_cut
    shown = [
        Level(
            vessel="tank",
            z=circuit.spill,
            words=words("spills at", circuit.spill),
            colour=PAGE.leader,
            dashes=(1.0, 2.0),
        ),
        Level(
            vessel="tank",
            z=level.likely,
            words=words("running", level.likely),
            colour=WATER.line,
            low=level.low,
            high=level.high,
        ),
    ]
    if circuit.level_stopped is not None and any(drain.intake.screened for drain in circuit.drains):
        z = circuit.level_stopped.likely
        shown.append(
            Level(
                vessel="tank",
                z=z,
                words=words("one slot in three stopped", z),
                colour=WATER.line,
                dashes=(6.0, 3.0),
            )
        )
    worst = found.blocked[-1]
    shown += [
        _event_level("tank", cut, "after a power cut", 0.0, _CUT, style),
        _event_level("tank", worst, f"{worst.subject} blocked", 0.0, _BLOCKED, style),
    ]
    floor = circuit.sump.floor
    shown += [
        Level(
            vessel="sump",
            z=circuit.sump.rim,
            words=words("rim", circuit.sump.rim, floor),
            colour=PAGE.leader,
            dashes=(1.0, 2.0),
        ),
        Level(
            vessel="sump",
            z=circuit.chamber_level,
            words=words("running, as filled", circuit.chamber_level, floor),
            colour=WATER.line,
        ),
        _event_level("sump", cut, "after a power cut", floor, _CUT, style),
        Level(
            vessel="sump",
            z=circuit.suction,
            words=words("pump's inlet", circuit.suction, floor),
            colour=PAGE.leader,
            dashes=(1.0, 2.0),
        ),
    ]
    if found.mark.running is not None:
        low, high = found.mark.running
        shown += [
            Level(
                vessel="sump",
                z=floor + low,
                words=f"fill line, lowest ({found.mark.line.lowest_event})  "
                + show(low, "length", system=style),
                colour=_FILL,
                dashes=(4.0, 2.0),
            ),
            Level(
                vessel="sump",
                z=floor + high,
                words=f"fill line, highest ({found.mark.line.highest_event})  "
                + show(high, "length", system=style),
                colour=_FILL,
                dashes=(4.0, 2.0),
            ),
        ]
    return tuple(shown)


def _event_level(vessel: str, event: Event, text: str, floor: float, colour: Colour, style: str) -> Level:
    band = event.tank_level if vessel == "tank" else event.chamber_level
    return Level(
        vessel=vessel,
        z=band.likely,
        words=f"{text}  {show(band.likely - floor, 'length', system=style)}",
        colour=colour,
        dashes=(5.0, 2.0, 1.0, 2.0),
        low=band.low,
        high=band.high,
    )


def apart(wanted: Sequence[float], gap: float) -> list[float]:
    """Move heights as little as need be until no two are nearer than ``gap``; order and count stay.

    >>> apart([0.0, 0.1, 5.0], 1.0)
    [-0.45, 0.55, 5.0]
    """
    order = sorted(range(len(wanted)), key=lambda place: (wanted[place], place))
    # runs of labels that touch, each about the mean of what its labels want (pool adjacent violators)
    runs: list[tuple[float, int]] = []
    for place in order:
        centre, count = wanted[place], 1
        while runs and centre - runs[-1][0] < gap * (count + runs[-1][1]) / 2.0 - 1e-12:
            before, members = runs.pop()
            centre = (before * members + centre * count) / (members + count)
            count += members
        runs.append((centre, count))
    heights = [
        centre + gap * (number - (count - 1) / 2.0) for centre, count in runs for number in range(count)
    ]
    found = [0.0] * len(wanted)
    for place, height in zip(order, heights, strict=True):
        found[place] = height
    return found


def outage_figure(model: Model, found: Flood) -> Any:
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
    z = circuit.sump.floor - 0.07, circuit.rim + 0.03
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
    _equipment(axes, model, circuit)
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
    axes.text(span[0] + 0.02, circuit.rim - 0.02, circuit.tank_name, color=PAGE.soft_ink, va="top", zorder=7)


def _sump(axes: Any, found: Flood, span: tuple[float, float], shown: Sequence[Level]) -> None:
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
    _lines(axes, rest, span)
    _lines(axes, own, chamber)
    if found.mark.running is not None:
        low, high = (floor + mark for mark in found.mark.running)
        outer = chamber[0] if _chamber_left(circuit) else chamber[1]
        axes.plot([outer, outer], [low, high], color=_FILL, linewidth=6.0, solid_capstyle="butt", zorder=8)
    _outline(axes, span, floor, circuit.sump.rim)
    axes.text(
        (span[0] + span[1]) / 2.0,
        circuit.sump.rim + 0.012,
        circuit.sump.name,
        color=PAGE.soft_ink,
        ha="center",
        zorder=7,
    )


def _pipes(axes: Any, found: Flood, scale: float, *, turned: bool) -> None:
    circuit = found.circuit
    lengths = [
        *(length for drain in circuit.drains for length in drain.way.lengths),
        *(length for way in circuit.returns for length in way.ways.lengths),
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


def _equipment(axes: Any, model: Model, circuit: Circuit) -> None:
    """Draw return pumps, strainers and nozzles as boxes."""
    names = [pump.name for pump in circuit.pumps if not _turned(circuit)]
    names += [drain.mouth.body for drain in circuit.drains if drain.mouth.kind == "strainer"]
    names += [
        mouth.body
        for way in circuit.returns
        for mouth in way.ways.mouths
        if mouth.kind == "nozzle" and mouth.water == model.tank_name
    ]
    for body in model.bodies_of(*names):
        (x_low, _, z_low), (x_high, _, z_high) = body.solid.bounds
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
