"""A blocked drain while the pumps run on: what they bring up has to fit into the tank."""

from __future__ import annotations

from collections.abc import Iterator

from layout3d.checks.base import Finding, rule
from layout3d.checks.flood_told import FLOOD_TEST, over_drain, parts_of, volume_of
from layout3d.checks.measure import length, limit, missing
from layout3d.model.model import Model
from layout3d.outage.ledger import Event, Outages
from layout3d.outage.outages import outages

__all__ = ["drain_blocked"]


@rule(
    "drain-blocked",
    asks="With a drain blocked, the pumps run dry before the tank runs over.",
    caution=FLOOD_TEST,
    limits=("freeboard",),
)
def drain_blocked(model: Model) -> Iterator[Finding]:
    """Find tanks that a blocked drain fills over their rim, or nearly.

    Of several drains each is blocked alone; that all of them block at once is a note.
    """
    found = outages(model)
    if found is None or not found.circuit.drains or found.circuit.overflows:
        return
    *alone, everything = found.blocked
    worst = max(alone or [everything], key=lambda event: (event.floor.high, event.tank_level.high))
    finding = _judged(model, found, worst)
    if finding is not None:
        yield finding
    elif alone and everything.floor.high > 0.0:
        yield Finding(
            severity="note",
            parts=parts_of(*found.circuit.drains),
            measured=everything.floor.high,
            limit=0.0,
            unit="m³",
            at=over_drain(model, found.circuit, found.circuit.spill),
            message=f"with all drains blocked at once {volume_of(everything.floor.high)} end up on the "
            "floor; with any one of them blocked nothing does",
            remedy="keep the emergency drain free of whatever can block the first one",
        )


def _judged(model: Model, found: Outages, event: Event) -> Finding | None:
    circuit = found.circuit
    wanted = limit(model, "freeboard")
    spilled, left = event.floor.high, event.tank_margin.low
    short = missing(left, wanted)
    if spilled <= 0.0 and not short:
        return None
    subject = f"the drain {event.subject!r}" if len(circuit.drains) == 1 else event.subject
    pumped = f"with {subject} blocked the pumps bring up {volume_of(event.moved.high)}"
    if spilled > 0.0:
        room = event.moved.high - spilled
        return Finding(
            parts=parts_of(*found.circuit.drains),
            measured=event.moved.high,
            limit=room,
            unit="m³",
            at=over_drain(model, circuit, circuit.spill),
            message=f"{pumped} before they run dry, and the tank has room for {volume_of(room)}: "
            f"{volume_of(spilled)} run over {circuit.spill_words}",
            remedy=f"add a second drain that carries the whole flow alone, or {_less(model, found, spilled)}",
        )
    return Finding(
        severity="warning",
        parts=parts_of(*found.circuit.drains),
        measured=left,
        limit=wanted,
        at=over_drain(model, circuit, event.tank_level.high),
        message=f"{pumped}, and the tank rises to {length(left)} below {circuit.spill_words}: "
        f"{length(short)} short of {length(wanted)} (limit freeboard)",
        remedy="add a second drain that carries the whole flow alone, or fill the return chamber less",
    )


def _less(model: Model, found: Outages, spilled: float) -> str:
    if found.mark.running is None:
        return f"leave {volume_of(spilled)} less above the pump's inlet"
    low, high = (length(mark) for mark in found.mark.running)
    return f"fill the return chamber to {low} to {high} over the sump's floor with the pumps running"
