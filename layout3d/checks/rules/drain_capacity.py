"""What the pumps bring against what the drains carry with air over the water."""

from __future__ import annotations

from layout3d.band import Setting
from layout3d.checks.base import FLOOD_TEST, Finding, Findings, rule
from layout3d.checks.flow_words import flow_of, over_drain, parts_of
from layout3d.flow.overflow import carried_open, lowest_in_each_box
from layout3d.model.model import Model
from layout3d.outage.circuit import circuit


@rule(
    "drain-capacity",
    asks="The drains carry what the pumps bring, open, without running full.",
    caution=FLOOD_TEST,
    limits=("open_drain_depth_low", "open_drain_depth_likely", "open_drain_depth_high"),
)
def drain_capacity(model: Model) -> Findings:
    """Find flows over the open capacity of the drains that take them.

    A fault where the likely flow is over the likely capacity, a warning where only the ranges meet.
    """
    found = circuit(model)
    if found is None or found.flow is None or found.flow.likely <= 0.0:
        return
    flow = found.flow
    if not found.drains:
        pumps = tuple(pump.name for pump in found.pumps)
        yield Finding(
            parts=pumps,
            measured=flow.likely,
            limit=0.0,
            unit="m³/s",
            at=over_drain(model, found, found.level.likely),
            message=f"{', '.join(pumps)} brings {flow_of(flow.likely)} from {found.sump.name} to "
            f"{found.tank_name}, and no drain leads back",
            remedy="drill an overflow, and lead a run from it down to the sump",
        )
        return
    drains = lowest_in_each_box(found.drains)
    carrying = [d for d in drains if d.limits and (found.overflows or d.crest < found.level.likely)]
    if not carrying:
        return
    together = carried_open(carrying)
    low, likely = together.low, together.likely
    if flow.high <= low:
        return
    fault = flow.likely > likely
    setting: Setting = "likely" if fault else "low"
    narrowest = min(carrying, key=lambda drain: drain.open_flow.at(setting)).narrowest(setting)
    measured, limit = (flow.likely, likely) if fault else (flow.high, low)
    names = [drain.name for drain in carrying]
    into = f"the drain {names[0]!r}" if len(names) == 1 else f"the drains {', '.join(names)}"
    most, least = ("", "") if fault else (" at most", " at least")
    yield Finding(
        severity="fault" if fault else "warning",
        parts=parts_of(*carrying),
        measured=measured,
        limit=limit,
        unit="m³/s",
        at=narrowest.at,
        message=f"{flow_of(measured, give=flow.half)}{most} run to {into}, open carrying "
        f"{flow_of(limit, give=together.half)}{least} ({narrowest.words}: "
        f"{narrowest.flow.note}); running full it gulps, swings and stops without warning",
        remedy=f"pump {flow_of(measured - limit)} less, use a wider drain, or add a second one",
    )
