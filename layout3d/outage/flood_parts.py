"""A part that fails: a pump stopped alone, a sock clogged, a fitting that lets go at a drilled hole."""

from __future__ import annotations

from dataclasses import replace

from layout3d.band import SETTINGS, Band, Setting
from layout3d.flow.overflow import running_level, water_of_scene
from layout3d.flow.roots import root
from layout3d.model.model import Model
from layout3d.outage.circuit import Circuit
from layout3d.outage.failures import Hose, hose_failures
from layout3d.outage.flood_books import Books
from layout3d.outage.flood_data import Event, Ledger, Outcome
from layout3d.outage.returns import dry_volume
from layout3d.outage.sump_levels import levels_of
from layout3d.pipework.graph import Pipework
from layout3d.pipework.read import pipework

__all__ = ["clogged_socks", "failing_holes", "stopped_pumps"]


def stopped_pumps(books: Books, power_cut: Event) -> tuple[Event, ...]:
    """Return what each water pump, stopped alone, does."""
    events = []
    returning = [pump.name for pump in books.found.pumps]
    for built in books.model.pumps:
        if built.part.air:
            continue
        name = built.part.name
        if name not in returning:
            events.append(_still(books, name))
        elif len(returning) == 1:
            events.append(replace(power_cut, kind="pump stopped", subject=name))
        else:
            events.append(_one_of_several(books, name))
    return tuple(events)


def _still(books: Books, name: str) -> Event:
    outcomes: dict[Setting, Outcome] = {}
    for number, setting in enumerate(SETTINGS):
        before = books.before(number)
        outcomes[setting] = Outcome(
            before=before,
            after=before,
            tank_level=books.found.display(number).level,
            chamber_level=books.found.chamber_level,
            moved=0.0,
        )
    notes = ("it moves water within one vessel: levels stay",)
    return books.event("pump stopped", name, outcomes, notes=notes)


def _one_of_several(books: Books, name: str) -> Event:
    """Stop one return pump while the others run on: less flow, and its own pipes run empty."""
    found = books.found
    others = [pump.flow for pump in found.pumps if pump.name != name and pump.flow is not None]
    flow = _sum(others) if others else Band.exact(0.0)
    level = running_level(found.drains, flow, water=water_of_scene(books.model), top=found.spill)
    alone = [
        way
        for way in [way for way in found.returns if way.pumps[0].sump == found.sump.name]
        if [pump.name for pump in way.pumps] == [name]
    ]
    contents = sum(way.contents for way in alone)
    levels = levels_of(books.model, found.sump, flow)
    outcomes: dict[Setting, Outcome] = {}
    for number, setting in enumerate(SETTINGS):
        before = books.before(number)
        display = found.display(number)
        stands = display.level if level is None else min(display.level, level.at(setting))
        moved = display.volume - display.table.volume(stands) + contents
        held = before.sump + moved
        heights = [item.level.at(setting) for item in levels[:-1]]
        chamber = _chamber_for(found, heights, held)
        outcomes[setting] = Outcome(
            before=before,
            after=Ledger(tank=display.table.volume(stands), sump=held, pipes=before.pipes - contents),
            tank_level=stands,
            chamber_level=chamber,
            moved=moved,
        )
    notes = []
    if any(
        siphon.broken_at < found.level.high and not siphon.check_valve
        for way in alone
        for siphon in way.siphons
    ):
        notes.append("the others' water runs back through its mouth under water as long as they pump")
    return books.event("pump stopped", name, outcomes, notes=tuple(notes))


def clogged_socks(books: Books) -> tuple[Event, ...]:
    """Return what each sock, clogged so that water has to rise to its rim, takes from the chamber."""
    found = books.found
    events = []
    for sock in found.socks:
        around = {f"{found.sump.name}.{item.name}": item.level for item in found.compartments}
        outcomes: dict[Setting, Outcome] = {}
        for number, setting in enumerate(SETTINGS):
            before = books.before(number)
            outside = around[sock.compartment].at(setting) if sock.compartment in around else sock.rim
            inside = sock.area * max(0.0, sock.rim - max(outside, sock.floor))
            left = max(found.sump.chamber.volumes[0], found.chamber_volume - inside)
            outcomes[setting] = Outcome(
                before=before,
                after=before,
                tank_level=found.display(number).level,
                chamber_level=found.sump.chamber.level(left),
                moved=found.chamber_volume - left,
            )
        notes = []
        if sock.rim > found.sump.rim:
            notes.append("its rim stands above the sump's: what runs over it may miss the sump")
        events.append(books.event("sock clogged", sock.name, outcomes, notes=tuple(notes)))
    return tuple(events)


