"""How high the tank stands while the pumps run: against its rim and brace, and the scene's waterline."""

from __future__ import annotations

import math

from layout3d.checks.base import FLOOD_TEST, Finding, Findings, rule
from layout3d.checks.flow_words import flow_of, over_drain, parts_of, volume_of
from layout3d.checks.measure import judged, length, limit, missing
from layout3d.model.model import Model
from layout3d.outage.circuit import Circuit, circuit


@rule(
    "overflow-level",
    asks="With the pumps running the water stands at the scene's waterline, and well under rim and brace.",
    caution=FLOOD_TEST,
    limits=("waterline_to_overflow", "overflow_to_rim", "slots_stopped"),
)
def overflow_level(model: Model) -> Findings:
    """Find running levels too near the rim, waterlines that no overflow keeps, and drains over the rim."""
    found = circuit(model)
    if found is None or found.flow is None or found.flow.likely <= 0.0 or not found.drains:
        return
    if found.overflows:
        drain = found.drains[0]
        room = found.spill - drain.crest
        crest = (
            f"has {length(room)} from its crest to {found.spill_words}"
            if room >= 0.0
            else f"stands {length(-room)} over {found.spill_words}"
        )
        yield Finding(
            parts=parts_of(drain),
            measured=room,
            at=over_drain(model, found, found.spill),
            message=f"{flow_of(found.flow.likely)} do not get into the drain {drain.name!r}, whose "
            f"{drain.intake.words} {crest}: the water runs over",
            remedy="set the intake lower, make it larger, or pump less",
        )
        return
    for drain in found.drains[1:]:
        # one whose mouth hangs into the water siphons once it is primed
        if found.spill <= drain.crest <= drain.siphon_level:
            yield Finding(
                parts=parts_of(drain),
                measured=found.spill - drain.crest,
                limit=0.0,
                at=drain.mouth.at,
                message=f"the drain {drain.name!r} begins {length(drain.crest - found.spill)} over "
                f"{found.spill_words}: it never takes any water",
                remedy=f"set the intake of {drain.name} lower, between the running level and "
                f"{found.spill_words}",
            )
    yield from _to_rim(model, found)
    yield from _to_waterline(model, found)


def _to_rim(model: Model, found: Circuit) -> Findings:
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


def _to_waterline(model: Model, found: Circuit) -> Findings:
    level, most = found.level, limit(model, "waterline_to_overflow")
    off = max(level.low - found.waterline, found.waterline - level.high, 0.0)
    if not missing(most, off):
        return
    drain = found.drains[0]
    where = "above" if found.waterline > level.high else "below"
    by = found.waterline - level.likely
    fails = ""
    if by > 0.0:
        runs_down = found.tank.volume(min(found.waterline, found.tank.top)) - found.tank.volume(drain.crest)
        room = found.sump.whole.volume(found.sump.rim) - found.sump_running()
        if runs_down > room:
            fails = (
                f": filled so high, {volume_of(runs_down)} run down to {found.sump.name}, which has room for "
                f"{volume_of(room)}"
            )
    else:
        fills = found.tank.volume(level.low) - found.tank.volume(max(found.waterline, found.tank.bottom))
        if fills > found.stock:
            fails = (
                f": filled so low, it takes {volume_of(fills)} more before the drain keeps its level, and "
                f"{found.sump.chamber_name} has {volume_of(found.stock)} over the pumps' inlets; no mass, "
                "volume or clearance here counts water so high"
            )
    yield Finding(
        severity="fault" if fails else "warning",
        parts=parts_of(drain),
        measured=off,
        limit=most,
        at=over_drain(model, found, level.likely),
        message=f"the waterline of {length(found.waterline)} lies {length(off)} {where} the range of the "
        f"running level over {drain.name}, {length(level.low, give=level.half)} to "
        f"{length(level.high, give=level.half)} (limit "
        f"waterline_to_overflow, {length(most)}; {drain.intake.formula}){fails}",
        remedy=f"set the waterline to {length(level.likely, give=level.half)}, or the intake of {drain.name} "
        f"{length(abs(by), give=level.half)} {'higher' if by > 0 else 'lower'}",
    )
