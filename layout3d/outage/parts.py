"""A part that fails: a pump stopped alone, a sock clogged, a fitting that lets go at a drilled hole.

Each alone, unnoticed and to its end, as in ``outage.events``.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from layout3d.band import SETTINGS, Band
from layout3d.flow.roots import root
from layout3d.model.model import Model
from layout3d.outage.circuit import Circuit, Sock
from layout3d.outage.failures import lets_go
from layout3d.outage.ledger import NUMBERS, End, Event, Three, each
from layout3d.outage.returns import ReturnWays
from layout3d.outage.running import Running
from layout3d.outage.sump import running_levels
from layout3d.pipework.graph import Pipework
from layout3d.pipework.read import pipework
from layout3d.pipework.waters import vessel_at, whole_vessel
from layout3d.units import show

__all__ = ["clogged_socks", "failing_holes", "stopped_pumps"]


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
    note = (
        "it moves water within one vessel: levels stay"
        if _within_one_vessel(running.model, name)
        else "what it moves from vessel to vessel is not figured (rule sump-return)"
    )
    return running.event("pump stopped", name, map(running.unmoved, NUMBERS), notes=(note,))


def _within_one_vessel(model: Model, name: str) -> bool:
    """Tell whether all that a pump moves gets back to the water that it stands in, or into the room."""
    port = next(port for port in pipework(model).pumps if port.name == name)
    part = pipework(model).part_of(port.node)
    waters = {whole_vessel(mouth.vessel) for mouth in part.mouths if mouth.vessel} if part else set()
    return waters <= {whole_vessel(vessel_at(model, port.inlet))}


def _one_of_several(running: Running, name: str) -> Event:
    """Stop one return pump while the others run on: less flow, and its own pipes run empty."""
    found, before = running.circuit, running.before
    flow, back = found.flow_without(running.model, name)
    unknown = flow is None
    flow = flow or Band.exact(0.0)
    level = running.level_over(found.drains, flow)
    alone = [
        way
        for way in found.returns
        if way.pumps[0].sump == found.sump.name and [pump.name for pump in way.pumps] == [name]
    ]
    contents = sum(way.contents for way in alone)
    # the drains carry less, and so hold less
    later = running.in_drains(found.drains, flow=flow, level=level)
    sump_levels = running_levels(running.model, found.sump, flow)

    def end(n: int) -> End:
        setting, here = SETTINGS[n], found.display(n)
        comes = max(0.0, found.drain_contents.at(setting) - later[n]) + contents
        stands = here.level if level is None else min(here.level, level.at(setting))
        moved = here.volume - found.tank.volume(stands) + comes
        held = before.sump[n] + moved
        heights = [item.level.at(setting) for item in sump_levels[:-1]]
        return End(
            tank_level=stands,
            chamber_level=_chamber_for(found, heights, held),
            moved=moved,
            tank=found.tank.volume(stands) + running.in_boxes,
            sump=held,
            pipes=before.pipes[n] - comes,
        )

    notes = []
    if unknown:
        notes.append("what the others bring could not be figured: taken as nothing")
    if back > 0.0:
        told = show(back, "flow", system=running.model.scene.style, digits=2)
        notes.append(f"no check valve stops {told} from running back through {name} into the sump")
    if any(
        siphon.broken_at < found.level.high and not siphon.check_valve
        for way in alone
        for siphon in way.siphons
    ):
        notes.append("the others' water runs back through its mouth under water as long as they pump")
    return running.event("pump stopped", name, map(end, NUMBERS), notes=notes)


def clogged_socks(running: Running) -> tuple[Event, ...]:
    """Return what each sock, clogged so that water has to rise to its rim, takes from the chamber."""
    found = running.circuit
    around = {f"{found.sump.name}.{item.name}": item.level for item in found.compartments}
    chamber, events = found.sump.chamber, []
    for sock in found.socks:
        level = around.get(sock.compartment, Band.exact(sock.rim))

        def end(n: int, sock: Sock = sock, level: Band = level) -> End:
            inside = sock.area * max(0.0, sock.rim - max(level.at(SETTINGS[n]), sock.floor))
            left = max(chamber.volumes[0], found.chamber_volume - inside)
            return running.unmoved(n, chamber=chamber.level(left), moved=found.chamber_volume - left)

        over = ["its rim stands above the sump's: what runs over it may miss the sump"]
        notes = over if sock.rim > found.sump.rim else ()
        events.append(running.event("sock clogged", sock.name, map(end, NUMBERS), notes=notes))
    return tuple(events)


def failing_holes(running: Running) -> tuple[Event, ...]:
    """Return what a fitting or hose that lets go puts on the floor: at each drilled hole, and over the room.

    A return that goes through no hole, over the rim, can let go wherever it hangs over the room.
    """
    events = [
        _lets_go(running, name, hole.panel, hole.at[2] - hole.diameter / 2.0)
        for name, hole in running.model.tank.holes.items()
    ]
    events += [
        _over_the_room(running, way)
        for way in running.circuit.returns
        if not way.holes
        and any(not vessel_at(running.model, point) for edge in way.pipework.edges for point in edge.points)
    ]
    return tuple(sorted(events, key=lambda event: -event.floor.high))


def _over_the_room(running: Running, way: ReturnWays) -> Event:
    """Let a return go that leads over the rim: the pumps go on, and a mouth under water siphons the tank."""
    tank, level = running.model.tank_name, running.circuit.level.high
    mouths = [m.lower_edge for m in way.pipework.mouths if m.vessel == tank and m.lower_edge < level]
    reaches = max(0.0, min(mouths, default=level))
    words = "a mouth inside, by siphon" if mouths else ""
    run = next(edge.part for edge in way.pipework.edges)
    return _spills(running, run, reaches, pumped=True, contents=each(lambda _: way.contents), words=words)


def _lets_go(running: Running, hole: str, panel: str, lower_edge: float) -> Event:
    found, model = running.circuit, running.model
    edge = 0.0 if panel == "bottom" else lower_edge
    body = f"{model.tank_name}.{hole}"
    part = next((one for one in pipework(model).parts if body in {e.body for e in one.edges}), None)
    reaches = min([edge, *_inside_mouths(model, part, body)])
    pumped = any(hole in way.holes for way in found.returns)
    # a hole in an overflow box empties the box; the tank falls to the weir
    box = next((one for one in model.overflow_boxes if hole in one.data.holes), None)
    from_box, boxes = 0.0, dict[str, float]()
    if box is not None:
        own = next(one for one in found.boxes if one.name == box.part.name)
        stands = min(own.level, max(reaches, own.table.bottom))
        from_box, boxes = own.volume - own.table.volume(stands), {own.name: stands}
    drains_to = reaches if box is None else max(reaches, box.data.crest)
    contents = each(lambda n: 0.0 if part is None else _contents(running, part, n))
    words = "a mouth inside, by siphon" if reaches < edge else "the hole's lower edge"
    if box is not None:
        words = f"the weir of {box.part.name}"
    return _spills(
        running,
        hole,
        drains_to,
        pumped=pumped,
        contents=contents,
        from_box=from_box,
        boxes=boxes,
        words=words,
    )


def _spills(
    running: Running,
    subject: str,
    drains_to: float,
    *,
    pumped: bool,
    contents: Three,
    from_box: float = 0.0,
    boxes: Mapping[str, float] | None = None,
    words: str,
) -> Event:
    """Return the event of something that lets go and empties the tank to a level, z [m]."""
    found, before = running.circuit, running.before

    def end(n: int) -> End:
        level, floor = lets_go(
            found.display(n),
            running.sump(n),
            drains_to=drains_to,
            pumped=pumped,
            contents=contents[n] + from_box,
            suction=running.suction,
        )
        tank = found.tank.volume(level) + running.in_boxes - from_box
        from_sump = floor - contents[n] - (before.tank[n] - tank)
        return End(
            tank_level=level,
            chamber_level=running.suction if from_sump > 0.0 else found.chamber_level,
            moved=from_sump,
            tank=tank,
            sump=before.sump[n] - from_sump,
            pipes=before.pipes[n] - contents[n],
            floor=floor,
            rule=words,
            boxes=boxes or {},
        )

    notes = ("the pumps go on until the return chamber is dry",) if pumped else ()
    return running.event("lets go", subject, map(end, NUMBERS), notes=notes)


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
    found = running.circuit
    names = {edge.name for edge in part.edges}
    for way in found.returns:
        if any(edge.name in names for edge in way.pipework.edges):
            return way.contents
    own = [drain for drain in found.drains if drain.way.edges[0].name in names]
    return running.in_drains(own, flow=found.flow, level=found.level)[number]


def _chamber_for(found: Circuit, heights: list[float], held: float) -> float:
    """Return the chamber's level at which a sump holds this much with the others at ``heights``, z [m]."""
    low, high = found.sump.floor, found.sump.rim

    def miss(level: float) -> float:
        return found.sump.held([*(max(height, level) for height in heights), level]) - held

    if miss(high) <= 0.0:
        return high
    return root(miss, low, high) if miss(low) < 0.0 else low
