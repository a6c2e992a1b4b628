"""Gravity drains: fittings, falls, what they carry, and how high the tank stands over them."""

from __future__ import annotations

import math
from collections.abc import Iterator

from layout3d.band import Setting
from layout3d.checks.base import Finding, rule
from layout3d.checks.flood_words import FLOOD_TEST, flow_of, over_drain, parts_of
from layout3d.checks.measure import judged, length, limit, missing
from layout3d.fittings.registry import fittings
from layout3d.flow.overflow import GravityDrain, carried_open, gravity_drains, lowest_in_each_box
from layout3d.model.model import Model
from layout3d.outage.circuit import Circuit, circuit
from layout3d.parts.base import vector
from layout3d.pipework.graph import PumpPort
from layout3d.pipework.read import pipework
from layout3d.pipework.waters import water_at_point

__all__ = ["drain_capacity", "drain_only", "drain_uphill", "overflow_level"]

FLOOD = "A coupling that a pump blows off puts the pump's whole water on the floor, beside mains voltage."

LAYING = 1e-3  # smaller rises are put down to laying, [m], as in ``flow.drain.traps``


@rule(
    "drain-only",
    asks="Fittings that are made for drains carry no pressure of a pump.",
    caution=FLOOD,
    limits=("drain_only_head",),
)
def drain_only(model: Model) -> Iterator[Finding]:
    """Find such fittings on a pump's pipework: a warning, and a fault where it can press more than they hold.

    Judged by the pump's shut-off head over the water it draws from: what stands there when an end clogs.
    """
    most = limit(model, "drain_only_head")
    for part in pipework(model).parts:
        levels = {pump.name: _pressed_to(model, pump) for pump in part.pumps if not pump.air}
        if not levels:
            continue
        pump = max(levels, key=levels.__getitem__)
        for edge in part.edges:
            made = fittings().get(edge.kind)
            if made is None or not made.drain_only:
                continue
            head = levels[pump] - min(point[2] for point in edge.points)
            over = missing(-head, -most)
            yield Finding(
                severity="fault" if over else "warning",
                parts=(edge.body, pump),
                measured=head,
                limit=most,
                at=vector(model.body(edge.body).solid.centroid),
                message=f"{edge.body} is made for drains, and {pump} can press {length(head)} of water on it "
                f"({f'{length(over)} over' if over else 'held to'} {length(most)}, limit drain_only_head)",
                remedy="use a union or a cemented coupling there",
            )


def _pressed_to(model: Model, pump: PumpPort) -> float:
    """Return the level to which a pump can press water with its ends shut, z [m]."""
    part = next(built.part for built in model.pumps if built.part.name == pump.name)
    found = water_at_point(model, pump.inlet)
    start = found[1] if found else pump.inlet[2]
    entry = model.scene.catalog.pump(part.model)
    return start + entry.shut_off_head * part.speed**2


@rule(
    "drain-uphill",
    asks="A drain without a pump falls, or runs level, all the way from the tank to its end.",
    caution=FLOOD_TEST,
)
def drain_uphill(model: Model) -> Iterator[Finding]:
    """Find drains whose path rises again, and drains that climb over the water they are to take."""
    told: set[tuple[str, ...]] = set()
    for drain in gravity_drains(model):
        if drain.rise > LAYING:
            yield Finding(
                parts=parts_of(drain),
                measured=drain.rise,
                limit=LAYING,
                at=drain.way.crest()[1],
                message=f"the drain {drain.name!r} climbs {length(drain.rise)} over its intake outside the "
                f"tank: nothing runs away before the water stands at {length(drain.crest)}",
                remedy=f"lead it {length(drain.rise)} lower, or raise its intake",
            )
        # two mouths of one drain share its traps
        worst = max(drain.traps, key=lambda trap: trap.depth, default=None)
        if worst is None or drain.parts in told:
            continue
        told.add(drain.parts)
        shuts = " and shuts off the air" if worst.sealed else ""
        yield Finding(
            parts=parts_of(drain),
            measured=worst.depth,
            limit=LAYING,
            at=worst.at,
            message=f"the drain {drain.name!r} runs down and then up again by {length(worst.depth)}: water "
            f"stands in it there{shuts}",
            remedy=f"lower what follows by {length(worst.depth)}, or lead it another way",
        )


