"""The return chamber as water evaporates: how many days until a pump draws air, and what a day takes."""

from __future__ import annotations

import math

from layout3d.band import SETTINGS, Band
from layout3d.errors import LayoutError
from layout3d.flow.overflow import water_of_scene
from layout3d.model.model import Model
from layout3d.outage.circuit import Circuit
from layout3d.outage.drain_back import Body
from layout3d.outage.evaporation import evaporation
from layout3d.outage.failures import run_down
from layout3d.outage.flood_data import RunDown
from layout3d.water.cavity import tank_cavity
from layout3d.water.sump import sump_compartments

__all__ = ["DAY", "chamber_run_down"]

DAY = 86400.0  # [s]
WET_RELIEF = 1.5  # wet wall over a plain strip, [-], at high: relief, ledges. Common practice, no source


def chamber_run_down(model: Model, found: Circuit) -> RunDown:
    """Return how long the return chamber lasts without a top-up."""
    level = min(found.level.likely, found.spill)
    open_water = float(tank_cavity(model).surface(level)[0]) + sum(
        item.surface for item in sump_compartments(model) if item.part == found.sump.name
    )
    wall = _drip_walls(model, level)
    area = Band(low=open_water, likely=open_water + wall, high=open_water + WET_RELIEF * wall)
    stock = found.stock
    conditions = model.scene.conditions
    try:
        bands = {
            setting: evaporation(
                area.at(setting),
                water=conditions.water_temperature - 273.15,
                air=conditions.air_temperature - 273.15,
                humidity=conditions.humidity,
                speed=conditions.air_speed,
            )
            for setting in SETTINGS
        }
    except LayoutError as error:
        return RunDown(loss=None, daily=None, days=None, area=area, stock=stock, why_not=error.found)
    loss = Band(
        low=bands["low"].low,
        likely=bands["likely"].likely,
        high=bands["high"].high,
        note=bands["likely"].note,
    )
    density = water_of_scene(model).density
    daily = loss.map(lambda rate: rate * DAY / density)
    if not loss.low > 0.0:
        return RunDown(
            loss=loss,
            daily=daily,
            days=None,
            area=area,
            stock=stock,
            why_not="nothing evaporates in this air",
        )
    chamber = Body(
        name="chamber",
        table=found.sump.chamber,
        level=found.chamber_level,
        rim=found.sump.chamber.top,
    )
    suction = min(max(found.draws_air, found.sump.chamber.bottom), found.sump.chamber.top)
    days = run_down(chamber, suction=suction, loss=loss, density=density).map(lambda time: time / DAY)
    return RunDown(loss=loss, daily=daily, days=days, area=area, stock=stock)


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
