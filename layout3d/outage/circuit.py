"""The water's way round: tank, drains, sump and returns of a model with all the levels they run at.

What ``flow.flood`` starts its events from. One sump with a return pump; a scene without one has no circuit.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, fields

from layout3d.band import SETTINGS, Band
from layout3d.flow.drain import GPM, INCH, STACK
from layout3d.flow.overflow import GravityDrain, gravity_drains, over_water, running_level
from layout3d.flow.running import running_with
from layout3d.flow.water import water_of
from layout3d.model.model import Model
from layout3d.outage.failures import Body
from layout3d.outage.returns import ReturnPump, ReturnWays, dry_volume, flow_to_tank, return_ways
from layout3d.outage.sump import CompartmentLevel, SumpWater, running_levels, sump_water_of
from layout3d.parts.base import Vector, vector
from layout3d.pipework.closed import closed
from layout3d.pipework.graph import Edge
from layout3d.pipework.read import pipework
from layout3d.pipework.waters import set_levels, whole_vessel
from layout3d.water.gauge import tank_table
from layout3d.water.level_table import LevelTable
from layout3d.water.remembered import kept
from layout3d.water.sump import compartment_tables

__all__ = ["Circuit", "Sock", "WayRound", "circuit", "in_drains", "way_round"]

LEAST_COVER = 1e-9  # of water over an inlet; less is rounding, [m]
MOST_STOPPED = 0.99  # of the slots, as far as an intake is computed; all of them are a blocked drain


@dataclass(frozen=True, slots=True, kw_only=True)
class Sock:
    """A filter basket that a drain ends in: ``low`` and ``high`` corner, [m], and its plan inside, [m²]."""

    name: str
    compartment: str
    low: Vector
    high: Vector
    wall: float
    area: float

    @property
    def rim(self) -> float:
        """Height of its rim, z [m]."""
        return self.high[2]

    @property
    def floor(self) -> float:
        """Height of its inside floor, z [m]."""
        return self.low[2] + self.wall


@dataclass(frozen=True, slots=True, kw_only=True)
class WayRound:
    """Tank and sump as they run, without how much the tank holds. Levels are z in the tank's axes, [m].

    ``flow`` is what all returns bring to the tank, [m³/s], None where it could not be figured. ``level`` is
    the tank's running level over its drains, that of the scene where none tells; ``level_stopped`` the same
    with ``slots_stopped`` of the slots stopped (a limit of the scene), None where the flow finds no way out.
    ``overflows`` tells that the likely flow does not get away below the ``spill`` level: the rim, or an open
    hole. ``boxes`` are the overflow boxes in the tank with their
    own water. ``drain_contents`` is the water on its way in all drains, [m³].
    """

    tank_name: str
    rim: float
    brace: float | None
    spill: float
    spill_words: str
    waterline: float
    boxes: tuple[Body, ...]
    drains: tuple[GravityDrain, ...]
    returns: tuple[ReturnWays, ...]
    sump: SumpWater
    compartments: tuple[CompartmentLevel, ...]
    socks: tuple[Sock, ...]
    flow: Band | None
    level: Band
    level_stopped: Band | None
    slots_stopped: float
    overflows: bool
    drain_contents: Band
    notes: tuple[str, ...]

    @property
    def pumps(self) -> tuple[ReturnPump, ...]:
        """All return pumps that draw from this sump."""
        return tuple(pump for way in self.returns for pump in way.pumps if pump.sump == self.sump.name)

    @property
    def suction(self) -> float:
        """Level to which the return chamber can be pumped down: the lowest inlet, z [m]."""
        return min(pump.inlet[2] for pump in self.pumps)

    @property
    def draws_air(self) -> float:
        """Level at which the first pump draws air: the highest inlet, z [m]."""
        return max(pump.inlet[2] for pump in self.pumps)

    @property
    def chamber_level(self) -> float:
        """Level of the return chamber as the scene fills it, z [m]."""
        return self.compartments[-1].level.likely

    @property
    def chamber_volume(self) -> float:
        """Water in the return chamber, [m³]."""
        return self.sump.chamber.volume(self.chamber_level)

    @property
    def stock(self) -> float:
        """Water in the return chamber above the highest inlet, [m³]."""
        least = min(max(self.draws_air, self.sump.floor), self.sump.rim)
        return max(0.0, self.chamber_volume - self.sump.chamber.volume(least))

    def beside(self, drain: GravityDrain) -> bool:
        """Tell whether what runs through a drain gets to no return pump: to the floor, or another sump."""
        return whole_vessel(drain.outlet.vessel) != self.sump.name

    def drawing_air(self, level: float) -> tuple[ReturnPump, ...]:
        """Return the pumps whose inlet is out of the water with the return chamber at a level, z [m]."""
        return tuple(pump for pump in self.pumps if pump.inlet[2] >= level - LEAST_COVER)

    def flow_without(self, model: Model, pump: str) -> tuple[Band | None, float]:
        """Return what the other pumps bring with one stopped, and what runs back through that one, [m³/s].

        The flow is None where it can't be figured.
        """
        result = running_with(model, {pump: 0.0})
        flows = [flow_to_tank(model, way.pipework, way.pumps, result)[0] for way in self.returns]
        back = next((-run.flow.likely for run in result.pumps if run.pump == pump), 0.0)
        return _sum_of(flows), max(0.0, back)

    def sump_running(self, setting: int = 1) -> float:
        """Return all water in the sump as it runs, [m³]."""
        return self.sump.held([item.level.at(SETTINGS[setting]) for item in self.compartments])


@dataclass(frozen=True, slots=True, kw_only=True)
class Circuit(WayRound):
    """Tank and sump as they run, with the tank's water by its level."""

    tank: LevelTable

    def display(self, setting: int = 1) -> Body:
        """Return the tank as it runs; ``setting`` is 0, 1, 2 for its level's low, likely, high."""
        level = min(self.level.at(SETTINGS[setting]), self.spill)
        return Body(name=self.tank_name, table=self.tank, level=level, rim=self.spill)


