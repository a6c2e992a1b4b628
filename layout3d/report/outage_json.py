"""What failures do to a scene's water as one JSON object, SI units. Its schema: ``schema/outage.json``."""

from __future__ import annotations

from typing import Any

from layout3d.band import SETTINGS, Band
from layout3d.flow.overflow import GravityDrain
from layout3d.model.model import Model
from layout3d.outage.circuit import Circuit
from layout3d.outage.fill_line import FillMark
from layout3d.outage.ledger import Event, Ledger, Outages
from layout3d.outage.returns import ReturnWays
from layout3d.report.json import FORMAT
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
    down = found.run_down
    facts |= {
        "circuit": _circuit(found.circuit),
        "events": [_event(event) for event in found.events],
        "fill_line": _mark(found.mark),
        "fill_line_failed": _mark(found.careful_mark) if found.failed else None,
        "evaporation": {
            "loss": _band(down.loss),
            "daily": _band(down.daily),
            "days": _band(down.days),
            "area": _band(down.area),
            "stock": down.stock,
            "why_not": down.why_not,
        },
        "assumptions": list(assumptions(model, found)),
    }
    return facts


def _band(band: Band | None) -> dict[str, Any] | None:
    if band is None:
        return None
    return {"low": band.low, "likely": band.likely, "high": band.high, "note": band.note}


def _circuit(circuit: Circuit) -> dict[str, Any]:
    sump = circuit.sump
    return {
        "flow": _band(circuit.flow),
        "tank": {
            "name": circuit.tank_name,
            "level": _band(circuit.level),
            "level_slots_stopped": _band(circuit.level_stopped),
            "waterline": circuit.waterline,
            "rim": circuit.rim,
            "brace": circuit.brace,
            "spill": circuit.spill,
            "spills_over": circuit.spill_words,
            "overflows": circuit.overflows,
        },
        "sump": {
            "name": sump.name,
            "floor": sump.floor,
            "rim": sump.rim,
            "water": circuit.sump_running(),
            "compartments": [
                {
                    "name": item.name,
                    "level": _band(item.level),
                    "head": _band(item.head),
                    "volume": item.volume,
                    "media": item.media,
                    "set_level": item.set_level,
                }
                for item in circuit.compartments
            ],
        },
        "pumps": [
            {
                "name": pump.name,
                "compartment": pump.compartment,
                "inlet": list(pump.inlet),
                "flow": _band(pump.flow),
            }
            for pump in circuit.pumps
        ],
        "drains": [_drain(drain) for drain in circuit.drains],
        "drain_contents": _band(circuit.drain_contents),
        "returns": [_return(way) for way in circuit.returns],
        "socks": [
            {"name": sock.name, "compartment": sock.compartment, "rim": sock.rim} for sock in circuit.socks
        ],
        "notes": list(circuit.notes),
    }


def _drain(drain: GravityDrain) -> dict[str, Any]:
    return {
        "name": drain.name,
        "parts": list(drain.parts),
        "intake": drain.intake.words,
        "formula": drain.intake.formula,
        "crest": drain.crest,
        "siphon_level": drain.siphon_level,
        "outlet": list(drain.outlet.at),
        "open_flow": _band(drain.open_flow) if drain.limits else None,
        "full_flow": _band(drain.full),
        "legs": [
            {"words": limit.words, "at": list(limit.at), "flow": _band(limit.flow)} for limit in drain.limits
        ],
        "traps": [{"at": list(trap.at), "depth": trap.depth, "sealed": trap.sealed} for trap in drain.traps],
        "rise": drain.rise,
        "notes": list(drain.notes),
    }


def _return(way: ReturnWays) -> dict[str, Any]:
    return {
        "pumps": [pump.name for pump in way.pumps],
        "flow": _band(way.flow),
        "contents": way.contents,
        "contents_behind_valves": max(0.0, way.contents - way.contents_held),
        "check_valves": list(way.check_valves),
        "holes": list(way.holes),
        "siphons": [
            {
                "mouth": siphon.mouth.name,
                "mouth_level": siphon.mouth_level,
                "broken_at": siphon.broken_at,
                "clogged_at": siphon.blocked_at,
                "breaks": list(siphon.breaks),
                "check_valve": siphon.check_valve,
            }
            for siphon in way.siphons
        ],
    }


def _event(event: Event) -> dict[str, Any]:
    return {
        "event": event_words(event),
        "kind": event.kind,
        "subject": event.subject,
        "devices": event.devices,
        "tank_level": _band(event.tank_level),
        "chamber_level": _band(event.chamber_level),
        "moved": _band(event.moved),
        "floor": _band(event.floor),
        "tank_margin": _band(event.tank_margin),
        "sump_margin": _band(event.sump_margin),
        "ruled_by": event.rules[1],
        "books": {
            setting: {
                "before": _ledger(event.before, number),
                "after": _ledger(event.after, number),
                "unaccounted": event.balance[number],
            }
            for number, setting in enumerate(SETTINGS)
        },
        "notes": list(event.notes),
    }


def _ledger(ledger: Ledger, number: int) -> dict[str, float]:
    names = ("tank", "sump", "pipes", "floor", "total")
    return {name: getattr(ledger, name)[number] for name in names}


def _mark(mark: FillMark) -> dict[str, Any]:
    return {
        "devices": mark.devices,
        "running": None if mark.running is None else list(mark.running),
        "stopped": None if mark.stopped is None else list(mark.stopped),
        "lowest_event": mark.line.lowest_event,
        "highest_event": mark.line.highest_event,
        "room": mark.line.room,
        "mark": mark.mark,
        "mark_stopped": mark.mark_stopped,
        "holds": mark.holds,
        "remedies": list(mark.line.remedies),
    }