@rule(
    "drain-capacity",
    asks="The drains carry what the pumps bring, open, without running full.",
    caution=FLOOD_TEST,
    limits=("open_drain_depth_low", "open_drain_depth_likely", "open_drain_depth_high"),
)
def drain_capacity(model: Model) -> Iterator[Finding]:
    """Find flows over the open capacity of the drains that take them.

    A fault where the likely flow is over the likely capacity, a warning where only the ranges meet.
    """
    found = circuit(model)
    if found is None or found.flow is None or found.flow.likely <= 0.0:
        return
    flow = found.flow
    if not found.drains:
        yield _none(model, found, flow.likely)
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
    most, least = ("", "") if fault else (" at most", " at least")
    yield Finding(
        severity="fault" if fault else "warning",
        parts=parts_of(*carrying),
        measured=measured,
        limit=limit,
        unit="m³/s",
        at=narrowest.at,
        message=f"{flow_of(measured, give=flow.half)}{most} run to {_names(carrying)}, open carrying "
        f"{flow_of(limit, give=together.half)}{least} ({narrowest.words}: "
        f"{narrowest.flow.note}); running full it gulps, swings and stops without warning",
        remedy=f"pump {flow_of(measured - limit)} less, use a wider drain, or add a second one",
    )


def _none(model: Model, found: Circuit, flow: float) -> Finding:
    pumps = tuple(pump.name for pump in found.pumps)
    return Finding(
        parts=pumps,
        measured=flow,
        limit=0.0,
        unit="m³/s",
        at=over_drain(model, found, found.level.likely),
        message=f"{', '.join(pumps)} brings {flow_of(flow)} from {found.sump.name} to {found.tank_name}, and "
        "no drain leads back",
        remedy="drill an overflow, and lead a run from it down to the sump",
    )


def _names(drains: list[GravityDrain]) -> str:
    names = [drain.name for drain in drains]
    return f"the drain {names[0]!r}" if len(names) == 1 else f"the drains {', '.join(names)}"


@rule(
    "overflow-level",
    asks="With the pumps running the water stands at the scene's waterline, and well under rim and brace.",
    caution=FLOOD_TEST,
    limits=("waterline_to_overflow", "overflow_to_rim", "slots_stopped"),
)
def overflow_level(model: Model) -> Iterator[Finding]:
    """Find running levels too near the rim, and waterlines that the overflow does not keep."""
    found = circuit(model)
    if found is None or found.flow is None or found.flow.likely <= 0.0 or not found.drains:
        return
    if found.overflows:
        yield _runs_over(model, found, found.flow.likely)
        return
    yield from _to_rim(model, found)
    yield from _to_waterline(model, found)


def _runs_over(model: Model, found: Circuit, flow: float) -> Finding:
    drain = found.drains[0]
    room = found.spill - drain.crest
    return Finding(
        parts=parts_of(drain),
        measured=room,
        at=over_drain(model, found, found.spill),
        message=f"{flow_of(flow)} do not get into the drain {drain.name!r}, whose {drain.intake.words} has "
        f"{length(room)} from its crest to {found.spill_words}: the water runs over",
        remedy="set the intake lower, make it larger, or pump less",
    )


def _to_rim(model: Model, found: Circuit) -> Iterator[Finding]:
    top, over = found.spill, found.spill_words
    if found.brace is not None and found.brace < top:
        top, over = found.brace, "the lower face of the brace"
    stopped = found.level_stopped.likely if found.level_stopped is not None else found.spill
    worst = max(found.level.high, stopped)
    how = (
        f"with {found.slots_stopped:.0%} of the slots stopped"
        if stopped > found.level.high
        else "at the high figure"
    )
    drain, give = found.drains[0], found.level.half
    yield from judged(
        model,
        top - worst,
        "overflow_to_rim",
        math.inf if found.level.likely >= top else -math.inf,
        parts=parts_of(drain),
        at=over_drain(model, found, worst),
        says=f"the running level, {length(found.level.likely, give=give)} likely and "
        f"{length(worst, give=give)} {how}, leaves {length(top - worst, give=give)} to {over}",
        told=f" (limit overflow_to_rim; {drain.intake.formula})",
        remedy=f"set the intake of {drain.name} {{short}} lower, or make it larger",
    )


def _to_waterline(model: Model, found: Circuit) -> Iterator[Finding]:
    level, most = found.level, limit(model, "waterline_to_overflow")
    off = max(level.low - found.waterline, found.waterline - level.high, 0.0)
    if not missing(most, off):
        return
    drain = found.drains[0]
    where = "above" if found.waterline > level.high else "below"
    by = found.waterline - level.likely
    yield Finding(
        severity="warning",
        parts=parts_of(drain),
        measured=off,
        limit=most,
        at=over_drain(model, found, level.likely),
        message=f"the waterline of {length(found.waterline)} lies {length(off)} {where} the range of the "
        f"running level over {drain.name}, {length(level.low, give=level.half)} to "
        f"{length(level.high, give=level.half)} (limit "
        f"waterline_to_overflow, {length(most)}; {drain.intake.formula})",
        remedy=f"set the waterline to {length(level.likely, give=level.half)}, or the intake of {drain.name} "
        f"{length(abs(by), give=level.half)} {'higher' if by > 0 else 'lower'}",
    )
