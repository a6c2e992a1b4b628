"""The return chamber as water evaporates: what fails first, after how many days, and what a day takes."""

from __future__ import annotations

import math

import numpy as np

from layout3d.band import SETTINGS, Band
from layout3d.errors import LayoutError
from layout3d.flow.running import dripping
from layout3d.flow.water import water_of
from layout3d.model.model import Model
from layout3d.outage.circuit import Circuit, WayRound, way_round
from layout3d.outage.evaporation import evaporation
from layout3d.outage.fill_line import FirstToFail
from layout3d.outage.ledger import RunDown
from layout3d.parts.base import Vector, vector
from layout3d.pipework.waters import vessel_at
from layout3d.water.cavity import tank_cavity
from layout3d.water.remembered import kept
from layout3d.water.sump import sump_compartments

__all__ = ["chamber_devices", "chamber_run_down", "first_to_fail"]

DAY = 86400.0  # [s]
FINE = 5e-4  # a level at which holes stop is sought as finely, [m]
WET_RELIEF = 1.5  # wet wall over a plain strip, [-], at high: relief, ledges. Common practice, no source


@kept
def first_to_fail(model: Model) -> FirstToFail | None:
    """Return what fails first as the return chamber runs down.

    Holes stop dripping, heaters and mist makers stand out of the water, or a pump draws air. The pumps lift
    farther from a lower chamber, and so bring less. Levels of holes are good to ``FINE``. None for a model
    without a circuit.
    """
    found = way_round(model)
    if found is None:
        return None
    first = _pipework_fails(model, found)
    dry = [
        FirstToFail(level=top[2], words=f"{name} stands out of the water")
        for name, top in chamber_devices(model, found)
    ]
    return max((first, *dry), key=lambda fails: fails.level)


def chamber_devices(model: Model, found: WayRound) -> list[tuple[str, Vector]]:
    """Return heaters and mist makers that the return chamber's water covers, with their tops."""
    devices = []
    for built in (*model.heaters, *model.mist_makers):
        corners = np.concatenate([body.solid.vertices for body in built.bodies])
        top = vector(corners[int(np.argmax(corners[:, 2]))])
        if vessel_at(model, top) in found.sump.chamber_names and top[2] < found.chamber_level:
            devices.append((built.part.name, top))
    return devices


def _pipework_fails(model: Model, found: WayRound) -> FirstToFail:
    """Return whether holes stop dripping first or a pump draws air, and at which level."""
    air = max(found.pumps, key=lambda pump: pump.inlet[2])
    chamber = found.sump.chamber_name
    if found.draws_air >= found.chamber_level:
        return FirstToFail(level=found.draws_air, words=f"{air.name} draws air")

    def lost(level: float) -> str:
        now = dripping(model, {chamber: level})
        return next((name for name, count in whole.items() if now.get(name, 0) < count), "")

    whole = dripping(model, {chamber: found.chamber_level})
    low, high = found.draws_air, found.chamber_level
    if not any(whole.values()) or not (first := lost(low)):
        return FirstToFail(level=found.draws_air, words=f"{air.name} draws air")
    while high - low > FINE:
        middle = 0.5 * (low + high)
        if name := lost(middle):
            low, first = middle, name
        else:
            high = middle
    return FirstToFail(level=high, words=f"drip holes of {first} stop")


def chamber_run_down(model: Model, found: Circuit, first: FirstToFail) -> RunDown:
    """Return how long the return chamber lasts without a top-up."""
    area, stock = evaporating_area(model, found), found.stock
    conditions = model.scene.conditions
    try:
        low, likely, high = (
            evaporation(
                area.at(setting),
                water=conditions.water_temperature - 273.15,
                air=conditions.air_temperature - 273.15,
                humidity=conditions.humidity,
                speed=conditions.air_speed,
            )
            for setting in SETTINGS
        )
    except LayoutError as error:
        return RunDown(loss=None, daily=None, days=None, area=area, stock=stock, why_not=error.found)
    loss = Band(low=low.low, likely=likely.likely, high=high.high, note=likely.note)
    density = water_of(model).density
    daily = loss.map(lambda rate: rate * DAY / density)
    if not loss.low > 0.0:
        why = "nothing evaporates in this air"
        return RunDown(loss=loss, daily=daily, days=None, area=area, stock=stock, why_not=why)
    chamber = found.sump.chamber

    def days(level: float) -> Band:
        """Return how long the chamber lasts down to a level; all that evaporates anywhere is missing here."""
        least = chamber.volume(min(max(level, chamber.bottom), chamber.top))
        mass = max(0.0, chamber.volume(found.chamber_level) - least) * density
        return loss.map(lambda rate: mass / rate / DAY)

    sooner = first.level > found.draws_air
    return RunDown(
        loss=loss,
        daily=daily,
        days=days(found.draws_air),
        area=area,
        stock=stock,
        first=first.words if sooner else "",
        first_days=days(first.level) if sooner else None,
    )


def evaporating_area(model: Model, found: Circuit) -> Band:
    """Return the open water of tank and sump, and likely and at most the wall that drip bars wet, [m²]."""
    level = min(found.level.likely, found.spill)
    open_water = float(tank_cavity(model).surface(level)[0]) + sum(
        item.surface for item in sump_compartments(model) if item.part == found.sump.name
    )
    wall = _drip_walls(model, level)
    return Band(low=open_water, likely=open_water + wall, high=open_water + WET_RELIEF * wall)


def _drip_walls(model: Model, level: float) -> float:
    """Return the wall that drip bars in the tank keep wet, as a plain strip down to the water, [m²]."""
    total = 0.0
    for built in model.runs:
        for element in built.data.elements:
            holes = element.holes
            if len(holes) < 2 or not 0.0 <= holes[0].at[2] <= model.tank.height:
                continue
            reach = math.dist(holes[0].at, holes[-1].at)
            total += reach * max(0.0, max(hole.at[2] for hole in holes) - level)
    return total