@kept
def circuit(model: Model) -> Circuit | None:
    """Return a model's circuit; None without a sump, or without a pump that returns water from it.

    Raises
    ------
    LayoutError : a fitting that no loss is known for.
    """
    found = way_round(model)
    if found is None:
        return None
    return Circuit(tank=tank_table(model), **{each.name: getattr(found, each.name) for each in fields(found)})


@kept
def way_round(model: Model) -> WayRound | None:
    """Return of a model's circuit what doesn't hang on how much the tank holds, as ``circuit``."""
    returns = return_ways(model, model.waterline, set_levels(model))
    if not returns:
        return None
    names = list(dict.fromkeys(pump.sump for way in returns for pump in way.pumps))
    notes = [f"{name} has return pumps of its own: its water is left out" for name in names[1:]]
    flow = _sum_of([way.flow for way in returns])
    notes += [f"flow of {way.name}: {way.failure}" for way in returns if way.failure]
    sump = sump_water_of(model, next(one for one in model.sumps if one.part.name == names[0]))
    compartments = running_levels(model, sump, flow or Band.exact(0.0))
    highest = {f"{sump.name}.{item.name}": item.level.high for item in compartments}
    shut = [drain for drain in gravity_drains(model) if closed(model, drain.mouth)]
    notes += [f"the mouth of the drain {one.name} lies in something: it is not counted on" for one in shut]
    drains = over_water(model, tuple(one for one in gravity_drains(model) if one not in shut), highest)
    spill, spill_words = _spill(model)
    water = water_of(model)
    level = stopped = None
    share = min(model.scene.catalog.limit("slots_stopped").value, MOST_STOPPED)
    if flow is not None:
        level = running_level(drains, flow, water=water, top=spill)
        stopped = running_level(drains, flow, water=water, top=spill, blocked=share)
    overflows = flow is not None and flow.likely > 0.0 and level is None
    if level is None:
        height = spill if overflows else min(model.waterline, spill)
        level = Band.exact(height, "at the rim" if overflows else "the scene's waterline")
    levels = {f"{sump.name}.{item.name}": item.level.likely for item in compartments}
    if level.likely != model.waterline:
        returns = return_ways(model, level.high, levels)
    chamber = sump.data.return_chamber.name
    notes += [
        f"{pump.name} draws from {pump.sump}.{pump.compartment}, not from the last compartment: levels are "
        "figured as if it drew from the last"
        for way in returns
        for pump in way.pumps
        if pump.sump == sump.name and pump.compartment != chamber
    ]
    brace = [b for b in model.bodies_of(model.tank_name) if b.kind == "brace"]
    return WayRound(
        tank_name=model.tank_name,
        rim=float(model.tank.interior.bounds[1, 2]),
        brace=min((float(body.solid.bounds[0, 2]) for body in brace), default=None),
        spill=spill,
        spill_words=spill_words,
        waterline=model.waterline,
        boxes=tuple(_boxes(model)),
        drains=drains,
        returns=returns,
        sump=sump,
        compartments=compartments,
        socks=tuple(_socks(model, drains)),
        flow=flow,
        level=level,
        level_stopped=stopped,
        slots_stopped=share,
        overflows=overflows,
        drain_contents=in_drains(model, drains, flow=flow, level=level.likely, sump_levels=levels),
        notes=tuple(notes),
    )


