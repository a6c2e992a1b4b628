"""What failures do to a scene's water, as text and as JSON: levels, litres and the fill line, low to high."""

from __future__ import annotations

from typing import Any

from layout3d.band import SETTINGS
from layout3d.flow.drain import DrainLimit
from layout3d.flow.overflow import GravityDrain
from layout3d.model.model import Model
from layout3d.outage.circuit import Circuit
from layout3d.outage.fill_line import FillMark
from layout3d.outage.ledger import Event, Outages, RunDown
from layout3d.outage.without_circuit import StoppedPumps, stopped_without_circuit
from layout3d.report.bands import band_cells, band_rows, likely_cell, one_line
from layout3d.report.cautions import OUTAGE
from layout3d.report.json import heading, plain, told
from layout3d.report.text import caution_lines, title_lines
from layout3d.report.writing import Line, section, table
from layout3d.units import in_own_units, show

__all__ = ["outage_json", "outage_lines"]

LEAST = 5e-6  # what would show as 0.00 L, [m³]


@in_own_units
def outage_lines(model: Model, found: Outages | None) -> list[Line]:
    """Return the whole report; ``found`` None for a scene without sump or return pump."""
    lines = [*title_lines(model), Line("")]
    if found is None:
        return [*lines, *_without_circuit(model), *caution_lines(OUTAGE)]
    circuit = found.circuit
    lines += _running(circuit)
    for drain in circuit.drains:
        lines += [Line(""), *_drain(drain)]
    lines += [Line(""), *_sump(circuit)]
    lines += [Line(""), *_events(found)]
    lines += [Line(""), *_fill(found)]
    lines += [Line(""), *_evaporation(found.run_down)]
    lines += section("Taken as given", (Line(text, 2) for text in _assumptions(model, found)))
    return lines + caution_lines(OUTAGE)


def _without_circuit(model: Model) -> list[Line]:
    """Return why there is no circuit, and what stopped pumps do all the same."""
    why = "no pump in a sump brings water to the tank" if model.sumps else "the scene has no sump"
    text = (
        f"{why}: levels, the fill line, blocked drains and what lets go are not figured; they take a sump "
        "(`kind: sump`) with a pump in it that brings water to the tank"
    )
    found = [_stopped(one) for one in stopped_without_circuit(model)]
    told = section("As pumps stop", found or [Line("no pump moves water", 2)])
    return [Line(text, style="warning"), *told]


def _stopped(one: StoppedPumps) -> Line:
    """Return in a line what stopped pumps do."""
    told = []
    for pump, water, back in one.back:
        flow = one_line(back, "flow")
        told.append(f"no check valve stops {flow} from running back through {pump} into the water of {water}")
    if one.siphon:
        to = f", to {' and '.join(one.to)}" if one.to else ""
        told.append(
            f"{show(one.siphon, 'flow', digits=2)} siphon on out of the tank as long as the pipe is full: "
            f"up to {show(one.leaves, 'volume', digits=3)}, to {_length(one.level or 0.0)} over its floor{to}"
            f"{'; nothing catches it' if one.floor else ''}"
        )
    if one.contents > LEAST:
        told.append(f"{show(one.contents, 'volume', digits=3)} in the pipes above the water run out of them")
    if one.why_not:
        told.append(f"not figured: {one.why_not}")
    running = f", {' and '.join(one.others)} running" if one.others else ""
    style = "fault" if one.floor or one.why_not else "warning" if one.back or one.siphon else ""
    words = "; ".join(told) or "nothing runs back"
    return Line(f"{' and '.join(one.stopped)} stopped{running}: {words}", 2, style)


def _length(value: float, *, give: float = 0.0) -> str:
    return show(value, "length", give=give)


