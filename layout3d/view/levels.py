"""Where the water stands after each failure, for the water that is drawn. Computed in ``outage``."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from layout3d.draw.pieces import WaterBody
from layout3d.errors import LayoutError
from layout3d.model.model import Model
from layout3d.outage.ledger import Event
from layout3d.outage.outages import outages
from layout3d.units import show
from layout3d.water.gauge import tank_table
from layout3d.water.level_table import LevelTable

__all__ = ["Stand", "poured", "stands_of", "table_of"]


@dataclass(frozen=True, slots=True)
class Stand:
    """Water after a failure: its name, the tank's level and the return chamber's, z [m], and in words."""

    name: str
    tank: float
    chamber: float
    told: str


def stands_of(model: Model) -> tuple[Stand, ...]:
    """Return where the water stands after each failure, likely and at most; () where none is figured."""
    try:
        found = outages(model)
    except LayoutError:
        return ()  # the figures tell it
    if found is None:
        return ()
    events = (found.power_cut, *found.failed, *found.blocked, *found.stopped)
    floor = found.circuit.sump.floor
    stands = tuple(stand for event in events for stand in _stands(event, floor, model.scene.style))
    if not model.overflow_boxes:
        return stands
    told = "; water in an overflow box is drawn as in the file, up to its rim"
    return tuple(replace(stand, told=stand.told + told) for stand in stands)


def _stands(event: Event, sump_floor: float, style: str | None) -> Sequence[Stand]:
    name = " · ".join(word for word in (event.kind, event.subject, event.devices) if word)
    rows = []
    for words, which in (("likely", "likely"), ("at most", "high")):
        tank, chamber, floor = (
            getattr(band, which) for band in (event.tank_level, event.chamber_level, event.floor)
        )
        in_tank, in_chamber = (show(level, "length", system=style) for level in (tank, chamber - sump_floor))
        told = f"tank {in_tank}, return chamber {in_chamber} over its floor"
        if floor > 1e-6:
            told += f", {show(floor, 'volume', system=style)} on the floor"
        rows.append(Stand(f"{name}, {words}", tank, chamber, told))
    return rows


def poured(waters: Sequence[WaterBody], tank: float | None, chamber: float | None) -> tuple[WaterBody, ...]:
    """Return what is to be drawn of waters with the tank's and the return chamber's at other levels, z [m].

    None leaves it at the scene's. Rooms of the sump before the return chamber stand as they do in the scene
    until that one's water rises over theirs; overflow boxes, until the tank's stands over their rims.

    Parameters
    ----------
    waters : the tank's first and the return chamber's last, as ``waters_of`` has them
    """
    found = []
    for number, water in enumerate(waters):
        level = tank if number == 0 else chamber if number == len(waters) - 1 else water.level
        level = water.level if level is None else level
        if 0 < number < len(waters) - 1 and chamber is not None:
            level = max(level, chamber)
        if number and tank is not None and tank > water.rim:
            level = max(level, tank)
        if level > water.floor + 1e-4:
            found.append(replace(water, level=level))
    return tuple(found)


def table_of(model: Model) -> LevelTable | None:
    """Return the tank's net water by level; None where there is none to be had."""
    try:
        return tank_table(model)
    except LayoutError:
        return None