def failing_holes(books: Books) -> tuple[Event, ...]:
    """Return what a fitting or hose that lets go at each drilled hole puts on the floor."""
    tank = books.model.tank
    events = []
    for hole in tank.holes.values():
        edge = 0.0 if hole.panel == "bottom" else hole.at[2] - hole.diameter / 2.0
        ways = next((w for w in pipework(books.model).parts if _through(w, books.model, hole.name)), None)
        reaches = min([edge, *_inside_mouths(books, ways, hole.name)])
        pumped = any(hole.name in way.holes for way in books.found.returns)
        outcomes: dict[Setting, Outcome] = {}
        for number, setting in enumerate(SETTINGS):
            display, sump = books.found.display(number), books.sump(number)
            before = books.before(number)
            contents = _contents(books, ways, number) if ways is not None else 0.0
            hose = Hose(name=hole.name, drains_to=reaches, pumped=pumped, contents=contents)
            suction = books.suction()
            (end,) = hose_failures(display, sump, (hose,), suction=suction)
            tank_after = display.table.volume(end.level)
            from_sump = end.spilled - contents - (display.volume - tank_after)
            outcomes[setting] = Outcome(
                before=before,
                after=Ledger(
                    tank=tank_after,
                    sump=before.sump - from_sump,
                    pipes=before.pipes - contents,
                    floor=end.spilled,
                ),
                tank_level=end.level,
                chamber_level=suction if from_sump > 0.0 else books.found.chamber_level,
                moved=from_sump,
                ruled_by="a mouth inside, by siphon" if reaches < edge else "the hole's lower edge",
            )
        notes = ["the pumps go on until the return chamber is dry"] if pumped else []
        events.append(books.event("lets go", hole.name, outcomes, notes=tuple(notes)))
    return tuple(sorted(events, key=lambda event: -event.floor.high))


def _inside_mouths(books: Books, ways: Pipework | None, hole: str) -> list[float]:
    """Return how low the mouths inside reach that hang on a hole's bulkhead, z [m]."""
    if ways is None:
        return []
    inside = f"{books.model.tank_name}.{hole}.inside"
    found = []
    for mouth in ways.mouths:
        way = ways.way(inside, mouth.node)
        body = f"{books.model.tank_name}.{hole}"
        if way is None or mouth.vessel != books.model.tank_name:
            continue
        if all(edge.body != body for edge in way.edges):
            found.append(max(0.0, mouth.lower_edge))
    return found


def _contents(books: Books, ways: Pipework, number: int) -> float:
    """Return the water in pipework that runs out where it lets go, [m³]."""
    for way in books.found.returns:
        if way.pipework is ways:
            return way.contents
    if not any(drain.way.edges[0] in ways.edges for drain in books.found.drains):
        return 0.0
    # of all drains together; with several the share of this one by its own volume
    own = dry_volume(books.model, ways.edges, books.found.level.likely, {})
    everything = sum(
        dry_volume(books.model, other.edges, books.found.level.likely, {})
        for other in pipework(books.model).parts
        if any(drain.way.edges[0] in other.edges for drain in books.found.drains)
    )
    return books.found.drain_contents.at(SETTINGS[number]) * (own / everything if everything else 0.0)


def _through(ways: Pipework, model: Model, hole: str) -> bool:
    body = f"{model.tank_name}.{hole}"
    return any(edge.body == body for edge in ways.edges)


def _sum(flows: list[Band]) -> Band:
    return Band(
        low=sum(flow.low for flow in flows),
        likely=sum(flow.likely for flow in flows),
        high=sum(flow.high for flow in flows),
    )


def _chamber_for(found: Circuit, heights: list[float], held: float) -> float:
    """Return the chamber's level at which a sump holds this much with the others at ``heights``, z [m]."""
    low, high = found.sump.floor, found.sump.rim

    def miss(level: float) -> float:
        return found.sump.held([*(max(height, level) for height in heights), level]) - held

    if miss(high) <= 0.0:
        return high
    return root(miss, low, high) if miss(low) < 0.0 else low