def _running(circuit: Circuit) -> list[Line]:
    screened = any(drain.intake.screened for drain in circuit.drains)
    stopped, brace = circuit.level_stopped if screened else None, circuit.brace
    below_brace = None if brace is None else circuit.level.map(lambda level: brace - level)
    rows = [
        ("flow into the tank", circuit.flow, "flow"),
        ("level in the tank, over its floor", circuit.level, "level"),
        (f"  with {circuit.slots_stopped:.0%} of the slots stopped", stopped, "level"),
        (f"left to {circuit.spill_words}", circuit.level.map(lambda level: circuit.spill - level), "level"),
        ("left to the brace's lower face", below_brace, "level"),
    ]
    lines = [Line("As it runs", style="head"), *band_rows(rows)]
    miss = circuit.level.likely - circuit.waterline
    if circuit.flow is not None and circuit.drains and not circuit.overflows:
        off = f"{_length(abs(miss), give=circuit.level.half)} {'below' if miss > 0 else 'above'}"
        lines.append(
            Line(f"the scene's waterline is {_length(circuit.waterline)}: {off} the likely level", 2)
        )
    if circuit.overflows:
        lines.append(Line(f"the flow finds no way out below {circuit.spill_words}: it runs over", 2, "fault"))
    if not circuit.drains:
        lines.append(Line("no drain leads from the tank to the sump", 2, "fault"))
    lines.append(Line(f"level by: {circuit.level.note}", 2, "faint"))
    return lines + [Line(text, 2, "warning") for text in circuit.notes]


def _drain(drain: GravityDrain) -> list[Line]:
    least: dict[str, DrainLimit] = {}  # of each sort of leg the one that carries least
    for limit in drain.limits:
        known = least.get(limit.words)
        if known is None or limit.flow.likely < known.flow.likely:
            least[limit.words] = limit
    rows = [(limit.words, limit.flow, "flow") for limit in least.values()]
    rows.append(("running full: never to be relied on", drain.full, "flow"))
    takes = f"takes water in through: {drain.intake.words}; water runs from"
    lines = [
        Line(f"Drain {drain.name}", style="head"),
        Line(f"{takes} {_length(drain.crest)} over the tank's floor", 2),
        *band_rows(rows),
    ]
    for trap in drain.traps:
        shuts = ", which shuts off the air" if trap.sealed else ""
        lines.append(
            Line(f"its path rises again and holds {_length(trap.depth)} of water{shuts}", 2, "fault")
        )
    if drain.under_water > 0.0:
        text = (
            f"its end lies {_length(drain.under_water)} under the water there: open it carries "
            "only what still lets air back up; end it over the water for more"
        )
        lines.append(Line(text, 2, "warning"))
    if drain.rise > 0.0:
        lines.append(Line(f"it climbs {_length(drain.rise)} over its intake outside the tank", 2, "fault"))
    return lines + [Line(text, 2, "faint") for text in drain.notes]


def _sump(circuit: Circuit) -> list[Line]:
    floor = circuit.sump.floor
    rows = [("compartment", *SETTINGS, "over or under its baffle", "scene")]
    for item in circuit.compartments:
        level = band_cells(item.level.map(lambda z: z - floor), "level")
        head = "" if item is circuit.compartments[-1] else likely_cell(item.head, "length")
        rows.append((f"{circuit.sump.name}.{item.name}", *level, head, _length(item.set_level - floor)))
    lines = [
        Line("Levels in the sump as it runs, over its floor", style="head"),
        *table(rows, right=(1, 2, 3, 4, 5), headed=True),
    ]
    for item in circuit.compartments:
        if item.media > 0.0:
            lines.append(Line(f"media in {item.name}: {show(item.media, 'volume', digits=3)}", 2))
    highest = max(circuit.pumps, key=lambda pump: pump.inlet[2]).name
    cover = _length(circuit.chamber_level - circuit.draws_air)
    stock = show(circuit.stock, "volume", digits=3)
    return [*lines, Line(f"inlet of {highest}: {cover} under water; {stock} above it", 2)]


