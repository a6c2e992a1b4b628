"""What pumps keep running as one JSON object, SI units. Its schema stands in ``schema/flow.json``."""

from __future__ import annotations

from typing import Any

from layout3d.band import Band
from layout3d.flow.result import BarRun, Failure, RunningFlow, System
from layout3d.flow.sizing import Change
from layout3d.flow.turnover import turnovers
from layout3d.model.model import Model
from layout3d.report.flow_words import CAUTIONS, assumptions, loss_sources
from layout3d.report.json import FORMAT

__all__ = ["flow_json"]


def flow_json(model: Model, flow: RunningFlow, change: Change | None = None) -> dict[str, Any]:
    """Return the object that ``flow --json`` prints; ``change`` only where one was asked for."""
    facts: dict[str, Any] = {
        "format": FORMAT,
        "scene": model.scene.file,
        "title": model.scene.title,
        "water_temperature": flow.temperature + 273.15,
        "systems": [_system(system) for system in flow.systems],
        "turnover": [
            {
                "kind": one.kind,
                "pumps": list(one.pumps),
                "flow": _band(one.flow),
                "volume": one.volume,
                "per_hour": _band(one.per_hour),
            }
            for one in turnovers(model, flow)
        ],
        "idle": [{"pump": one.pump, "why": one.why} for one in flow.idle],
        "failures": [_failure(one) for one in flow.failures()],
        "assumptions": list(assumptions(model, flow)),
        "loss_sources": list(loss_sources(stretch.source for stretch in flow.stretches)),
        "cautions": list(CAUTIONS),
    }
    if change is not None:
        facts["change"] = {
            "varied": change.varied,
            "part": change.part,
            "before": change.before,
            "after": change.after,
            "wanted_per_metre": change.wanted,
            "holes": change.bar.count,
            "head": change.head,
            "bar": _bar(change.run),
            "choices": [
                {"diameter": one.bar.diameters[0], "per_metre": _band(one.flow_per_metre)}
                for one in change.choices
            ],
        }
    return facts


def _band(band: Band | None) -> dict[str, float] | None:
    return None if band is None else {"low": band.low, "likely": band.likely, "high": band.high}


def _failure(failure: Failure) -> dict[str, Any]:
    return {
        "kind": failure.kind,
        "setting": failure.setting,
        "pumps": list(failure.parts),
        "message": failure.message,
        "remedy": failure.remedy,
        "measured": failure.measured,
        "limit": failure.limit,
    }


def _system(system: System) -> dict[str, Any]:
    return {
        "driven_by": list(system.pump_names),
        "pumps": [
            {
                "pump": pump.pump,
                "model": pump.model,
                "speed": pump.speed,
                "water": pump.water,
                "flow": _band(pump.flow),
                "head": _band(pump.head),
                "shut_off_head": pump.curve.shut_off_head,
                "greatest_flow": pump.curve.max_flow,
                "state": pump.state,
            }
            for pump in system.pumps
        ],
        "outs": [
            {
                "name": out.name,
                "where": out.where,
                "kind": out.kind,
                "part": out.part,
                "height": out.height,
                "flow": _band(out.flow),
                "velocity": _band(out.velocity),
                "top_in_the_way": None
                if out.crest is None
                else {"node": out.crest.node, "height": out.crest.height, "level": out.crest.level},
            }
            for out in system.outs
        ],
        "elements": [
            {
                "name": one.link,
                "body": one.body,
                "kind": one.kind,
                "part": one.part,
                "from": one.start,
                "to": one.end,
                "bore": one.bore,
                "length": one.length,
                "flow": _band(one.flow),
                "velocity": _band(one.velocity),
                "loss": _band(one.loss),
                "share": one.share,
                "state": one.state,
                "source": one.source,
            }
            for one in system.stretches
        ],
        "grade_line": [
            {
                "node": point.node,
                "elevation": point.elevation,
                "head": _band(point.head),
                "velocity": point.velocity,
            }
            for point in system.grade
        ],
        "siphons": [point.node for point in system.siphons],
        "shares": [{"what": cost.what, "kind": cost.kind, "share": cost.share} for cost in system.costs],
        "bars": [_bar(bar) for bar in system.bars],
        "water_in": _band(system.water_in) or {},
        "water_out": _band(system.water_out) or {},
    }


def _bar(bar: BarRun) -> dict[str, Any]:
    return {
        "run": bar.run,
        "body": bar.body,
        "flow": _band(bar.flow),
        "per_metre": _band(bar.flow_per_metre),
        "served_length": bar.bar.served_length,
        "area_ratio": bar.bar.area_ratio,
        "static_head": _band(bar.static_head),
        "total_head": _band(bar.total_head),
        "level": bar.level,
        "velocity": _band(bar.velocity),
        "variation": _band(bar.variation),
        "low_quarter_uniformity": _band(bar.uniformity),
        "pressure_recovery": True,
        "margin": _band(bar.margin),
        "on_the_brink": bar.on_the_brink,
        "holes": [
            {
                "number": hole.number,
                "along": hole.along,
                "diameter": hole.diameter,
                "height": hole.height,
                "flow": _band(hole.flow),
                "static_head": hole.head,
                "state": hole.state,
            }
            for hole in bar.holes
        ],
    }
