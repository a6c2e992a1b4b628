"""Tank and sump in elevation, to scale, with the levels they run at and come to rest at, and the fill line.

Plain outlines: hardscape is in the figures, not in the picture. What is labelled is also in the report.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np

from layout3d.band import Band
from layout3d.draw.style import FINDING_MARKS, PAGE, WATER, Colour
from layout3d.model.model import Model
from layout3d.outage.circuit import Circuit
from layout3d.outage.ledger import Outages
from layout3d.sheets.spaced import spaced
from layout3d.units import in_own_units, show

__all__ = ["FILL", "FONT", "Level", "apart", "levels_shown", "outage_figure"]

FILL: Colour = (0.0, 0.62, 0.45)  # bluish green of Okabe and Ito 2008, as the marks of findings
_CUT = FINDING_MARKS["note"].colour
_BLOCKED = FINDING_MARKS["fault"].colour
_MARK, _EVENT = (1.0, 2.0), (5.0, 2.0, 1.0, 2.0)  # dashes of what is fixed, and of what a failure brings


@dataclass(frozen=True, slots=True, kw_only=True)
class Level:
    """One level to show: where, z [m], its words, colour and dashes, and its band where it has one."""

    vessel: Literal["tank", "sump"]
    z: float
    words: str
    colour: Colour
    dashes: tuple[float, ...] = ()
    band: Band | None = None


@in_own_units
def levels_shown(model: Model, found: Outages) -> tuple[Level, ...]:
    """Return the levels that are labelled, those of the tank first."""
    circuit, cut, worst = found.circuit, found.power_cut, found.blocked[-1]
    floors = {"tank": 0.0, "sump": circuit.sump.floor}

    def level(
        vessel: Literal["tank", "sump"],
        at: float | Band,
        text: str,
        colour: Colour,
        dashes: tuple[float, ...] = (),
    ) -> Level:
        z, band = (at.likely, at) if isinstance(at, Band) else (at, None)
        words = f"{text}  {show(z - floors[vessel], 'length')}"
        return Level(vessel=vessel, z=z, words=words, colour=colour, dashes=dashes, band=band)

    shown = [
        level("tank", circuit.spill, "spills at", PAGE.leader, _MARK),
        level("tank", circuit.level, "running", WATER.line),
    ]
    if circuit.level_stopped is not None and any(drain.intake.screened for drain in circuit.drains):
        text = f"{circuit.slots_stopped:.0%} of the slots stopped"
        shown.append(level("tank", circuit.level_stopped.likely, text, WATER.line, (6.0, 3.0)))
    shown += [
        level("tank", cut.tank_level, "after a power cut", _CUT, _EVENT),
        level("tank", worst.tank_level, f"{worst.subject} blocked", _BLOCKED, _EVENT),
        level("sump", circuit.sump.rim, "rim", PAGE.leader, _MARK),
        level("sump", circuit.chamber_level, "running, as filled", WATER.line),
        level("sump", cut.chamber_level, "after a power cut", _CUT, _EVENT),
        level("sump", circuit.suction, "pump's inlet", PAGE.leader, _MARK),
    ]
    if found.mark.running is not None:
        line = found.mark.line
        ends = (f"lowest ({line.lowest_event})", f"highest ({line.highest_event})")
        for height, text in zip(found.mark.running, ends, strict=True):
            z = floors["sump"] + height
            shown.append(level("sump", z, f"fill line, {text}", FILL, (4.0, 2.0)))
    return tuple(shown)


def apart(wanted: Sequence[float], gap: float) -> list[float]:
    """Move heights as little as need be until no two are nearer than ``gap``; order and count stay."""
    order = sorted(range(len(wanted)), key=wanted.__getitem__)
    found = dict(zip(order, spaced([wanted[k] for k in order], gap), strict=True))
    return [found[k] for k in range(len(wanted))]


_WIDEST, _TALLEST = 6.6, 7.2  # the drawing at most, [in]
_LETTER, _LEADER = 0.072, 0.45  # of a label's letter, on the mean, and its leader, [in]
_MARGIN = 0.35  # [in]
_HEAD = 0.75  # above the drawing, [in]
FONT = 9.0  # [pt]
_LINE = 0.165  # from label to label, [in]
_PIPE: Colour = (0.76, 0.78, 0.78)
_EQUIPMENT: Colour = (0.62, 0.66, 0.68)


def outage_figure(model: Model, found: Outages) -> Any:
    """Return the chart as a figure of the plotting library."""
    from matplotlib.figure import Figure

    circuit = found.circuit
    chambers = _spans(circuit)
    sump = min(low for low, _ in chambers), max(high for _, high in chambers)
    tank = (float(model.tank.low[0]), float(model.tank.high[0]))
    shown = levels_shown(model, found)
    columns: dict[str, list[Level]] = {"left": [], "right": []}
    for level in shown:
        left = level.vessel == "sump" and _chamber_left(circuit)
        columns["left" if left else "right"].append(level)
    # the width of each column of labels, [in]
    left_column, right_column = (
        _LEADER + _LETTER * max(len(level.words) for level in own) if own else 0.0 for own in columns.values()
    )
    boxes = _boxes(model, circuit)
    pipes = [point[2] for way in circuit.returns for edge in way.pipework.edges for point in edge.points]
    x = min(tank[0], sump[0]) - 0.03, max(tank[1], sump[1]) + 0.03
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
    _pipes(axes, found, scale)
    _water(axes, tank, 0.0, circuit.level.likely)
    _lines(axes, [one for one in shown if one.vessel == "tank"], tank)
    _outline(axes, tank, 0.0, circuit.rim)
    axes.text(tank[0], -0.015, circuit.tank_name, color=PAGE.soft_ink, va="top", zorder=7)
    _sump(axes, found, sump, [one for one in shown if one.vessel == "sump"])
    _equipment(axes, boxes)
    spans = {"tank": tank, "sump": sump}
    # a column where both vessels stand holds each apart from the other: the tank is over the sump
    for side, own in columns.items():
        for vessel, span in spans.items():
            _labels(axes, [one for one in own if one.vessel == vessel], span, x, scale, side=side)
    title = f"{model.scene.title}: where the water stands when something fails"
    line = (
        "levels over each vessel's floor; shaded from low to high. Test over a drain before you trust them."
    )
    figure.text(_MARGIN / page[0], 1.0 - 0.30 / page[1], title, fontsize=13.0, color=PAGE.ink)
    figure.text(_MARGIN / page[0], 1.0 - 0.52 / page[1], line, color=PAGE.soft_ink)
    return figure


def _chamber_left(circuit: Circuit) -> bool:
    first, last = circuit.sump.data.compartments[0], circuit.sump.data.compartments[-1]
    return last.low[0] < first.low[0]


def _across(circuit: Circuit) -> int:
    """Return the axis of the sump that is drawn level: 1 where its compartments stand front to back."""
    first, last = circuit.sump.data.compartments[0], circuit.sump.data.compartments[-1]
    deep = abs(last.low[1] - first.low[1]) > abs(last.low[0] - first.low[0])
    return int(first is not last and deep)


def _spans(circuit: Circuit) -> list[tuple[float, float]]:
    """Return where each compartment is drawn, [m] along x."""
    axis = _across(circuit)
    return [(c.low[axis], c.high[axis]) for c in circuit.sump.data.compartments]


def _outline(axes: Any, span: tuple[float, float], bottom: float, top: float, **look: Any) -> None:
    """Draw a vessel open at the top."""
    (left, right), look = span, {"color": PAGE.ink, "linewidth": 2.0, "zorder": 5} | look
    axes.plot([left, left, right, right], [top, bottom, bottom, top], solid_joinstyle="miter", **look)


def _water(axes: Any, span: tuple[float, float], bottom: float, top: float) -> None:
    axes.fill_between(span, bottom, top, color=WATER.side, alpha=0.32, linewidth=0, zorder=2)


def _lines(axes: Any, shown: Sequence[Level], span: tuple[float, float]) -> None:
    for level in shown:
        if level.band is not None and level.band.high > level.band.low:
            shade: dict[str, Any] = {"color": level.colour, "alpha": 0.15, "linewidth": 0, "zorder": 3}
            axes.fill_between(span, level.band.low, level.band.high, **shade)
        style: Any = (0, level.dashes) if level.dashes else "solid"
        axes.plot(span, [level.z, level.z], color=level.colour, linewidth=1.5, linestyle=style, zorder=6)


def _sump(axes: Any, found: Outages, span: tuple[float, float], shown: Sequence[Level]) -> None:
    circuit = found.circuit
    data, floor, spans = circuit.sump.data, circuit.sump.floor, _spans(circuit)
    told: dict[str, Any] = {"color": PAGE.soft_ink, "ha": "center", "zorder": 7}
    for item, (low, high) in zip(circuit.compartments, spans, strict=True):
        _water(axes, (low, high), floor, item.level.likely)
        axes.plot((low, high), [item.level.likely] * 2, color=WATER.line, linewidth=1.2, zorder=4)
        axes.text((low + high) / 2.0, floor - 0.015, item.name, va="top", **told)
    for number, compartment in enumerate(data.compartments[:-1]):
        ends = sorted((*spans[number], *spans[number + 1]))[1:3]
        baffle = floor + compartment.baffle_gap, floor + compartment.baffle_height
        axes.fill_between(ends, *baffle, color=PAGE.soft_ink, linewidth=0, zorder=5)
    axis = _across(circuit)
    for sock in circuit.socks:
        thin: dict[str, Any] = {"color": PAGE.soft_ink, "linewidth": 1.0, "linestyle": (0, (2, 1.5))}
        _outline(axes, (sock.low[axis], sock.high[axis]), sock.low[2], sock.rim, zorder=4, **thin)
    rest = [one for one in shown if "power cut" in one.words]
    for level in rest:
        # where the water rests below a baffle, the compartments before it keep theirs
        for own_span, height in zip(spans, circuit.sump.resting(level.z), strict=True):
            if height <= level.z + 1e-9:
                _lines(axes, [level], own_span)
    _lines(axes, [one for one in shown if one not in rest], spans[-1])
    if found.mark.running is not None:
        mark = [floor + height for height in found.mark.running]
        outer = spans[-1][0 if _chamber_left(circuit) else 1]
        axes.plot([outer] * 2, mark, color=FILL, linewidth=6.0, solid_capstyle="butt", zorder=8)
    _outline(axes, span, floor, circuit.sump.rim)
    axes.text((span[0] + span[1]) / 2.0, circuit.sump.rim + 0.012, circuit.sump.name, **told)


def _pipes(axes: Any, found: Outages, scale: float) -> None:
    """Draw drains and returns as wide as their bore; under a sump seen from its side only what is over it."""
    edges = [edge for drain in found.circuit.drains for edge in drain.way.edges]
    edges += [edge for way in found.circuit.returns for edge in way.pipework.edges]
    for edge in edges:
        points = np.array(edge.points)
        if not _across(found.circuit) or points[:, 2].max() >= 0.0:
            wide = max(1.5, edge.bore * scale * 72.0)  # points of 1/72 in
            look: dict[str, Any] = {"color": _PIPE, "linewidth": wide, "zorder": 1.5}
            axes.plot(points[:, 0], points[:, 2], solid_capstyle="projecting", **look)


def _boxes(model: Model, circuit: Circuit) -> list[Any]:
    """Return the bounding boxes of return pumps, strainers and nozzles, (2, 3) each, [m]."""
    names = [pump.name for pump in circuit.pumps if not _across(circuit)]
    names += [drain.mouth.body for drain in circuit.drains if drain.mouth.kind == "strainer"]
    names += [
        mouth.body
        for way in circuit.returns
        for mouth in way.pipework.mouths
        if mouth.kind == "nozzle" and mouth.vessel == model.tank_name
    ]
    return [body.solid.bounds for body in model.bodies_of(*names)]


def _equipment(axes: Any, boxes: Sequence[Any]) -> None:
    look: dict[str, Any] = {"facecolor": _EQUIPMENT, "edgecolor": PAGE.soft_ink, "linewidth": 0.8}
    for (x_low, _, z_low), (x_high, _, z_high) in boxes:
        axes.fill([x_low, x_low, x_high, x_high], [z_low, z_high, z_high, z_low], zorder=1.6, **look)


def _labels(
    axes: Any,
    shown: Sequence[Level],
    span: tuple[float, float],
    drawing: tuple[float, float],
    scale: float,
    *,
    side: str,
) -> None:
    """Write the levels' words in a column beside the drawing, none over another, each with its leader."""
    heights = apart([level.z for level in shown], _LINE / scale)
    way, end = (1.0, 1) if side == "right" else (-1.0, 0)
    turn, start, words = (drawing[end] + way * away / scale for away in (0.05, 0.30, 0.35))
    for level, height in zip(shown, heights, strict=True):
        leader = [span[end], turn, start], [level.z, level.z, height]
        axes.plot(*leader, color=level.colour, linewidth=0.8, clip_on=False, zorder=1)
        look: dict[str, Any] = {"color": level.colour, "ha": "left" if side == "right" else "right"}
        axes.text(words, height, level.words, va="center", clip_on=False, zorder=9, **look)
