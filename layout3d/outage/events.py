"""Each failure of a circuit, alone, unnoticed and to its end: what comes down, goes up, and spills.

Left out: how long it takes, waves, water that clings to walls, moss and plants, two failures at once.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from layout3d.band import SETTINGS, Band
from layout3d.flow.overflow import GravityDrain, running_level, water_of_scene
from layout3d.flow.roots import root
from layout3d.model.model import Model
from layout3d.outage.circuit import Circuit
from layout3d.outage.drain_back import Body, DrainBack, Path, drain_back
from layout3d.outage.failures import Hose, blocked_drain, hose_failures
from layout3d.outage.ledger import NUMBERS, Event, EventKind, Ledger, Three, each
from layout3d.outage.returns import dry_volume
from layout3d.outage.sump import running_levels
from layout3d.pipework.graph import Pipework
from layout3d.pipework.read import pipework

__all__ = [
    "Running",
    "blocked_drains",
    "clogged_socks",
    "drains_beside",
    "failed_power_cuts",
    "failing_holes",
    "power_cut",
    "stopped_pumps",
]

HIGH = 2  # the number of the high setting


@dataclass(frozen=True, slots=True, kw_only=True)
class Running:
    """A model's circuit with its water counted; numbers are 0, 1 or 2 for the low to high setting."""

    model: Model
    circuit: Circuit

    @property
    def before(self) -> Ledger:
        """Return where all water is while everything runs."""
        found = self.circuit
        returns = sum(way.contents for way in found.returns)
        return Ledger(
            tank=each(lambda n: found.display(n).volume),
            sump=each(found.sump_running),
            pipes=each(lambda n: returns + found.drain_contents.at(SETTINGS[n])),
        )

    def sump(self, number: int) -> Body:
        """Return the whole sump at rest with the water it has while running."""
        whole, held = self.circuit.sump.whole, self.circuit.sump_running(number)
        level = whole.level(min(held, whole.volumes[-1]))
        return Body(name=self.circuit.sump.name, table=whole, level=level, rim=self.circuit.sump.rim)

    @property
    def suction(self) -> float:
        """Return the level to which the pumps empty the return chamber, within the sump, z [m]."""
        return max(self.circuit.suction, self.circuit.sump.floor)

    def level_over(self, drains: Sequence[GravityDrain], flow: Band) -> Band | None:
        """Return the tank's level over these drains at a flow; None where it finds no way out."""
        water = water_of_scene(self.model)
        return running_level(drains, flow, water=water, top=self.circuit.spill)

    def event(
        self,
        kind: EventKind,
        subject: str,
        *,
        after: Ledger,
        tank: Three,
        chamber: Three,
        moves: Three,
        rules: tuple[str, str, str] = ("", "", ""),
        devices: str = "",
        notes: tuple[str, ...] = (),
    ) -> Event:
        """Return an event of this circuit, its levels and what went from vessel to vessel at its end."""
        return Event(
            kind=kind,
            subject=subject,
            before=self.before,
            after=after,
            tank_levels=tank,
            chamber_levels=chamber,
            moves=moves,
            rules=rules,
            tank_rim=self.circuit.spill,
            sump_rim=self.circuit.sump.rim,
            devices=devices,
            notes=notes,
        )


