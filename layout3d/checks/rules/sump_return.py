"""Sumps that water runs to and is not pumped back from: one sump is figured, and another only fills."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from layout3d.checks.base import FLOOD_TEST, Finding, Findings, Severity, rule
from layout3d.checks.flow_words import parts_of, volume_of
from layout3d.checks.measure import length
from layout3d.flow.overflow import gravity_drains
from layout3d.model.model import Model
from layout3d.outage.outages import outages
from layout3d.outage.returns import vents
from layout3d.outage.sump import sump_water_of
from layout3d.parts.base import Built, Vector
from layout3d.parts.sump import Sump
from layout3d.parts.vessel import SumpData
from layout3d.pipework.graph import Pipework
from layout3d.pipework.read import pipework
from layout3d.pipework.waters import set_levels, vessel_at, whole_vessel
from layout3d.water.gauge import tank_table


@dataclass(slots=True)
class _Ways:
    """What leads water to a sump and from it: parts by name, and where the first of them ends in it.

    ``returns`` are the pumps that bring it to the tank, each with the compartment that it draws from.
    ``pumped`` tells whether a pump brings it water from elsewhere; ``drawn_down`` are those that draw from
    the tank, with where that ends.
    """

    fed_by: dict[str, None] = field(default_factory=dict)
    returns: dict[str, str] = field(default_factory=dict)
    lead_on: dict[str, None] = field(default_factory=dict)
    drawn_down: dict[str, Vector] = field(default_factory=dict)
    pumped: bool = False
    at: Vector | None = None


@rule(
    "sump-return",
    asks="Pumps bring back what runs to a sump, and one sump holds all that runs back.",
    caution=FLOOD_TEST,
)
def sump_return(model: Model) -> Findings:
    """Find sumps that fill and are not pumped back, that share a tank with another, or run over.

    Two sumps with return pumps keep no level of their own: what drains bring to each has nothing to do with
    what its pump takes. Nor does a tank that a pump draws down: no drain holds its level. Levels of the sump
    are figured for pumps in its last compartment. Where no pump brings the tank water, drains count by what
    stands over them.
    """
    ways = {built.part.name: _Ways() for built in model.sumps}
    for part in pipework(model).parts:
        if not part.air:
            _add(model, part, ways)
    for name, one in ways.items():
        for pump, at in one.drawn_down.items():
            yield Finding(
                parts=(pump, name),
                at=at,
                message=f"{pump} pumps {model.tank_name} down into {name}: no drain holds a level, and no "
                "figure here counts that",
                remedy=f"let {model.tank_name} run over into {name} by a drain, and pump the other way",
            )
    returning = [name for name, one in ways.items() if one.returns]
    for built in model.sumps:
        name = built.part.name
        one = ways[name]
        last = f"{name}.{built.data.return_chamber.name}"
        for pump, compartment in one.returns.items():
            if compartment != last:
                yield Finding(
                    parts=(pump, compartment),
                    at=model.built[pump].anchors["inlet"],
                    message=f"{pump} draws from {compartment}, and water runs through the compartments "
                    f"as far as {last}: no level here is figured for that",
                    remedy=f"set {pump} in {last}, or turn the way the compartments follow (`flow:`)",
                )
        if name in returning[:1]:
            yield from _passed_by(model, name, f"{name}.{built.data.compartments[0].name}")
        if one.fed_by and name in returning[:1]:
            floods = outages(model)
            back = floods.power_cut.moved.high if floods and floods.circuit.sump.name == name else 0.0
            room = max(0.0, sump_water_of(model, built).room - back)
            yield from _topped_up(model, name, room, [name for name, other in ways.items() if other.fed_by])
        if name in returning[:1] or not (one.fed_by or one.returns):
            continue
        if one.returns:
            yield Finding(
                parts=(name, returning[0]),
                at=one.at or built.data.return_chamber.low,
                message=f"pumps bring water to {model.tank_name} from {name} and from {returning[0]}: "
                "what runs back to each has nothing to do with what its pumps take, so one runs over while "
                f"the other runs dry, and no level is figured for {name}",
                remedy="lead all drains and pumps to one sump, or make the two one sump with compartments",
            )
        elif returning or one.pumped:
            on = "nothing leads it on"
            if one.lead_on:
                on = f"{', '.join(one.lead_on)} lead it on, by no figure here"
            room = sump_water_of(model, built).room
            yield Finding(
                parts=(name, *one.fed_by),
                limit=room,
                unit="m³",
                at=one.at or built.data.return_chamber.low,
                message=f"{', '.join(one.fed_by)} fill {name}, and no pump brings that back to "
                f"{model.tank_name}: {on}, and it runs over after {volume_of(room)}",
                remedy=f"lead it to the sump that pumps return from, or set a pump in {name} that does",
            )
        else:
            yield from _runs_down(model, built)
    if not any(one.fed_by for one in ways.values()):
        table = tank_table(model)
        room = table.volume(table.top) - table.volume(min(max(model.waterline, table.bottom), table.top))
        yield from _topped_up(model, model.tank_name, room, [])


def _passed_by(model: Model, name: str, first: str) -> Findings:
    """Find a sump that drains end in, and none of them in its first compartment."""
    drains = [drain for drain in gravity_drains(model) if whole_vessel(drain.outlet.vessel) == name]
    if drains and all(drain.outlet.vessel != first for drain in drains):
        yield Finding(
            severity="warning",
            parts=(*parts_of(*drains), first),
            at=drains[0].outlet.at,
            message=f"no drain ends in {first}, where {name} begins: nothing runs through it, and the levels "
            "of the compartments are figured as if it did",
            remedy=f"end {drains[0].name} in {first}, or turn the way the compartments follow (`flow:`)",
        )


def _runs_down(model: Model, built: Built[Sump, SumpData]) -> Findings:
    """Find sumps with no room for the tank's water over its lowest drain, where no pump brings any back.

    A warning where only a drain that hangs into the water, once it runs full, siphons so much.
    """
    name, table, room = built.part.name, tank_table(model), sump_water_of(model, built).room
    drains = [drain for drain in gravity_drains(model) if whole_vessel(drain.outlet.vessel) == name]
    if not drains:
        return
    lowest = min(drains, key=lambda drain: drain.crest)
    deepest = min(drains, key=lambda drain: drain.siphon_level)
    severity: Severity
    for severity, drain, level in (
        ("fault", lowest, lowest.crest),
        ("warning", deepest, deepest.siphon_level),
    ):
        rest = table.volume(min(max(level, table.bottom), model.waterline))
        down = table.volume(model.waterline) - rest
        if down > room:
            once = "" if severity == "fault" else ", once it runs full,"
            yield Finding(
                severity=severity,
                parts=(*parts_of(drain), name),
                measured=down,
                limit=room,
                unit="m³",
                at=drain.mouth.at,
                message=f"the drain {drain.name!r}{once} lets {volume_of(down)} of {model.tank_name} down to "
                f"{name}, which has room for {volume_of(room)}",
                remedy=f"set its mouth higher, fill {model.tank_name} less, or close it",
            )
            return


def _topped_up(model: Model, into: str, room: float, fed: list[str]) -> Findings:
    """Find what other sumps let run into the one that pumps return from, as a reservoir that tops it up does.

    Without such a sump it runs into the tank, with one through that too. Its pump stops, or has not begun:
    from a mouth below the reservoir's water that goes on by itself, down to the mouth or the inlet, unless
    air gets in above the water. A fault where that and what a power cut lets drain back have no room, a
    warning elsewhere, and where they have none with the pump running on. Sumps that are ``fed`` themselves
    never end, and are told by what they lack.
    """
    tank = model.tank_name
    levels = set_levels(model) | {tank: model.waterline}
    sources = {one.part.name: one for one in model.sumps if one.part.name not in fed}
    for part in pipework(model).parts:
        pumps = [(pump.name, pump.node, pump.inlet) for pump in part.water_pumps]
        for name, node, low in pumps or [(mouth.part, mouth.node, mouth.at) for mouth in part.mouths]:
            water = vessel_at(model, low)
            source = sources.get(whole_vessel(water))
            ends = [mouth for mouth in part.mouths if whole_vessel(mouth.vessel) in (into, tank)]
            if source is None or not ends or low[2] >= levels.get(water, -math.inf):
                continue
            whole, level = sump_water_of(model, source).whole, levels[water]
            mouth = min(ends, key=lambda end: end.lower_edge)
            way = part.way(node, mouth.node)
            air = [height for _, height, _ in vents(part, mouth, node)]
            stands = levels[tank] if mouth.vessel == tank else -math.inf
            least = max(low[2], mouth.lower_edge, stands, *air)
            by_itself = least < level
            brings = whole.volume(level) - whole.volume(max(least if by_itself else low[2], whole.bottom))
            runs_on = brings > room and mouth.vessel != tank  # what a pump brings there is told as a return
            if way is None or way.barred_by() or not (by_itself or runs_on):
                continue
            store, where = source.part.name, whole_vessel(mouth.vessel)
            besides = "" if into == tank else " besides what drains back"
            how = (
                f"siphons {volume_of(brings)} from {store} into {where} by itself: its end there lies "
                f"{length(level - mouth.lower_edge)} below the water of {store}, and nothing lets air in"
                if by_itself
                else f"brings up to {volume_of(brings)} from {store} to {into} if it isn't stopped"
            )
            yield Finding(
                severity="fault" if by_itself and brings > room else "warning",
                parts=(name, into),
                measured=brings,
                limit=room,
                unit="m³",
                at=mouth.at,
                message=f"{name} {how}; {into} has room for {volume_of(room)}{besides}",
                remedy=f"end it over the water of {store}, in air, or let air in at its highest point"
                if by_itself
                else f"fill {store} with {volume_of(brings - room)} less",
            )


def _add(model: Model, part: Pipework, found: dict[str, _Ways]) -> None:
    """Add what hangs together: where its pumps draw and, without one, its mouths; and where it ends."""
    ends: dict[str, Vector] = {}
    for mouth in part.mouths:
        ends.setdefault(whole_vessel(mouth.vessel), mouth.at)
    waters = {pump.name: vessel_at(model, pump.inlet) for pump in part.water_pumps}
    pumps = {pump: whole_vessel(water) for pump, water in waters.items()}
    names = dict.fromkeys(pumps or (edge.part for edge in part.edges if edge.part != model.tank_name))
    sources = set(pumps.values()) or set(ends)
    levels = set_levels(model) | {model.tank_name: model.waterline}
    stands = {whole_vessel(mouth.vessel): levels.get(mouth.vessel, math.inf) for mouth in part.mouths}
    for name, one in found.items():
        # without a pump, what stands lower in another sump fills none
        higher = {other for other in sources if pumps or stands[other] > stands.get(name, math.inf)}
        if name in ends and higher - {name, "", *(model.tank_name for _ in pumps)}:
            one.fed_by |= names
            one.pumped |= bool(pumps)
            one.at = one.at or ends[name]
        if name in ends:
            one.drawn_down |= {pump: ends[name] for pump, of in pumps.items() if of == model.tank_name}
        if name in sources and model.tank_name in ends and pumps:
            one.returns |= {pump: waters[pump] for pump, of in pumps.items() if of == name}
        elif name in sources and set(ends) - {name, model.tank_name, ""}:
            one.lead_on |= names
