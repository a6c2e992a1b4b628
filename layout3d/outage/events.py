"""Power cut, blocked drains and drains that end beside the sump: what comes down, goes up, and spills.

Each alone, unnoticed and to its end. Left out: how long it takes, waves, water that clings to walls, moss and
plants, two failures at once.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from layout3d.band import SETTINGS, Band
from layout3d.flow.overflow import GravityDrain
from layout3d.outage.circuit import Circuit
from layout3d.outage.failures import Body, DrainBack, Path, blocked_drain, drain_back
from layout3d.outage.ledger import NUMBERS, End, Event
from layout3d.outage.running import Running
from layout3d.pipework.graph import Edge
from layout3d.pipework.waters import whole_vessel

__all__ = ["blocked_drains", "drains_beside", "failed_power_cuts", "power_cut", "stops"]

HIGH = 2  # the number of the high setting
SHARED = "the pipe of"  # before the names of the drains that share it


def power_cut(
    running: Running, *, valves_hold: bool = True, breaks_open: bool = True, devices: str = ""
) -> Event:
    """Return what comes down when all pumps stop.

    Parameters
    ----------
    valves_hold, breaks_open : whether check valves close, and small holes of siphon breaks let air in
    devices : words for what fails
    """
    found, before = running.circuit, running.before
    name = found.tank_name
    room = running.room_beside([drain for drain in found.drains if drain.crest < found.level.high])

    def end(n: int) -> End:
        waters = (found.display(n), *found.boxes)
        paths = _paths(running, n, valves_hold=valves_hold, breaks_open=breaks_open)
        rest = drain_back(waters, paths, running.sump(n))
        beside = _beside(found, rest, n)
        # what a drain lets out beside the sump never gets there
        chamber = _less(running.sump(n), rest, beside)
        held, taken = found.sump.whole.volume(chamber), min(room, beside)
        in_boxes = sum(box.table.volume(rest.levels[box.name]) for box in found.boxes)
        over = before.sump[n] + rest.volume - held - taken
        return End(
            tank_level=rest.levels[name],
            chamber_level=chamber,
            moved=rest.volume,
            tank=found.tank.volume(rest.levels[name]) + in_boxes,
            sump=held + taken,
            pipes=before.pipes[n] - rest.contents,
            floor=over if beside > 0.0 else rest.spilled,
            rule=rest.rules[name],
            boxes={box.name: rest.levels[box.name] for box in found.boxes},
        )

    notes = []
    if any(drain.siphon_level < drain.crest for drain in found.drains):
        notes.append("high figure: a drain that runs full goes on as a siphon down to its mouth")
    return running.event("power cut", "", map(end, NUMBERS), devices=devices, notes=notes)


def failed_power_cuts(running: Running) -> tuple[Event, ...]:
    """Return the power cut with check valves that leak, with small breaks clogged, and with both."""
    returns = running.circuit.returns
    valves = any(way.check_valves for way in returns)
    clogs = any(siphon.blocked_at < siphon.broken_at - 1e-6 for way in returns for siphon in way.siphons)
    events = []
    if valves:
        events.append(power_cut(running, valves_hold=False, devices="check valves fail"))
    if clogs:
        events.append(power_cut(running, breaks_open=False, devices="siphon breaks are clogged"))
    if valves and clogs:
        devices = "check valves fail and siphon breaks are clogged"
        events.append(power_cut(running, valves_hold=False, breaks_open=False, devices=devices))
    return tuple(events)


def _beside(found: Circuit, rest: DrainBack, number: int) -> float:
    """Return what the drains that end beside the sump let out of what comes down, [m³].

    Where some end in the sump and some beside it, likely the lowest crest takes all, high those beside.
    """
    running = [drain for drain in found.drains if drain.crest < found.level.high]
    outside = [drain for drain in running if found.beside(drain)]
    if not outside:
        return 0.0
    all_of_it = sum(rest.drained.values()) + found.drain_contents.at(SETTINGS[number])
    if len(outside) == len(running) or number == HIGH:
        return all_of_it
    lowest = min(running, key=lambda drain: drain.crest)
    return all_of_it if number == 1 and found.beside(lowest) else 0.0


def _less(sump: Body, rest: DrainBack, beside: float) -> float:
    """Return the sump's level at rest with part of what came down gone beside it, z [m]."""
    if beside <= 0.0:
        return rest.sump_level
    held = sump.volume + rest.volume - beside
    return sump.table.level(min(max(held, sump.table.volumes[0]), sump.table.volume(sump.rim)))