# -- power cut ------------------------------------------------------------------------------------------


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
    rests = [
        drain_back(
            (found.display(n),),
            _paths(running, n, valves_hold=valves_hold, breaks_open=breaks_open),
            running.sump(n),
        )
        for n in NUMBERS
    ]
    beside = each(lambda n: _beside(found, rests[n], n))
    # what a drain lets out beside the sump never gets there
    chamber = each(lambda n: _less(running.sump(n), rests[n], beside[n]))
    notes = []
    if any(drain.siphon_level < drain.crest for drain in found.drains):
        notes.append("high figure: a drain that runs full goes on as a siphon down to its mouth")
    name = found.tank_name
    low, likely, high = (rest.rules[name] for rest in rests)
    sumps = each(lambda n: found.sump.whole.volume(chamber[n]))
    return running.event(
        "power cut",
        "",
        after=Ledger(
            tank=each(lambda n: found.tank.volume(rests[n].levels[name])),
            sump=sumps,
            pipes=each(lambda n: before.pipes[n] - rests[n].contents),
            floor=each(
                lambda n: before.sump[n] + rests[n].volume - sumps[n] if beside[n] > 0.0 else rests[n].spilled
            ),
        ),
        tank=each(lambda n: rests[n].levels[name]),
        chamber=chamber,
        moves=each(lambda n: rests[n].volume),
        rules=(low, likely, high),
        devices=devices,
        notes=tuple(notes),
    )


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
    """Return what the drains that end over the floor let out of what comes down, [m³].

    Where some end in the sump and some beside it, likely the lowest crest takes all, high those beside.
    """
    running = [drain for drain in found.drains if drain.crest < found.level.high]
    outside = [drain for drain in running if not drain.outlet.vessel]
    if not outside:
        return 0.0
    all_of_it = rest.drained[found.tank_name] + found.drain_contents.at(SETTINGS[number])
    if len(outside) == len(running) or number == HIGH:
        return all_of_it
    lowest = min(running, key=lambda drain: drain.crest)
    return all_of_it if number == 1 and not lowest.outlet.vessel else 0.0


def _less(sump: Body, rest: DrainBack, beside: float) -> float:
    """Return the sump's level at rest with part of what came down gone beside it, z [m]."""
    if beside <= 0.0:
        return rest.sump_level
    held = sump.volume + rest.volume - beside
    return sump.table.level(min(max(held, sump.table.volumes[0]), sump.table.volume(sump.rim)))


def _paths(running: Running, number: int, *, valves_hold: bool, breaks_open: bool) -> tuple[Path, ...]:
    """Return the ways down as ``outage.drain_back`` takes them; what is in the pipes by itself."""
    found = running.circuit
    display = found.display(number)
    paths = []
    for drain in found.drains:
        stops = drain.siphon_level if number == HIGH else drain.crest
        # its mouth may lie over the rim: such a drain takes nothing
        stops = min(max(stops, found.tank.bottom), found.tank.top)
        paths.append(Path(name=drain.name, body=display.name, break_level=stops))
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


# -- drains ---------------------------------------------------------------------------------------------


def blocked_drains(running: Running) -> tuple[Event, ...]:
    """Return what the pumps bring up with each drain blocked, where there are several, and with all."""
    found, events = running.circuit, []
    drains = found.drains
    if len(drains) > 1:
        for drain in drains:
            others = tuple(other for other in drains if other is not drain)
            level = None if found.flow is None else running.level_over(others, found.flow)
            events.append(_blocked(running, drain.name, level))
    subject = drains[0].name if len(drains) == 1 else "all drains" if drains else "no drain"
    return (*events, _blocked(running, subject, None))


def _blocked(running: Running, subject: str, emergency: Band | None) -> Event:
    found, before = running.circuit, running.before
    in_drains = each(lambda n: found.drain_contents.at(SETTINGS[n]))
    ends = []
    for n, setting in enumerate(SETTINGS):
        display, sump = found.display(n), running.sump(n)
        level = None if emergency is None else max(emergency.at(setting), display.level)
        suction = max(found.suction, sump.table.bottom)
        ends.append(blocked_drain(display, sump, suction=suction, top_up=in_drains[n], emergency=level))
    low, likely, high = (found.spill_words if end.spilled > 0.0 else "" for end in ends)
    return running.event(
        "blocked drain",
        subject,
        after=Ledger(
            tank=each(lambda n: found.tank.volume(ends[n].level)),
            sump=each(lambda n: before.sump[n] + in_drains[n] - ends[n].moved),
            pipes=each(lambda n: before.pipes[n] - in_drains[n]),
            floor=each(lambda n: ends[n].spilled),
        ),
        tank=each(lambda n: ends[n].level),
        chamber=each(lambda n: ends[n].chamber_level),
        moves=each(lambda n: ends[n].moved),
        rules=(low, likely, high),
    )


def drains_beside(running: Running) -> tuple[Event, ...]:
    """Return, for each drain that runs and ends over the floor, what gets there until the pumps run dry."""
    found = running.circuit
    return tuple(
        _drain_beside(running, drain)
        for drain in found.drains
        if not drain.outlet.vessel and drain.crest < found.level.high
    )