def _events(found: Outages) -> list[Line]:
    floor = found.circuit.sump.floor
    rows = [
        ("failure", "tank", "return chamber", "moved", "on the floor", "left in the tank", "left in the sump")
    ]
    for event in found.events:
        rows.append(
            (
                _words(event),
                likely_cell(event.tank_level, "level"),
                likely_cell(event.chamber_level.map(lambda level: level - floor), "level"),
                one_line(event.moved, "volume"),
                one_line(event.floor, "volume") if event.floor.high > LEAST else "none",
                band_cells(event.tank_margin, "length")[0],
                band_cells(event.sump_margin, "length")[0],
            )
        )
    how = "likely levels over each floor, water likely (low to high), the least that is left to the rims"
    return [
        Line("What each failure comes to", style="head"),
        Line(how, 2, "faint"),
        *table(rows, right=(1, 2, 3, 4, 5, 6), headed=True),
        *(Line(f"{_words(event)}: {note}", 2, "faint") for event in found.events for note in event.notes),
    ]


def _words(event: Event) -> str:
    """Return an event in words."""
    words = {
        "power cut": "power cut",
        "blocked drain": f"{event.subject} blocked",
        "pump stopped": f"{event.subject} stopped",
        "sock clogged": f"{event.subject} clogged",
        "lets go": f"{event.subject} lets go",
        "drain beside": f"{event.subject} ends beside the sump",
    }[event.kind]
    if event.kind == "blocked drain" and event.subject == "no drain":
        words = "no drain, pump running"
    return f"{words}, {event.devices}" if event.devices else words


def _fill(found: Outages) -> list[Line]:
    lines = [Line("Fill line on the return chamber, over the sump's floor", style="head"), *_mark(found.mark)]
    if found.failed:
        lines += [Line(f"the same where {found.careful_mark.devices}:", 2), *_mark(found.careful_mark)]
    return lines


def _mark(mark: FillMark) -> list[Line]:
    line = mark.line
    if mark.running is None or mark.stopped is None:
        short = show(-line.room, "volume", digits=3)
        text = f"no mark holds: {line.lowest_event} asks for {short} more than {line.highest_event} leaves"
        return [Line(text, 2, "fault"), *(Line(f"to mend it: {remedy}", 3) for remedy in line.remedies)]
    stopped = (*mark.stopped, mark.mark_stopped)
    rows = [
        ("", "lowest", "highest", "scene"),
        ("with the pumps running", *(_length(z) for z in (*mark.running, mark.mark))),
        ("with the pumps stopped and all drained back", *(_length(z) for z in stopped)),
        ("set by", line.lowest_event, line.highest_event, ""),
    ]
    low, high = mark.running
    where = f"{_length(mark.mark - low)} above the lowest and {_length(high - mark.mark)} below the highest"
    if not mark.holds:
        sides = f"below the lowest ({line.lowest_event})", f"above the highest ({line.highest_event})"
        where = f"{_length(abs(mark.miss))} {sides[mark.miss > 0.0]}"
    told = Line(f"the scene's mark lies {where}", 2, "" if mark.holds else "fault")
    return [*table(rows, right=(1, 2, 3), headed=True), told]


def _evaporation(down: RunDown) -> list[Line]:
    lines = [Line("Evaporation, as from open water", style="head")]
    if down.daily is None or down.loss is None:
        return [*lines, Line(f"not figured: {down.why_not}", 2, "warning")]
    lines += band_rows(
        [
            ("lost in a day: the daily top-up", down.daily, "volume"),
            ("until the first pump draws air", down.days, "days"),
            (f"until {down.first}", down.first_days, "days"),
        ]
    )
    if down.days is None:
        lines.append(Line(down.why_not, 2))
    area = one_line(down.area, "area")
    return [*lines, Line(f"open water and wet wall: {area}; {down.loss.note}", 2, "faint")]