def _paths(running: Running, number: int, *, valves_hold: bool, breaks_open: bool) -> tuple[Path, ...]:
    """Return the ways down as ``drain_back`` takes them; what is in the pipes by itself."""
    found = running.circuit
    display = found.display(number)
    paths = []
    for drain in found.drains:
        stops = drain.siphon_level if number == HIGH else drain.crest
        # its mouth may lie over the rim: such a drain takes nothing
        stops = min(max(stops, found.tank.bottom), found.tank.top)
        paths.append(Path(name=drain.name, body=display.name, break_level=stops))
        for box in found.boxes:
            if box.name == drain.box:
                mouth = drain.mouth.lower_edge if number == HIGH else drain.mouth_crest
                stops = min(max(mouth, box.table.bottom), box.table.top)
                paths.append(Path(name=drain.name, body=box.name, break_level=stops))
    for way in found.returns:
        for siphon in way.siphons:
            stops = siphon.broken_at if breaks_open else siphon.blocked_at
            paths.append(
                Path(
                    name=siphon.mouth.name,
                    body=display.name,
                    break_level=max(stops, found.tank.bottom),
                    check_valve=bool(siphon.check_valve) and valves_hold,
                )
            )
        held = valves_hold and bool(way.check_valves)
        paths.append(
            Path(
                name=f"pipes of {way.name}",
                body=display.name,
                break_level=display.level,
                contents=way.contents_held if held else way.contents,
            )
        )
    in_drains = found.drain_contents.at(SETTINGS[number])
    paths.append(Path(name="drains", body=display.name, break_level=display.level, contents=in_drains))
    return tuple(paths)


def blocked_drains(running: Running) -> tuple[Event, ...]:
    """Return what the pumps bring up with each stop of one place, where drains are several, and of all."""
    drains = running.circuit.drains
    events = [_blocked(running, *stop) for stop in stops(running)] if len(drains) > 1 else []
    subject = drains[0].name if len(drains) == 1 else "all drains" if drains else "no drain"
    return (*events, _blocked(running, subject, None, ()))


def stops(running: Running) -> Iterator[tuple[str, Band | None, tuple[GravityDrain, ...]]]:
    """Yield what one stopped place is called, the tank's level over the drains left, z [m], and these.

    Each drain by itself, and each pipe that several of them share: stopped there, none of those runs. The
    level is None where the flow finds no way out or isn't known; a figure that finds none lies at the spill.
    """
    found = running.circuit
    users: dict[Edge, list[GravityDrain]] = {}
    for drain in found.drains:
        for edge in dict.fromkeys(drain.way.edges):
            users.setdefault(edge, []).append(drain)
    shared = {tuple(one.name for one in stopped): stopped for stopped in users.values() if len(stopped) > 1}
    for stopped in (*([drain] for drain in found.drains), *shared.values()):
        others = tuple(drain for drain in found.drains if all(drain is not one for one in stopped))
        level = None if found.flow is None else running.level_over(others, found.flow)
        named = " and ".join(one.name for one in stopped)
        yield named if len(stopped) == 1 else f"{SHARED} {named}", level, others


def _rises(running: Running, drains: Sequence[GravityDrain]) -> dict[str, tuple[float, float]]:
    """Return from where to where the overflow boxes fill up where only these drains are open, z [m].

    From the lowest mouth in the box, or its level where that is higher, up to the lowest mouth of those, or
    to the crest of its weir where none is; the head over a mouth is left out.
    """
    found = {}
    for box in running.circuit.boxes:
        data = next(built.data for built in running.model.overflow_boxes if built.part.name == box.name)
        every = [drain.mouth_crest for drain in running.circuit.drains if drain.box == box.name]
        least = max(box.level, min(every, default=box.level))
        mouth = min((drain.mouth_crest for drain in drains if drain.box == box.name), default=data.crest)
        found[box.name] = (min(least, box.table.top), min(max(mouth, least), box.table.top))
    return found