def _drain_beside(running: Running, drain: GravityDrain) -> Event:
    found, before = running.circuit, running.before
    least = found.sump.whole.volume(running.suction)
    emptied = each(lambda n: max(0.0, before.sump[n] - least))
    # the tank falls to the crest once nothing is pumped any more
    tank = each(lambda n: min(found.display(n).level, max(drain.crest, found.tank.bottom)))
    above = each(lambda n: before.tank[n] - found.tank.volume(tank[n]))
    in_drains = each(lambda n: found.drain_contents.at(SETTINGS[n]))
    return running.event(
        "drain beside",
        drain.name,
        after=Ledger(
            tank=each(lambda n: before.tank[n] - above[n]),
            sump=each(lambda n: before.sump[n] - emptied[n]),
            pipes=each(lambda n: before.pipes[n] - in_drains[n]),
            floor=each(lambda n: above[n] + emptied[n] + in_drains[n]),
        ),
        tank=tank,
        chamber=each(lambda _: running.suction),
        moves=emptied,
        notes=("its outlet lies over no sump: all that runs through it goes on the floor",),
    )


# -- parts ----------------------------------------------------------------------------------------------


def stopped_pumps(running: Running, cut: Event) -> tuple[Event, ...]:
    """Return what each water pump, stopped alone, does."""
    events = []
    returning = [pump.name for pump in running.circuit.pumps]
    for built in running.model.pumps:
        name = built.part.name
        if built.part.air:
            continue
        if name not in returning:
            events.append(_still(running, name))
        elif len(returning) == 1:
            events.append(replace(cut, kind="pump stopped", subject=name))
        else:
            events.append(_one_of_several(running, name))
    return tuple(events)


def _still(running: Running, name: str) -> Event:
    return running.event(
        "pump stopped",
        name,
        after=running.before,
        tank=each(lambda n: running.circuit.display(n).level),
        chamber=each(lambda _: running.circuit.chamber_level),
        moves=(0.0, 0.0, 0.0),
        notes=("it moves water within one vessel: levels stay",),
    )


def _one_of_several(running: Running, name: str) -> Event:
    """Stop one return pump while the others run on: less flow, and its own pipes run empty."""
    found, before = running.circuit, running.before
    flow, back = found.flow_without(running.model, name)
    level = running.level_over(found.drains, flow)
    alone = [
        way
        for way in found.returns
        if way.pumps[0].sump == found.sump.name and [pump.name for pump in way.pumps] == [name]
    ]
    contents = sum(way.contents for way in alone)
    sump_levels = running_levels(running.model, found.sump, flow)

    def stands(n: int) -> float:
        here = found.display(n).level
        return here if level is None else min(here, level.at(SETTINGS[n]))

    tank = each(stands)
    moves = each(lambda n: before.tank[n] - found.tank.volume(tank[n]) + contents)
    held = each(lambda n: before.sump[n] + moves[n])

    def chamber(n: int) -> float:
        heights = [item.level.at(SETTINGS[n]) for item in sump_levels[:-1]]
        return _chamber_for(found, heights, held[n])

    notes = [] if back is None else [back]
    if any(
        siphon.broken_at < found.level.high and not siphon.check_valve
        for way in alone
        for siphon in way.siphons
    ):
        notes.append("the others' water runs back through its mouth under water as long as they pump")
    return running.event(
        "pump stopped",
        name,
        after=Ledger(
            tank=each(lambda n: found.tank.volume(tank[n])),
            sump=held,
            pipes=each(lambda n: before.pipes[n] - contents),
        ),
        tank=tank,
        chamber=each(chamber),
        moves=moves,
        notes=tuple(notes),
    )


def clogged_socks(running: Running) -> tuple[Event, ...]:
    """Return what each sock, clogged so that water has to rise to its rim, takes from the chamber."""
    found = running.circuit
    around = {f"{found.sump.name}.{item.name}": item.level for item in found.compartments}
    events = []
    for sock in found.socks:
        level = around.get(sock.compartment, Band.exact(sock.rim))
        inside = [sock.area * max(0.0, sock.rim - max(level.at(s), sock.floor)) for s in SETTINGS]
        left = [max(found.sump.chamber.volumes[0], found.chamber_volume - taken) for taken in inside]
        notes = []
        if sock.rim > found.sump.rim:
            notes.append("its rim stands above the sump's: what runs over it may miss the sump")
        events.append(
            running.event(
                "sock clogged",
                sock.name,
                after=running.before,
                tank=each(lambda n: found.display(n).level),
                chamber=each([found.sump.chamber.level(volume) for volume in left].__getitem__),
                moves=each([found.chamber_volume - volume for volume in left].__getitem__),
                notes=tuple(notes),
            )
        )
    return tuple(events)