def _boxes(model: Model) -> Iterator[Body]:
    """Return the water in each overflow box, at the level that the scene sets."""
    for built in model.overflow_boxes:
        name = built.part.name
        table = compartment_tables(model)[name]
        level = min(max(built.data.level, table.bottom), table.top)
        yield Body(name=name, table=table, level=level, rim=table.top)


def _sum_of(flows: list[Band | None]) -> Band | None:
    known = [flow for flow in flows if flow is not None]
    if len(known) < len(flows) or not known:
        return None
    return Band.total(known, note=known[0].note)


def _spill(model: Model) -> tuple[float, str]:
    """Return the level at which the tank spills, z [m], and over what: the rim, or what is open to the room.

    A hole under water is open to the floor already, which the rule plugged tells.
    """
    found = [(model.tank.height, f"the rim of {model.tank_name}")]
    found += [
        (hole.at[2] - hole.diameter / 2.0, f"the open hole {hole.name}")
        for hole in model.tank.holes.values()
        if not hole.bulkhead and not hole.plugged
    ]
    for part in pipework(model).parts:
        ends = [mouth for mouth in part.mouths if mouth.kind == "bulkhead" and not mouth.vessel]
        for mouth in part.mouths:
            if mouth.vessel == model.tank_name and ends and (way := part.way(mouth.node, ends[0].node)):
                hole = ends[0].body.removeprefix(f"{model.tank_name}.")
                found.append((way.crest()[0], f"the open bulkhead {hole}"))
    over = (one for one in found if one[0] > model.waterline or one is found[0])
    return min(over, key=lambda one: one[0])


def _socks(model: Model, drains: tuple[GravityDrain, ...]) -> list[Sock]:
    found: dict[str, Sock] = {}
    for built in model.filter_baskets:
        low, high = built.bodies[0].solid.bounds
        for drain in drains:
            x, y, z = drain.outlet.at
            inside = low[0] <= x <= high[0] and low[1] <= y <= high[1] and z > low[2]
            if not inside or "." not in drain.outlet.vessel:
                continue
            wall, (length, width, _) = built.part.wall, built.part.size
            found[built.part.name] = Sock(
                name=built.part.name,
                compartment=drain.outlet.vessel,
                low=vector(low),
                high=vector(high),
                wall=wall,
                area=(length - 2.0 * wall) * (width - 2.0 * wall),
            )
    return list(found.values())


def in_drains(
    model: Model,
    drains: Iterable[GravityDrain],
    *,
    flow: Band | None,
    level: float,
    sump_levels: Mapping[str, float],
) -> Band:
    """Return the water on its way in those of the drains that run, [m³]: a sheet down the wall, or full pipe.

    Each stretch counts once, also where drains join. ``level`` is the tank's, z [m], ``sump_levels`` those of
    compartments by 'sump.name'; a flow of None or 0 leaves all drains empty.
    """
    shares: dict[Edge, float] = {}
    for drain in drains:
        if drain.crest < level and flow is not None and flow.likely > 0.0:
            share = min(1.0, (flow.likely / (STACK * GPM * (drain.way.bore / INCH) ** (8.0 / 3.0))) ** 0.6)
            shares |= {edge: max(share, shares.get(edge, 0.0)) for edge in drain.way.edges}
    low = likely = high = 0.0
    for edge, share in shares.items():
        whole = dry_volume(model, (edge,), level, sump_levels)
        low += whole * share
        likely += whole * (share if _falls(edge.points) else 1.0)
        high += whole
    return Band(low=low, likely=likely, high=high, note="a sheet in uprights, up to full pipe")


def _falls(points: tuple[tuple[float, float, float], ...]) -> bool:
    rise = abs(points[0][2] - points[-1][2])
    return rise > 0.7 * math.dist(points[0], points[-1])
