"""What a failure of power, drain, pump or filter sock does: floods, siphons, dry pumps, and the fill line."""

from __future__ import annotations

import math
from collections.abc import Iterator

from layout3d.band import Setting
from layout3d.checks.base import Finding, rule
from layout3d.checks.flood_words import FLOOD_TEST, chamber_at, over_drain, parts_of, volume_of
from layout3d.checks.measure import from_to, judged, length, limit, missing, worded
from layout3d.model.model import Model
from layout3d.outage.circuit import circuit
from layout3d.outage.fill_line import FillMark
from layout3d.outage.ledger import Event, Outages
from layout3d.outage.outages import outages
from layout3d.parts.base import Vector

__all__ = ["drain_blocked", "fill_line", "pump_dry", "siphon", "sump_drain_back"]

BURNS = "A pump that runs dry overheats and cracks; with mains beside water that can kill. Unplug it first."


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
            remedy=f"add a second drain that carries the whole flow alone, or {less}",
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
            remedy="add a second drain that carries the whole flow alone, or fill the return chamber less",
        )
    elif alone and everything.floor.high > 0.0:
        yield Finding(
            severity="note",
            parts=parts,
            measured=everything.floor.high,
            limit=0.0,
            unit="m³",
            at=over_drain(model, circuit, circuit.spill),
            message="with all drains blocked at once "
            f"{volume_of(everything.floor.high, give=everything.floor.half)} end up on the floor; with any "
            "one of them blocked nothing does",
            remedy="keep the emergency drain free of whatever can block the first one",
        )


@rule(
    "sump-drain-back",
    asks="When the power fails, all that drains back fits into the sump.",
    caution=FLOOD_TEST,
)
def sump_drain_back(model: Model) -> Iterator[Finding]:
    """Find sumps that a power cut overfills.

    A fault where it likely spills; a warning where it spills only at the high figure, or only if check
    valves or siphon breaks fail. The margin over what drains back is judged by the rule fill-line.
    """
    found = outages(model)
    if found is None or found.beside:
        return  # what a drain lets out beside the sump is told by the rule open-end
    if found.power_cut.floor.high > 0.0:
        yield _drains_back(found, found.power_cut, fault=found.power_cut.floor.likely > 0.0)
        return
    worst = max(found.failed, key=lambda event: event.floor.high, default=None)
    if worst is not None and worst.floor.high > 0.0:
        yield _drains_back(found, worst, fault=False)


def _drains_back(found: Outages, event: Event, *, fault: bool) -> Finding:
    sump = found.circuit.sump
    setting: Setting = "likely" if fault else "high"
    moved, spilled = event.moved.at(setting), event.floor.at(setting)
    room = moved - spilled
    if_failed = f" if {event.devices}" if event.devices else ""
    ruled = event.rules[1 if fault else 2]
    by = (
        f", the tank down to {length(event.tank_level.low, give=event.tank_level.half)} by {ruled}"
        if ruled
        else ""
    )
    mark = found.careful_mark if event.devices else found.mark
    remedy = (
        f"fill the return chamber to {from_to(mark.running)} over its floor with the pumps running"
        if mark.running
        else "; ".join(dict.fromkeys(mark.line.remedies)) or "make the sump larger"
    )
    return Finding(
        severity="fault" if fault else "warning",
        parts=(sump.name,),
        measured=moved,
        limit=room,
        unit="m³",
        at=chamber_at(found.circuit, sump.rim),
        message=f"in a power cut {volume_of(moved, give=event.moved.half)} run back into "
        f"{sump.name}{if_failed}{by}, which has room for {volume_of(room)}: "
        f"{volume_of(spilled, give=event.floor.half)} end up on the floor",
        remedy=remedy,
    )


@rule(
    "siphon",
    asks="A return with its mouth under water has a siphon break, not only a check valve.",
    caution=FLOOD_TEST,
    limits=("siphon_depth",),
)
def siphon(model: Model) -> Iterator[Finding]:
    """Find mouths that drain the tank well below its overflow.

    A fault with nothing to stop it, a warning where only a check valve does.
    """
    found = circuit(model)
    if found is None:
        return
    most = limit(model, "siphon_depth")
    crests = [drain.crest for drain in found.drains if drain.crest < found.level.likely]
    overflow = min(crests, default=found.level.likely)  # the tank falls so far anyway
    for one in (siphon for way in found.returns for siphon in way.siphons):
        depth = overflow - one.broken_at
        if not missing(most, depth):
            continue
        lost = found.tank.volume(overflow) - found.tank.volume(max(one.broken_at, found.tank.bottom))
        stops = (
            f"only the check valve {one.check_valve} stops it: check valves fail"
            if one.check_valve
            else "nothing stops it"
        )
        yield Finding(
            severity="warning" if one.check_valve else "fault",
            parts=(one.mouth.part,),
            measured=depth,
            limit=most,
            at=one.mouth.at,
            message=f"when the pump stops, {one.mouth.name} siphons the tank {length(depth)} below its "
            f"overflow, {volume_of(lost)}, and {stops} ({length(most)} at most, limit siphon_depth)",
            remedy=f"raise the mouth by {length(depth - most)} or more, or drill a siphon break of "
            f"{length(0.003)} to {length(0.006)} into the return just under the water",
        )