def failing_holes(running: Running) -> tuple[Event, ...]:
    """Return what a fitting or hose that lets go at each drilled hole puts on the floor."""
    events = [
        _lets_go(running, name, hole.panel, hole.at[2] - hole.diameter / 2.0)
        for name, hole in running.model.tank.holes.items()
    ]
    return tuple(sorted(events, key=lambda event: -event.floor.high))


def _lets_go(running: Running, hole: str, panel: str, lower_edge: float) -> Event:
    found, before, model = running.circuit, running.before, running.model
    edge = 0.0 if panel == "bottom" else lower_edge
    body = f"{model.tank_name}.{hole}"
    part = next((one for one in pipework(model).parts if body in {e.body for e in one.edges}), None)
    reaches = min([edge, *_inside_mouths(model, part, body)])
    pumped = any(hole in way.holes for way in found.returns)
    contents = each(lambda n: 0.0 if part is None else _contents(running, part, n))
    ends = []
    for n in NUMBERS:
        hose = Hose(name=hole, drains_to=reaches, pumped=pumped, contents=contents[n])
        (end,) = hose_failures(found.display(n), running.sump(n), (hose,), suction=running.suction)
        ends.append(end)
    tank = each(lambda n: found.tank.volume(ends[n].level))
    from_sump = each(lambda n: ends[n].spilled - contents[n] - (before.tank[n] - tank[n]))
    words = "a mouth inside, by siphon" if reaches < edge else "the hole's lower edge"
    return running.event(
        "lets go",
        hole,
        after=Ledger(
            tank=tank,
            sump=each(lambda n: before.sump[n] - from_sump[n]),
            pipes=each(lambda n: before.pipes[n] - contents[n]),
            floor=each(lambda n: ends[n].spilled),
        ),
        tank=each(lambda n: ends[n].level),
        chamber=each(lambda n: running.suction if from_sump[n] > 0.0 else found.chamber_level),
        moves=from_sump,
        rules=(words,) * 3,
        notes=("the pumps go on until the return chamber is dry",) if pumped else (),
    )


def _inside_mouths(model: Model, part: Pipework | None, body: str) -> list[float]:
    """Return how low the mouths inside the tank reach that hang on a hole's bulkhead, z [m]."""
    found = []
    for mouth in part.mouths if part else ():
        way = part.way(f"{body}.inside", mouth.node) if part else None
        if way and mouth.vessel == model.tank_name and all(edge.body != body for edge in way.edges):
            found.append(max(0.0, mouth.lower_edge))
    return found


def _contents(running: Running, part: Pipework, number: int) -> float:
    """Return the water in pipework that runs out where it lets go, [m³]."""
    found, model = running.circuit, running.model
    for way in found.returns:
        if way.pipework is part:
            return way.contents
    drains = {drain.way.edges[0].name for drain in found.drains}
    several = [one for one in pipework(model).parts if drains & {edge.name for edge in one.edges}]
    if not any(one is part for one in several):
        return 0.0
    # of all drains together; with several the share of this one by its own volume
    level = found.level.likely
    everything = sum(dry_volume(model, one.edges, level, {}) for one in several)
    share = dry_volume(model, part.edges, level, {}) / everything if everything else 0.0
    return found.drain_contents.at(SETTINGS[number]) * share


def _chamber_for(found: Circuit, heights: list[float], held: float) -> float:
    """Return the chamber's level at which a sump holds this much with the others at ``heights``, z [m]."""
    low, high = found.sump.floor, found.sump.rim

    def miss(level: float) -> float:
        return found.sump.held([*(max(height, level) for height in heights), level]) - held

    if miss(high) <= 0.0:
        return high
    return root(miss, low, high) if miss(low) < 0.0 else low
