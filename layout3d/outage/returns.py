"""Return pipework from pumps in the sump to the tank: what can run back through it when the pumps stop.

A mouth under water drains the tank down to its lower edge unless air gets in behind it first. Left out: how
fast; air that creeps in through a leaking joint; a check valve that holds only in part.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from itertools import pairwise

from layout3d.band import Band
from layout3d.flow.result import RunningFlow
from layout3d.flow.running import running
from layout3d.model.model import Model
from layout3d.parts.base import Vector
from layout3d.pipework.closed import closed
from layout3d.pipework.graph import Edge, Mouth, Pipework
from layout3d.pipework.read import pipework
from layout3d.pipework.waters import sump_at
from layout3d.water.standpipe import drained_bores

__all__ = ["ReturnPump", "ReturnWays", "Siphon", "dry_volume", "flow_to_tank", "return_ways", "vents"]


@dataclass(frozen=True, slots=True, kw_only=True)
class ReturnPump:
    """A pump in the sump: where it draws, z of its inlet [m], and the flow at its point of operation."""

    name: str
    sump: str
    compartment: str
    inlet: Vector
    flow: Band | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Siphon:
    """A mouth of a return under water. Levels are z, [m].

    ``mouth_level``: its lower edge, to which it drains the tank if nothing else stops it; ``broken_at``:
    where it stops with all its siphon breaks open; ``blocked_at``: with its small holes clogged. ``breaks``
    names what lets air in, ``check_valve`` the body of a check valve on its way, or ''.
    """

    mouth: Mouth
    mouth_level: float
    broken_at: float
    blocked_at: float
    breaks: tuple[str, ...]
    check_valve: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ReturnWays:
    """Pipework that pumps in the sump feed, and what runs back through it.

    ``flow`` [m³/s] is what reaches the tank, None where it could not be figured, with the reason in
    ``failure``. ``contents`` is all water in it above the waters at both ends, [m³]; ``contents_held`` what
    still comes down with all check valves holding. ``holes`` are those of the tank that it goes through.
    """

    pumps: tuple[ReturnPump, ...]
    pipework: Pipework
    flow: Band | None
    failure: str
    siphons: tuple[Siphon, ...]
    check_valves: tuple[str, ...]
    contents: float
    contents_held: float
    holes: tuple[str, ...]

    @property
    def name(self) -> str:
        """Names of its pumps."""
        return ", ".join(pump.name for pump in self.pumps)


def return_ways(model: Model, level: float, sump_levels: Mapping[str, float]) -> tuple[ReturnWays, ...]:
    """Find the return pipework of a model.

    Parameters
    ----------
    level : of the tank as it runs, z [m]: what is under it can siphon
    sump_levels : level of each compartment by 'sump.name', z [m]
    """
    found = []
    for ways in pipework(model).parts:
        pumps = tuple(pump for port in ways.water_pumps if (pump := _pump(model, port.name)) is not None)
        if pumps and any(mouth.vessel == model.tank_name for mouth in ways.mouths):
            found.append(_return(model, ways, pumps, level, sump_levels))
    return tuple(found)


def dry_volume(model: Model, edges: Iterable[Edge], level: float, sump_levels: Mapping[str, float]) -> float:
    """Return the bore of pipe that is in no open water, [m³]: above the waters, or outside their vessels."""
    total = 0.0
    runs_off = drained_bores(model).bodies
    for edge in edges:
        area = 0.25 * math.pi * edge.bore**2
        for a, b in pairwise(edge.points):
            middle = tuple((p + q) / 2.0 for p, q in zip(a, b, strict=True))
            water = _water_over(model, middle, level, sump_levels)  # type: ignore[arg-type] # three floats
            water = None if edge.body in runs_off else water
            total += area * math.dist(a, b) * _share_above(a[2], b[2], water)
    return total


def _share_above(a: float, b: float, water: float | None) -> float:
    if water is None:
        return 1.0
    low, high = min(a, b), max(a, b)
    if high - low < 1e-9:
        return 1.0 if low >= water else 0.0
    return min(1.0, max(0.0, (high - water) / (high - low)))


def _water_over(model: Model, point: Vector, level: float, sump_levels: Mapping[str, float]) -> float | None:
    if any(box.data.holds(point) and point[2] < box.data.rim for box in model.overflow_boxes):
        return None  # what is in a pipe there is none of the box's water
    if model.tank.holds(point):
        return level
    found = sump_at(model, point)
    return None if found is None else sump_levels.get(f"{found[0].part.name}.{found[2]}")


def _pump(model: Model, name: str) -> ReturnPump | None:
    inlet = model.built[name].anchors["inlet"]
    found = sump_at(model, inlet)
    if found is None or inlet[2] > found[1].rim:
        return None
    flow = next((run.flow for run in running(model).pumps if run.pump == name), None)
    return ReturnPump(name=name, sump=found[0].part.name, compartment=found[2], inlet=inlet, flow=flow)


def _return(
    model: Model,
    ways: Pipework,
    pumps: tuple[ReturnPump, ...],
    level: float,
    sump_levels: Mapping[str, float],
) -> ReturnWays:
    valves = tuple(edge.body for edge in ways.edges if edge.one_way)
    outs = {port.node: -math.inf for port in ways.water_pumps if port.name in {pump.name for pump in pumps}}
    outs |= {mouth.node: mouth.lower_edge for mouth in ways.mouths if mouth.vessel != model.tank_name}
    below = _below_valves(ways, outs)
    flow, failure = flow_to_tank(model, ways, pumps, running(model))
    tank = f"{model.tank_name}."
    free = replace(ways, mouths=tuple(mouth for mouth in ways.mouths if not closed(model, mouth)))
    return ReturnWays(
        pumps=pumps,
        pipework=ways,
        flow=flow,
        failure=failure,
        siphons=tuple(
            siphon
            for mouth in ways.mouths
            if mouth.vessel == model.tank_name and mouth.lower_edge < level
            for siphon in _siphons(free, mouth, outs, level)
        ),
        check_valves=valves,
        contents=dry_volume(model, ways.edges, level, sump_levels),
        contents_held=dry_volume(model, below, level, sump_levels),
        holes=tuple(edge.body.removeprefix(tank) for edge in ways.edges if edge.kind == "bulkhead"),
    )


def flow_to_tank(
    model: Model, ways: Pipework, pumps: tuple[ReturnPump, ...], result: RunningFlow
) -> tuple[Band | None, str]:
    """Return what these pumps bring to the tank, and why not where it can't be figured."""
    names = {pump.name for pump in pumps}
    system = next((one for one in result.systems if names & set(one.pump_names)), None)
    if system is None:
        idle = next((one.why for one in result.idle if one.pump in names), "it is no part of the network")
        return None, idle
    if not system.runs and not system.failures:
        return Band.exact(0.0, "no pump of it runs"), ""
    if not system.runs:
        return None, "; ".join(failure.message for failure in system.failures)
    flows = [run.flow for run in system.pumps if run.pump in names]
    low, likely, high = (sum(flow.at(s) for flow in flows) for s in ("low", "likely", "high"))
    place = {mouth.part: mouth.vessel for mouth in ways.mouths}
    for out in system.outs:
        if place.get(out.part, model.tank_name) != model.tank_name:  # back into the sump, say
            low, likely, high = low - out.flow.high, likely - out.flow.likely, high - out.flow.low
    low, likely, high = (max(0.0, figure) for figure in (low, likely, high))
    note = "pumps at their points of operation"
    return Band(low=min(low, likely), likely=likely, high=max(high, likely), note=note), ""


