"""A part that fails: a pump stopped alone, a sock clogged, a fitting that lets go at a drilled hole.

Each alone, unnoticed and to its end, as in ``outage.events``.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from layout3d.band import SETTINGS, Band
from layout3d.flow.roots import root
from layout3d.model.model import Model
from layout3d.outage.circuit import Circuit
from layout3d.outage.failures import lets_go
from layout3d.outage.ledger import NUMBERS, Event, Ledger, Three, each
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
    return running.event(
        "pump stopped",
        name,
        after=running.before,
        tank=each(lambda n: running.circuit.display(n).level),
        chamber=each(lambda _: running.circuit.chamber_level),
        moves=(0.0, 0.0, 0.0),
        notes=(
            "it moves water within one vessel: levels stay"
            if _within_one_vessel(running.model, name)
            else "what it moves from vessel to vessel is not figured (rule sump-return)",
        ),
    )


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
    comes = each(lambda n: max(0.0, found.drain_contents.at(SETTINGS[n]) - later[n]) + contents)
    sump_levels = running_levels(running.model, found.sump, flow)

    def stands(n: int) -> float:
        here = found.display(n).level
        return here if level is None else min(here, level.at(SETTINGS[n]))

    tank = each(stands)
    moves = each(lambda n: found.display(n).volume - found.tank.volume(tank[n]) + comes[n])
    held = each(lambda n: before.sump[n] + moves[n])

    def chamber(n: int) -> float:
        heights = [item.level.at(SETTINGS[n]) for item in sump_levels[:-1]]
        return _chamber_for(found, heights, held[n])

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
    return running.event(
        "pump stopped",
        name,
        after=Ledger(
            tank=each(lambda n: found.tank.volume(tank[n]) + running.in_boxes),
            sump=held,
            pipes=each(lambda n: before.pipes[n] - comes[n]),
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
    from_box, boxes = 0.0, dict[str, Three]()
    if box is not None:
        own = next(one for one in found.boxes if one.name == box.part.name)
        stands = min(own.level, max(reaches, own.table.bottom))
        from_box, boxes = own.volume - own.table.volume(stands), {own.name: (stands,) * 3}
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
    boxes: Mapping[str, Three] | None = None,
    words: str,
) -> Event:
    """Return the event of something that lets go and empties the tank to a level, z [m]."""
    found, before = running.circuit, running.before
    levels, floor = zip(
        *(
            lets_go(
                found.display(n),
                running.sump(n),
                drains_to=drains_to,
                pumped=pumped,
                contents=contents[n] + from_box,
                suction=running.suction,
            )
            for n in NUMBERS
        ),
        strict=True,
    )
    tank = each(lambda n: found.tank.volume(levels[n]) + running.in_boxes - from_box)
    from_sump = each(lambda n: floor[n] - contents[n] - (before.tank[n] - tank[n]))
    return running.event(
        "lets go",
        subject,
        after=Ledger(
            tank=tank,
            sump=each(lambda n: before.sump[n] - from_sump[n]),
            pipes=each(lambda n: before.pipes[n] - contents[n]),
            floor=each(floor.__getitem__),
        ),
        tank=each(levels.__getitem__),
        chamber=each(lambda n: running.suction if from_sump[n] > 0.0 else found.chamber_level),
        moves=from_sump,
        rules=(words,) * 3,
        notes=("the pumps go on until the return chamber is dry",) if pumped else (),
        boxes=boxes,
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
    found = running.circuit
    for way in found.returns:
        if way.pipework is part:
            return way.contents
    names = {edge.name for edge in part.edges}
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