@rule(
    "pump-dry",
    asks="The return pump's inlet stays under water when a filter sock clogs, or a drain is blocked.",
    caution=BURNS,
    limits=("water_cover",),
)
def pump_dry(model: Model) -> Iterator[Finding]:
    """Find return pumps whose inlet comes out of the water: a sock fills to its rim, or a drain is blocked.

    An inlet above the water from the start is told by the rule under-water, what evaporates by fill-line, a
    blocked drain that runs over by drain-blocked. With the last drain blocked a dry pump is what keeps the
    water off the floor: a note, unless it stops by itself.
    """
    found = outages(model)
    if found is None:
        return
    circuit = found.circuit
    pump = max(circuit.pumps, key=lambda one: one.inlet[2])
    if circuit.chamber_level <= pump.inlet[2]:
        return
    yield from _by_drain(model, found)
    wanted = limit(model, "water_cover")
    for event in found.clogged:
        # the flow behind this level is solved for, good to far less than a micrometre
        cover = round(event.chamber_level.low - pump.inlet[2], 9)
        short = missing(cover, wanted)
        if not short:
            continue
        inlet = f"the inlet of {pump.name}"
        how = worded(
            cover,
            f"leaves {{}} of water over {inlet}",
            f"takes the return chamber down to {inlet}, which draws air",
        )
        yield Finding(
            severity="fault" if cover <= 0.0 else "warning",
            parts=(pump.name, event.subject),
            measured=cover,
            limit=wanted,
            at=_inlet(model, pump.name, pump.inlet),
            message=f"{event.subject}, clogged, holds back "
            f"{volume_of(event.moved.high, give=event.moved.half)} and {how} "
            f"({length(wanted)} wanted, limit water_cover)",
            remedy=f"fill the return chamber {length(short)} higher, set the pump lower, or use a sock with "
            "less room over the water",
        )


def _by_drain(model: Model, found: Outages) -> Iterator[Finding]:
    """Find pumps that draw air with a drain blocked before anything overflows, each once."""
    *alone, everything = found.blocked
    told = {built.part.name for built in model.pumps if built.part.stops_dry}
    for event in (*alone, everything) if found.circuit.drains else ():
        if event.floor.high > 0.0:
            continue
        for pump in found.circuit.drawing_air(event.chamber_level.low):
            if pump.name in told:
                continue
            told.add(pump.name)
            yield Finding(
                severity="note" if event is everything else "warning",
                parts=(pump.name,),
                measured=event.chamber_level.low - pump.inlet[2],
                limit=0.0,
                at=_inlet(model, pump.name, pump.inlet),
                message=f"with {_drain(event.subject)} blocked {pump.name} brings up "
                f"{volume_of(event.moved.high, give=event.moved.half)} and then runs dry, with "
                f"{length(event.tank_margin.low)} left below {found.circuit.spill_words}: that damages a "
                "pump that does not stop by itself",
                remedy="stop it by a float switch, or use one that stops by itself (`stops_dry: true`)"
                + ("" if event is everything else ", or fill the return chamber more"),
            )


def _drain(subject: str) -> str:
    return subject if subject == "all drains" else f"the drain {subject!r}"


def _inlet(model: Model, name: str, inlet: Vector) -> Vector:
    """Return the height of an inlet over the middle of its pump."""
    x, y, _ = model.built[name].bodies[0].solid.bounds.mean(axis=0).tolist()
    return (x, y, inlet[2])


@rule(
    "fill-line",
    asks="The return chamber's level lies where power cut, blocked drain and evaporation all allow it.",
    caution=FLOOD_TEST,
    limits=("water_cover", "sump_margin", "top_up_interval"),
)
def fill_line(model: Model) -> Iterator[Finding]:
    """Find return chambers with no mark that holds, and levels outside the band.

    Says nothing where a power cut or a blocked drain spills at this level: those rules tell it, with the
    mark that would do. That there is no band only if a check valve fails is a warning.
    """
    found = outages(model)
    if found is None or found.circuit.overflows:
        return
    alone = found.blocked[:-1] or found.blocked
    if any(event.floor.likely > 0.0 for event in (found.power_cut, *alone)):
        return
    if not found.mark.holds:
        yield _no_mark(found, found.mark, fault=True)
    elif found.careful_mark.running is None and not any(e.floor.high > 0.0 for e in found.failed):
        yield _no_mark(found, found.careful_mark, fault=False)


def _no_mark(found: Outages, mark: FillMark, *, fault: bool) -> Finding:
    circuit, line = found.circuit, mark.line
    chamber = f"{circuit.sump.name}.{circuit.compartments[-1].name}"
    if mark.running is None:
        failed = f" if {mark.devices}" if mark.devices else ""
        return Finding(
            severity="fault" if fault else "warning",
            parts=(chamber,),
            measured=line.room,
            limit=0.0,
            unit="m³",
            at=chamber_at(circuit, circuit.chamber_level),
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
        at=chamber_at(circuit, circuit.chamber_level),
        message=f"{chamber} is filled to {length(mark.mark)} over the sump's floor with the pumps running, "
        f"{length(abs(mark.miss))} {side} mark that holds, set by: {event}",
        remedy=f"fill it to {from_to(mark.running)} with the pumps running, which is {from_to(mark.stopped)} "
        "with all pumps stopped and drained back",
    )