def _below_valves(ways: Pipework, outs: Iterable[str]) -> tuple[Edge, ...]:
    """Return the edges that are reached from where water runs out without passing a check valve."""
    seen = {node for out in outs for node in ways.reached(out, through=lambda edge: not edge.one_way)}
    return tuple(edge for edge in ways.edges if not edge.one_way and {edge.start, edge.end} & seen)


def vents(ways: Pipework, mouth: Mouth, pump: str) -> list[tuple[Mouth, float, bool]]:
    """Return what else opens on the way from a mouth to a node, a pump's, and how high it lets air in, z [m].

    With air let in there, water still runs to the meeting point while it stands above that. No air comes in
    against a check valve. Last whether it stays open: small holes clog, and a check valve may stick.
    """
    found, heights = [], ways.heights
    way = ways.way(mouth.node, pump)
    on_way = () if way is None else way.nodes
    for vent in ways.mouths:
        back = ways.way(vent.node, pump)
        if vent is mouth or vent.node == pump or back is None or not on_way:
            continue
        meets = next(node for node in back.nodes if node in on_way)
        way_in = ways.way(vent.node, meets)
        if way_in is None or way_in.barred_by():
            continue
        if vent.kind != "holes":
            lets_air = min(vent.lower_edge, heights[meets])
        else:
            lets_air = max(hole.at[2] - hole.diameter / 2.0 for hole in vent.holes)
            lets_air = lets_air if meets == vent.node else min(lets_air, heights[meets])
        found.append((vent, lets_air, vent.kind != "holes" and not way_in.valve_for()))
    return found


def _siphons(ways: Pipework, mouth: Mouth, outs: Mapping[str, float], level: float) -> Iterator[Siphon]:
    """Yield a mouth under the tank's water as a siphon: as no check valve stops it, and where one does.

    It runs out at stopped pumps and at open ends outside the tank, ``outs`` by node with how low water runs
    out there, z [m]; of several the one that empties most is told, and one behind a valve only where that
    empties more.
    """
    edge, least = mouth.lower_edge, math.inf
    found = [_siphon(ways, mouth, out, level, max(edge, low)) for out, low in outs.items() if low < level]
    for held in (False, True):
        own = [one for one in found if one and bool(one.check_valve) is held and one.broken_at < least]
        for siphon in sorted(own, key=lambda one: one.broken_at)[:1]:
            least = siphon.broken_at
            yield siphon


def _siphon(ways: Pipework, mouth: Mouth, out: str, level: float, edge: float) -> Siphon | None:
    """Return a mouth as a siphon that runs out at a node and goes no lower than ``edge``, z [m]."""
    way = ways.way(mouth.node, out)
    if way is None:
        return None
    broken = blocked = edge
    breaks: list[str] = []
    for vent, lets_air, stays_open in vents(ways, mouth, out):
        stops = min(lets_air, level)
        if stops <= edge + 1e-9:
            continue
        breaks.append(vent.name)
        broken = max(broken, stops)
        if stays_open:
            blocked = max(blocked, stops)
    return Siphon(
        mouth=mouth,
        mouth_level=mouth.lower_edge,
        broken_at=broken,
        blocked_at=blocked,
        breaks=tuple(breaks),
        check_valve=way.barred_by(),
    )
