"""The fill line on the return chamber: whether every failure leaves a band, and the level lies in it."""

from __future__ import annotations

from layout3d.checks.base import FLOOD_TEST, Finding, Findings, rule
from layout3d.checks.flow_words import volume_of
from layout3d.checks.measure import from_to, length
from layout3d.model.model import Model
from layout3d.outage.fill_line import FillMark
from layout3d.outage.ledger import Outages
from layout3d.outage.outages import outages


@rule(
    "fill-line",
    asks="The return chamber's level lies where power cut, blocked drain and evaporation all allow it.",
    caution=FLOOD_TEST,
    limits=("water_cover", "sump_margin", "top_up_interval"),
)
def fill_line(model: Model) -> Findings:
    """Find return chambers with no mark that holds, and levels outside the band.

    A loss that no figure is known for is a fault: the marks then leave it out. Says nothing else where a
    power cut or a blocked drain spills at this level: those rules tell it, with the mark that would do. That
    there is no band only if a check valve fails is a warning.
    """
    found = outages(model)
    if found is None or found.circuit.overflows:
        return
    if found.run_down.loss is None:
        chamber = found.circuit.sump.chamber_name
        yield Finding(
            parts=(chamber,),
            at=found.circuit.sump.data.return_chamber.middle(found.circuit.chamber_level),
            message=f"how long {chamber} lasts without a top-up could not be judged: what evaporates could "
            f"not be figured: {found.run_down.why_not}",
            remedy="write `conditions:` within that, or measure what a day takes, and accept this with it",
        )
    alone = found.blocked[:-1] or found.blocked
    if any(event.floor.likely > 0.0 for event in (found.power_cut, *alone)):
        return
    if not found.mark.holds:
        yield _no_mark(found, found.mark, fault=True)
    elif found.careful_mark.running is None and not any(e.floor.high > 0.0 for e in found.failed):
        yield _no_mark(found, found.careful_mark, fault=False)


def _no_mark(found: Outages, mark: FillMark, *, fault: bool) -> Finding:
    circuit, line = found.circuit, mark.line
    chamber = circuit.sump.chamber_name
    if mark.running is None:
        failed = f" if {mark.devices}" if mark.devices else ""
        return Finding(
            severity="fault" if fault else "warning",
            parts=(chamber,),
            measured=line.room,
            limit=0.0,
            unit="m³",
            at=circuit.sump.data.return_chamber.middle(circuit.chamber_level),
            message=f"no fill line holds in {chamber}{failed}: {line.lowest_event} asks for "
            f"{volume_of(-line.room)} more than {line.highest_event} leaves",
            remedy="; ".join(line.remedies) or "make the return chamber larger",
        )
    low, high = mark.running
    below = mark.miss < 0.0
    side = "below the lowest" if below else "above the highest"
    event, edge = (line.lowest_event, low) if below else (line.highest_event, high)
    assert mark.stopped is not None, "a band has both kinds of marks (fill_line)"
    return Finding(
        parts=(chamber,),
        measured=mark.mark,
        limit=edge,
        at=circuit.sump.data.return_chamber.middle(circuit.chamber_level),
        message=f"{chamber} is filled to {length(mark.mark)} over the sump's floor with the pumps running, "
        f"{length(abs(mark.miss))} {side} mark that holds, set by: {event}",
        remedy=f"fill it to {from_to(mark.running)} with the pumps running, which is {from_to(mark.stopped)} "
        "with all pumps stopped and drained back",
    )