def _blocked(running: Running, subject: str, emergency: Band | None, others: Sequence[GravityDrain]) -> Event:
    found, before = running.circuit, running.before
    # what runs on in the others, if they get the water away, stays in them; the blocked one's comes down
    flow = None if emergency is None else found.flow
    kept, later = (running.in_drains(others, flow=flow, level=level) for level in (found.level, emergency))
    rises = _rises(running, others)
    held = {box.name: [box.table.volume(level) for level in rises[box.name]] for box in found.boxes}
    fills = sum(full - begun for begun, full in held.values())

    def in_box(box: Body, moved: float) -> float:
        begun, full = held[box.name]
        return (
            rises[box.name][1] if moved >= fills else box.table.level(begun + (full - begun) * moved / fills)
        )

    def end(n: int) -> End:
        display, setting = found.display(n), SETTINGS[n]
        level = None if emergency is None else max(emergency.at(setting), display.level)
        level = None if level is None or level >= found.spill else level  # at the spill it runs over
        comes = max(0.0, found.drain_contents.at(setting) - kept[n])
        takes = max(0.0, later[n] - kept[n])
        made = blocked_drain(
            display,
            running.sump(n),
            suction=running.suction,
            top_up=comes,
            emergency=level,
            fills=fills,
            takes=takes,
        )
        return End(
            tank_level=made.level,
            chamber_level=made.chamber_level,
            moved=made.moved,
            tank=found.tank.volume(made.level) + running.in_boxes + min(fills, made.moved),
            sump=before.sump[n] + comes - made.took - made.moved,
            pipes=before.pipes[n] - comes + made.took,
            floor=made.spilled,
            rule=found.spill_words if made.spilled > 0.0 else "",
            boxes={box.name: in_box(box, made.moved) for box in found.boxes},
        )

    ends = [end(n) for n in NUMBERS]
    over = any(end.rule for end in ends)
    dry = () if over else found.drawing_air(min(end.chamber_level for end in ends))
    air = f"{' and '.join(pump.name for pump in dry)} run dry before anything overflows"
    notes = (air if len(dry) > 1 else air.replace(" run ", " runs "),) if dry else ()
    return running.event("blocked drain", subject, ends, notes=notes)


def drains_beside(running: Running) -> tuple[Event, ...]:
    """Return, for each drain that runs and ends beside the sump, what that loses until the pumps run dry."""
    found = running.circuit
    return tuple(
        _drain_beside(running, drain)
        for drain in found.drains
        if found.beside(drain) and drain.crest < found.level.high
    )


def _drain_beside(running: Running, drain: GravityDrain) -> Event:
    found, before = running.circuit, running.before
    least = found.sump.whole.volume(running.suction)
    room, ends = running.room_beside([drain]), whole_vessel(drain.outlet.vessel)

    def end(n: int) -> End:
        display, in_drains = found.display(n), found.drain_contents.at(SETTINGS[n])
        # the tank falls to the crest once nothing is pumped any more
        level = min(display.level, max(drain.crest, found.tank.bottom))
        above = display.volume - found.tank.volume(level)
        emptied = max(0.0, before.sump[n] - least)
        lost = above + emptied + in_drains
        taken = min(room, lost)
        return End(
            tank_level=level,
            chamber_level=running.suction,
            moved=emptied,
            tank=before.tank[n] - above,
            sump=before.sump[n] - emptied + taken,
            pipes=before.pipes[n] - in_drains,
            floor=lost - taken,
        )

    note = (
        f"no pump returns what runs to {ends}: that fills it, and then goes on the floor"
        if ends
        else "its outlet lies over no sump: all that runs through it goes on the floor"
    )
    return running.event("drain beside", drain.name, map(end, NUMBERS), notes=(note,))
