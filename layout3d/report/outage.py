"""What failures do to a scene's water, as lines of text: levels, litres and the fill line, low to high."""

from __future__ import annotations

from layout3d.band import Band
from layout3d.flow.drain import DrainLimit
from layout3d.flow.overflow import GravityDrain
from layout3d.model.model import Model
from layout3d.outage.circuit import Circuit
from layout3d.outage.fill_line import FillMark
from layout3d.outage.ledger import Outages, RunDown
from layout3d.report.flow_words import band_cells, likely_cell, one_line
from layout3d.report.outage_words import CAUTIONS, assumptions, event_words, mark_words
from layout3d.report.text import caution_lines
from layout3d.report.writing import Line, table
from layout3d.units import show

__all__ = ["outage_lines"]

BAND = ("low", "likely", "high")
LEAST = 5e-6  # what would show as 0.00 L, [m³]


def outage_lines(model: Model, found: Outages | None) -> list[Line]:
    """Return the whole report; ``found`` None for a scene without sump or return pump."""
    lines = [Line(f"{model.scene.title}  ({model.scene.file})", style="head"), Line("")]
    if found is None:
        text = "no pump in a sump brings water to the tank of this scene: nothing runs back, nothing floods"
        return [*lines, Line(text), *caution_lines(CAUTIONS)]
    style, circuit = model.scene.style, found.circuit
    lines += _running(circuit, style)
    for drain in circuit.drains:
        lines += [Line(""), *_drain(drain, style)]
    lines += [Line(""), *_sump(circuit, style)]
    lines += [Line(""), *_events(found, style)]
    lines += [Line(""), *_fill(found, style)]
    lines += [Line(""), *_evaporation(found.run_down, style)]
    lines += [Line(""), Line("Taken as given", style="head")]
    lines += [Line(text, 2) for text in assumptions(model, found)]
    return lines + caution_lines(CAUTIONS)


def _length(value: float, style: str) -> str:
    return show(value, "length", system=style)


def _row(label: str, band: Band, kind: str, style: str) -> tuple[str, str, str, str]:
    return (label, *band_cells(band, kind, style, digits=4 if kind == "length" else 3))


def _running(circuit: Circuit, style: str) -> list[Line]:
    rows: list[tuple[str, str, str, str]] = [("", *BAND)]
    if circuit.flow is not None:
        rows.append(_row("flow into the tank", circuit.flow, "flow", style))
    rows.append(_row("level in the tank, over its floor", circuit.level, "length", style))
    if circuit.level_stopped is not None and any(drain.intake.screened for drain in circuit.drains):
        rows.append(
            _row(
                f"  with {circuit.slots_stopped:.0%} of the slots stopped",
                circuit.level_stopped,
                "length",
                style,
            )
        )
    left = circuit.level.map(lambda level: circuit.spill - level)
    rows.append(_row(f"left to {circuit.spill_words}", left, "length", style))
    if circuit.brace is not None:
        brace = circuit.brace
        rows.append(
            _row("left to the brace's lower face", circuit.level.map(lambda z: brace - z), "length", style)
        )
    lines = [Line("As it runs", style="head"), *table(rows, right=(1, 2, 3))]
    miss = circuit.level.likely - circuit.waterline
    if circuit.flow is not None and circuit.drains and not circuit.overflows:
        lines.append(
            Line(
                f"the scene's waterline is {_length(circuit.waterline, style)}: "
                f"{show(abs(miss), 'length', system=style, give=circuit.level.half)} "
                f"{'below' if miss > 0 else 'above'} the likely level",
                2,
            )
        )
    if circuit.overflows:
        lines.append(Line(f"the flow finds no way out below {circuit.spill_words}: it runs over", 2, "fault"))
    if not circuit.drains:
        lines.append(Line("no drain leads from the tank to the sump", 2, "fault"))
    lines += [
        Line(f"level by: {circuit.level.note}", 2, "faint"),
        *(Line(text, 2, "warning") for text in circuit.notes),
    ]
    return lines


def _drain(drain: GravityDrain, style: str) -> list[Line]:
    rows = [
        ("", *BAND),
        *(_row(limit.words, limit.flow, "flow", style) for limit in _least_of_each(drain)),
        _row("running full: never to be relied on", drain.full, "flow", style),
    ]
    lines = [
        Line(f"Drain {drain.name}", style="head"),
        Line(
            f"takes water in through: {drain.intake.words}; water runs from "
            f"{_length(drain.crest, style)} over the tank's floor",
            2,
        ),
        *table(rows, right=(1, 2, 3)),
    ]
    for trap in drain.traps:
        lines.append(
            Line(
                f"its path rises again and holds {_length(trap.depth, style)} of water"
                f"{', which shuts off the air' if trap.sealed else ''}",
                2,
                "fault",
            )
        )
    if drain.under_water > 0.0:
        lines.append(
            Line(
                f"its end lies {_length(drain.under_water, style)} under the water there: open it carries "
                "only what still lets air back up; end it over the water for more",
                2,
                "warning",
            )
        )
    if drain.rise > 0.0:
        lines.append(
            Line(f"it climbs {_length(drain.rise, style)} over its intake outside the tank", 2, "fault")
        )
    return lines + [Line(text, 2, "faint") for text in drain.notes]


