"""A blocked drain while the pumps run on: what they bring up has to fit into the tank."""

from __future__ import annotations

import math

from layout3d.checks.base import FLOOD_TEST, Finding, Findings, rule
from layout3d.checks.flow_words import over_drain, parts_of, volume_of
from layout3d.checks.measure import from_to, judged, length, limit, missing
from layout3d.model.model import Model
from layout3d.outage.outages import outages

SCREENS = ("strainer", "holes")  # mouths that leaves and algae stop


@rule(
    "drain-blocked",
    asks="With a drain blocked, the pumps run dry before the tank runs over.",
    caution=FLOOD_TEST,
    limits=("freeboard",),
)
def drain_blocked(model: Model) -> Findings:
    """Find tanks that a blocked drain fills over their rim, or nearly.

    Of several drains each is blocked alone, and what they share. That all of them block at once is a note; a
    warning where each takes its water in through slots or holes.
    """
    found = outages(model)
    if found is None or not found.circuit.drains or found.circuit.overflows:
        return
    circuit = found.circuit
    parts = parts_of(*circuit.drains)
    *alone, everything = found.blocked
    worst = max(alone or [everything], key=lambda event: (event.floor.high, event.tank_level.high))
    spilled, left = worst.floor.high, worst.tank_margin.low
    subject = f"the drain {worst.subject!r}" if len(circuit.drains) == 1 else worst.subject
    pumped = f"with {subject} blocked the pumps bring up {volume_of(worst.moved.high, give=worst.moved.half)}"
    if spilled > 0.0:
        room = worst.moved.high - spilled
        less = (
            f"fill the return chamber to {from_to(found.mark.running)} over the sump's floor with the pumps "
            "running"
            if found.mark.running
            else f"leave {volume_of(spilled)} less above the pump's inlet"
        )
        yield Finding(
            parts=parts,
            measured=worst.moved.high,
            limit=room,
            unit="m³",
            at=over_drain(model, circuit, circuit.spill),
            message=f"{pumped} before they run dry, and the tank has room for {volume_of(room)}: "
            f"{volume_of(spilled, give=worst.floor.half)} run over {circuit.spill_words}",
            remedy=f"add a second drain, with pipe of its own, that carries the whole flow alone, or {less}",
        )
    elif missing(left, limit(model, "freeboard")):
        yield from judged(
            model,
            left,
            "freeboard",
            -math.inf,
            parts=parts,
            at=over_drain(model, circuit, worst.tank_level.high),
            says=f"{pumped}, and the tank rises to {length(left)} below {circuit.spill_words}",
            remedy="add a second drain, with pipe of its own, that carries the whole flow alone, or fill the "
            "return chamber less",
        )
    elif alone and everything.floor.high > 0.0:
        screened = all(drain.mouth.kind in SCREENS for drain in circuit.drains)
        same = ", and each has a strainer or holes that the same leaves stop" if screened else ""
        yield Finding(
            severity="warning" if screened else "note",
            parts=parts,
            measured=everything.floor.high,
            limit=0.0,
            unit="m³",
            at=over_drain(model, circuit, circuit.spill),
            message="with all drains blocked at once "
            f"{volume_of(everything.floor.high, give=everything.floor.half)} end up on the floor; with any "
            f"one of them blocked nothing does{same}",
            remedy="let the emergency drain stand open, a little higher, without a strainer"
            if screened
            else "keep the emergency drain free of whatever can block the first one",
        )