@in_own_units
def _assumptions(model: Model, found: Outages) -> list[str]:
    """Return what was taken as given, so that a reader can judge the figures."""
    limit = model.scene.catalog.limit
    days = limit("top_up_interval").value / 86400.0
    told = [
        "each failure alone, unnoticed, to its end; volumes exact, with all that stands in tank and sump",
        "the return chamber is filled to the scene's level while the pumps run; compartments before it stand "
        "over their baffles by the flow",
        "a mouth under water drains the tank to its lower edge; all water in return pipes out of both waters "
        "comes down; pumps let water back when stopped",
        f"fill line: {limit('sump_margin').value:.0%} more room than drains back (limit sump_margin), "
        f"{_length(limit('water_cover').value)} over the inlet (limit water_cover), "
        f"{days:g} days between top-ups (limit top_up_interval); flow as at the scene's mark: filled higher, "
        "the pumps bring a little more and a little more drains back",
        "room open to the tank: under a lid far less evaporates than told",
    ]
    if found.circuit.socks:
        told.append("a clogged sock holds water to its rim; a clean one takes no head")
    return told


# -- as JSON, SI units; its schema stands in ``schema/outage.json`` ------------------------------------------


def outage_json(model: Model, found: Outages | None) -> dict[str, Any]:
    """Return the object that ``outage --json`` prints; its ``circuit`` is null where there is none."""
    facts = heading(model) | {
        "circuit": None,
        "events": [],
        "fill_line": None,
        "fill_line_failed": None,
        "evaporation": None,
        "assumptions": [],
        "cautions": list(OUTAGE),
        "without_circuit": [],
    }
    if found is None:
        return facts | {"without_circuit": plain(stopped_without_circuit(model))}
    return facts | {
        "circuit": _circuit_facts(found.circuit),
        "events": [_event_facts(event) for event in found.events],
        "fill_line": _mark_facts(found.mark),
        "fill_line_failed": _mark_facts(found.careful_mark) if found.failed else None,
        "evaporation": told(found.run_down, "loss daily days area stock why_not first first_days"),
        "assumptions": _assumptions(model, found),
    }


def _circuit_facts(circuit: Circuit) -> dict[str, Any]:
    tank = told(
        circuit,
        "level waterline rim brace spill overflows name=tank_name level_slots_stopped=level_stopped "
        "spills_over=spill_words",
    )
    siphons = "mouth_level broken_at breaks check_valve mouth=mouth.name clogged_at=blocked_at"
    compartments = [told(item, "name level head volume media set_level") for item in circuit.compartments]
    water = {"water": circuit.sump_running(), "compartments": compartments}
    return told(circuit, "flow drain_contents notes") | {
        "tank": tank,
        "sump": told(circuit.sump, "name floor rim") | water,
        "pumps": [told(pump, "name compartment inlet flow") for pump in circuit.pumps],
        "drains": [
            told(
                drain,
                "name parts crest siphon_level rise notes intake=intake.words formula=intake.formula "
                "outlet=outlet.at full_flow=full",
            )
            | {
                "open_flow": plain(drain.open_flow) if drain.limits else None,
                "legs": [told(limit, "words at flow") for limit in drain.limits],
                "traps": [told(trap, "at depth sealed") for trap in drain.traps],
            }
            for drain in circuit.drains
        ],
        "returns": [
            told(way, "flow contents check_valves holes")
            | {
                "pumps": [pump.name for pump in way.pumps],
                "contents_behind_valves": max(0.0, way.contents - way.contents_held),
                "siphons": [told(siphon, siphons) for siphon in way.siphons],
            }
            for way in circuit.returns
        ],
        "socks": [told(sock, "name compartment rim") for sock in circuit.socks],
    }


def _event_facts(event: Event) -> dict[str, Any]:
    names = "kind subject devices tank_level chamber_level moved floor tank_margin sump_margin notes"
    places = ("tank", "sump", "pipes", "floor", "total")
    books: dict[str, Any] = {}
    for number, setting in enumerate(SETTINGS):
        ledgers = {"before": event.before, "after": event.after}
        books[setting] = {
            when: {place: getattr(ledger, place)[number] for place in places}
            for when, ledger in ledgers.items()
        } | {"unaccounted": event.balance[number]}
    return told(event, names) | {"event": _words(event), "ruled_by": event.rules[1], "books": books}


def _mark_facts(mark: FillMark) -> dict[str, Any]:
    return told(
        mark,
        "devices running stopped mark mark_stopped holds lowest_event=line.lowest_event "
        "highest_event=line.highest_event room=line.room remedies=line.remedies",
    )