def _least_of_each(drain: GravityDrain) -> list[DrainLimit]:
    """Return of each sort of leg the one that carries least."""
    found: dict[str, DrainLimit] = {}
    for limit in drain.limits:
        known = found.get(limit.words)
        if known is None or limit.flow.likely < known.flow.likely:
            found[limit.words] = limit
    return list(found.values())


def _sump(circuit: Circuit, style: str) -> list[Line]:
    floor = circuit.sump.floor
    header = ("", *BAND, "over or under its baffle", "scene")
    rows = []
    for item in circuit.compartments:
        level = item.level.map(lambda z: z - floor)
        head = "" if item is circuit.compartments[-1] else likely_cell(item.head, "length", style)
        rows.append(
            (
                f"{circuit.sump.name}.{item.name}",
                *band_cells(level, "length", style, digits=4),
                head,
                _length(item.set_level - floor, style),
            )
        )
    lines = [
        Line("Levels in the sump as it runs, over its floor", style="head"),
        *table([header, *rows], right=(1, 2, 3, 4, 5)),
    ]
    media = [item for item in circuit.compartments if item.media > 0.0]
    lines += [
        Line(f"media in {item.name}: {show(item.media, 'volume', system=style, digits=3)}", 2)
        for item in media
    ]
    cover = _length(circuit.chamber_level - circuit.draws_air, style)
    stock = show(circuit.stock, "volume", system=style, digits=3)
    return [*lines, Line(f"inlet of {_highest(circuit)}: {cover} under water; {stock} above it", 2)]


def _highest(circuit: Circuit) -> str:
    return max(circuit.pumps, key=lambda pump: pump.inlet[2]).name


def _events(found: Outages, style: str) -> list[Line]:
    circuit = found.circuit
    header = ("", "tank", "return chamber", "moved", "on the floor", "left in the tank", "left in the sump")
    rows = []

    def over_floor(level: float) -> float:
        return level - circuit.sump.floor

    for event in found.events:
        rows.append(
            (
                event_words(event),
                likely_cell(event.tank_level, "length", style, digits=4),
                likely_cell(event.chamber_level.map(over_floor), "length", style, digits=4),
                _volume(event.moved, style),
                _volume(event.floor, style) if event.floor.high > LEAST else "none",
                band_cells(event.tank_margin, "length", style)[0],
                band_cells(event.sump_margin, "length", style)[0],
            )
        )
    lines = [
        Line("What each failure comes to", style="head"),
        Line(
            "likely levels over each floor, water likely (low to high), the least that is left to the rims",
            2,
            "faint",
        ),
        *table([header, *rows], right=(1, 2, 3, 4, 5, 6)),
    ]
    for event in found.events:
        lines += [Line(f"{event_words(event)}: {note}", 2, "faint") for note in event.notes]
    return lines


def _volume(band: Band, style: str) -> str:
    return one_line(band, lambda told: band_cells(told, "volume", style))


def _fill(found: Outages, style: str) -> list[Line]:
    lines = [Line("Fill line on the return chamber, over the sump's floor", style="head")]
    lines += _mark(found.mark, style)
    if found.failed:
        lines.append(Line(f"the same where {found.careful_mark.devices}:", 2))
        lines += _mark(found.careful_mark, style)
    return lines


def _mark(mark: FillMark, style: str) -> list[Line]:
    line = mark.line
    lines = []
    if mark.running is None or mark.stopped is None:
        short = show(-line.room, "volume", system=style, digits=3)
        lines.append(
            Line(
                f"no mark holds: {line.lowest_event} asks for {short} more than {line.highest_event} leaves",
                2,
                "fault",
            )
        )
        lines += [Line(f"to mend it: {text}", 3) for text in line.remedies]
        return lines
    (low, high), (low_still, high_still) = mark.running, mark.stopped
    rows = [
        ("", "lowest", "highest", "scene"),
        ("with the pumps running", _length(low, style), _length(high, style), _length(mark.mark, style)),
        (
            "with the pumps stopped and all drained back",
            _length(low_still, style),
            _length(high_still, style),
            _length(mark.mark_stopped, style),
        ),
        ("set by", line.lowest_event, line.highest_event, ""),
    ]
    lines += table(rows, right=(1, 2, 3))
    text = mark_words(mark, style)
    return [*lines, Line(text, 2, "" if mark.holds else "fault")]


def _evaporation(down: RunDown, style: str) -> list[Line]:
    lines = [Line("Evaporation, as from open water", style="head")]
    if down.daily is None or down.loss is None:
        return [*lines, Line(f"not figured: {down.why_not}", 2, "warning")]
    rows = [("", *BAND), _row("lost in a day: the daily top-up", down.daily, "volume", style)]
    if down.days is not None:
        rows.append(("until the first pump draws air", *_days(down.days)))
    if down.first_days is not None:
        rows.append((f"until {down.first}", *_days(down.first_days)))
    lines += table(rows, right=(1, 2, 3))
    if down.days is None:
        lines.append(Line(down.why_not, 2))
    area = one_line(down.area, lambda band: band_cells(band, "area", style))
    return [*lines, Line(f"open water and wet wall: {area}; {down.loss.note}", 2, "faint")]


def _days(band: Band) -> tuple[str, str, str]:
    low, likely, high = (f"{figure} days" for figure in band_cells(band, "number", "metric"))
    return low, likely, high
