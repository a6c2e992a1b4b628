"""How high the tank stands while the pumps run: against its rim and brace, and the scene's waterline."""

from __future__ import annotations

from collections.abc import Iterator

from layout3d.checks.base import Finding, Severity, rule
from layout3d.checks.flood_told import FLOOD_TEST, flow_of, over_drain
from layout3d.checks.measure import length, limit, missing
from layout3d.model.model import Model
from layout3d.outage.circuit import Circuit, circuit

__all__ = ["overflow_level"]


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
        yield _runs_over(model, found)
        return
    yield from _to_rim(model, found)
    yield from _to_waterline(model, found)


def _runs_over(model: Model, found: Circuit) -> Finding:
    assert found.flow is not None, "a circuit with a flow (_runs_over)"
    drain = found.drains[0]
    room = found.spill - drain.crest
    return Finding(
        rule="overflow-level",
        severity="fault",
        parts=drain.parts or (drain.name,),
        measured=room,
        limit=None,
        unit="m",
        at=over_drain(model, found, found.spill),
        message=(
            f"{flow_of(model, found.flow.likely)} do not get into the drain {drain.name!r}, whose "
            f"{drain.intake.words} has {length(model, room)} from its crest to {found.spill_words}: the "
            "water runs over"
        ),
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
    left, wanted = top - worst, limit(model, "overflow_to_rim")
    short = missing(left, wanted)
    if not short:
        return
    drain = found.drains[0]
    severity: Severity = "fault" if found.level.likely >= top else "warning"
    yield Finding(
        rule="overflow-level",
        severity=severity,
        parts=drain.parts or (drain.name,),
        measured=left,
        limit=wanted,
        unit="m",
        at=over_drain(model, found, worst),
        message=(
            f"the running level, {length(model, found.level.likely)} likely and {length(model, worst)} "
            f"{how}, leaves {length(model, left)} to {over}: {length(model, short)} short of "
            f"{length(model, wanted)} (limit overflow_to_rim; {drain.intake.formula})"
        ),
        remedy=f"set the intake of {drain.name} {length(model, short)} lower, or make it larger",
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
        rule="overflow-level",
        severity="warning",
        parts=drain.parts or (drain.name,),
        measured=off,
        limit=most,
        unit="m",
        at=over_drain(model, found, level.likely),
        message=(
            f"the waterline of {length(model, found.waterline)} lies {length(model, off)} {where} the range "
            f"of the running level over {drain.name}, {length(model, level.low)} to "
            f"{length(model, level.high)} (limit waterline_to_overflow, {length(model, most)}; "
            f"{drain.intake.formula})"
        ),
        remedy=(
            f"set the waterline to {length(model, level.likely)}, or the intake of {drain.name} "
            f"{length(model, abs(by))} {'higher' if by > 0 else 'lower'}"
        ),
    )
