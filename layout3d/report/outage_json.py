"""What failures do to a scene's water as one JSON object, SI units. Its schema: ``schema/outage.json``."""

from __future__ import annotations

from typing import Any

from layout3d.band import SETTINGS
from layout3d.flow.overflow import GravityDrain
from layout3d.model.model import Model
from layout3d.outage.circuit import Circuit
from layout3d.outage.fill_line import FillMark
from layout3d.outage.ledger import Event, Ledger, Outages
from layout3d.outage.returns import ReturnWays
from layout3d.report.json import FORMAT, plain, told
from layout3d.report.outage_words import CAUTIONS, assumptions, event_words

__all__ = ["outage_json"]


def outage_json(model: Model, found: Outages | None) -> dict[str, Any]:
    """Return the object that ``outage --json`` prints; its ``circuit`` is null where there is none."""
    facts: dict[str, Any] = {
        "format": FORMAT,
        "scene": model.scene.file,
        "title": model.scene.title,
        "circuit": None,
        "events": [],
        "fill_line": None,
        "fill_line_failed": None,
        "evaporation": None,
        "assumptions": [],
        "cautions": list(CAUTIONS),
    }
    if found is None:
        return facts
    facts |= {
        "circuit": _circuit(found.circuit),
        "events": [_event(event) for event in found.events],
        "fill_line": _mark(found.mark),
        "fill_line_failed": _mark(found.careful_mark) if found.failed else None,
        "evaporation": told(
            found.run_down, "loss", "daily", "days", "area", "stock", "why_not", "first", "first_days"
        ),
        "assumptions": list(assumptions(model, found)),
    }
    return facts


def _circuit(circuit: Circuit) -> dict[str, Any]:
    tank = told(
        circuit,
        "level",
        "waterline",
        "rim",
        "brace",
        "spill",
        "overflows",
        name="tank_name",
        level_slots_stopped="level_stopped",
        spills_over="spill_words",
    )
    compartments = [
        told(item, "name", "level", "head", "volume", "media", "set_level") for item in circuit.compartments
    ]
    sump = told(circuit.sump, "name", "floor", "rim")
    return told(circuit, "flow", "drain_contents", "notes") | {
        "tank": tank,
        "sump": sump | {"water": circuit.sump_running(), "compartments": compartments},
        "pumps": [told(pump, "name", "compartment", "inlet", "flow") for pump in circuit.pumps],
        "drains": [_drain(drain) for drain in circuit.drains],
        "returns": [_return(way) for way in circuit.returns],
        "socks": [told(sock, "name", "compartment", "rim") for sock in circuit.socks],
    }


def _drain(drain: GravityDrain) -> dict[str, Any]:
    facts = told(
        drain,
        "name",
        "parts",
        "crest",
        "siphon_level",
        "rise",
        "notes",
        intake="intake.words",
        formula="intake.formula",
        outlet="outlet.at",
        full_flow="full",
    )
    return facts | {
        "open_flow": plain(drain.open_flow) if drain.limits else None,
        "legs": [told(limit, "words", "at", "flow") for limit in drain.limits],
        "traps": [told(trap, "at", "depth", "sealed") for trap in drain.traps],
    }


def _return(way: ReturnWays) -> dict[str, Any]:
    siphons = [
        told(
            siphon,
            "mouth_level",
            "broken_at",
            "breaks",
            "check_valve",
            mouth="mouth.name",
            clogged_at="blocked_at",
        )
        for siphon in way.siphons
    ]
    return told(way, "flow", "contents", "check_valves", "holes") | {
        "pumps": [pump.name for pump in way.pumps],
        "contents_behind_valves": max(0.0, way.contents - way.contents_held),
        "siphons": siphons,
    }


def _event(event: Event) -> dict[str, Any]:
    facts = told(
        event,
        "kind",
        "subject",
        "devices",
        "tank_level",
        "chamber_level",
        "moved",
        "floor",
        "tank_margin",
        "sump_margin",
        "notes",
    )
    return facts | {
        "event": event_words(event),
        "ruled_by": event.rules[1],
        "books": {
            setting: {
                "before": _ledger(event.before, number),
                "after": _ledger(event.after, number),
                "unaccounted": event.balance[number],
            }
            for number, setting in enumerate(SETTINGS)
        },
    }


def _ledger(ledger: Ledger, number: int) -> dict[str, float]:
    names = ("tank", "sump", "pipes", "floor", "total")
    return {name: getattr(ledger, name)[number] for name in names}


def _mark(mark: FillMark) -> dict[str, Any]:
    return told(
        mark,
        "devices",
        "running",
        "stopped",
        "mark",
        "mark_stopped",
        "holds",
        lowest_event="line.lowest_event",
        highest_event="line.highest_event",
        room="line.room",
        remedies="line.remedies",
    )
