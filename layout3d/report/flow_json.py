"""What pumps keep running as one JSON object, SI units. Its schema stands in ``schema/flow.json``."""

from __future__ import annotations

from typing import Any

from layout3d.flow.result import BarRun, RunningFlow, System
from layout3d.flow.sizing import Change
from layout3d.flow.turnover import turnovers
from layout3d.model.model import Model
from layout3d.report.cautions import FLOW
from layout3d.report.flow_words import RANGE, assumptions, loss_sources
from layout3d.report.json import heading, told

__all__ = ["flow_json"]


def flow_json(model: Model, flow: RunningFlow, change: Change | None = None) -> dict[str, Any]:
    """Return the object that ``flow --json`` prints; ``change`` only where one was asked for."""
    facts = heading(model) | {
        "water_temperature": flow.temperature + 273.15,
        "systems": [_system(system) for system in flow.systems],
        "turnover": [told(one, "kind pumps flow volume per_hour") for one in turnovers(model, flow)],
        "idle": [told(one, "pump why") for one in flow.idle],
        "failures": [
            told(one, "kind setting message remedy measured limit pumps=parts") for one in flow.failures()
        ],
        "assumptions": [RANGE, *assumptions(model, flow)],
        "loss_sources": list(loss_sources(stretch.source for stretch in flow.stretches)),
        "cautions": list(FLOW),
    }
    if change is not None:
        names = "varied part before after head wanted_per_metre=wanted holes=bar.count"
        facts["change"] = told(change, names) | {
            "bar": _bar(change.run),
            "choices": [
                {"diameter": one.bar.diameters[0]} | told(one, "per_metre=flow_per_metre")
                for one in change.choices
            ],
        }
    return facts


def _system(system: System) -> dict[str, Any]:
    pump = (
        "pump model speed water flow head state "
        "shut_off_head=curve.shut_off_head greatest_flow=curve.max_flow"
    )
    out = "name where kind part height flow velocity top_in_the_way=crest"
    element = "body kind part bore length flow velocity loss share state source name=link from=start to=end"
    return told(system, "driven_by=pump_names grade_line=grade shares=costs") | {
        "pumps": [told(one, pump) for one in system.pumps],
        "outs": [told(one, out) for one in system.outs],
        "elements": [told(one, element) for one in system.stretches],
        "siphons": [point.node for point in system.siphons],
        "bars": [_bar(bar) for bar in system.bars],
        **{way: told(system, way)[way] or {} for way in ("water_in", "water_out")},
    }


def _bar(bar: BarRun) -> dict[str, Any]:
    facts = told(
        bar,
        "run body flow static_head total_head level velocity variation margin on_the_brink "
        "per_metre=flow_per_metre served_length=bar.served_length area_ratio=bar.area_ratio "
        "low_quarter_uniformity=uniformity",
    )
    holes = [told(hole, "number along diameter height flow state static_head=head") for hole in bar.holes]
    return facts | {"pressure_recovery": True, "holes": holes}
