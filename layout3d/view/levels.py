"""Where the water stands after each failure, for the water that is drawn. Computed in ``outage``."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from layout3d.draw.pieces import WaterBody
from layout3d.errors import LayoutError
from layout3d.model.model import Model
from layout3d.outage.ledger import Event, Outages
from layout3d.outage.outages import outages, water_levels
from layout3d.units import show
from layout3d.water.level_table import LevelTable
from layout3d.water.sump import tank_with_boxes

__all__ = ["Stand", "poured", "stands_of", "table_of"]


@dataclass(frozen=True, slots=True)
class Stand:
    """Water after a failure: its name, how high each water stands as ``poured`` takes it, and in words."""

    name: str
    levels: Mapping[str, float]
    told: str


def stands_of(model: Model) -> tuple[Stand, ...]:
    """Return where the water stands after each failure, likely and at most; () where none is figured."""
    try:
        found = outages(model)
    except LayoutError:
        return ()  # the figures tell it
    if found is None:
        return ()
    return tuple(stand for event in found.events for stand in _stands(model, found, event))


def _stands(model: Model, found: Outages, event: Event) -> Iterator[Stand]:
    name = " · ".join(word for word in (event.kind, event.subject, event.devices) if word)
    most = max((1, 0, 2), key=event.moves.__getitem__)
    for words, number in (("likely", 1), ("at most", most)):
        levels, floor = water_levels(found, event, number), event.after.floor[number]
        chamber = event.chamber_levels[number] - found.circuit.sump.floor
        in_tank, in_chamber = (show(one, "length", system=model.scene.style) for one in (levels[""], chamber))
        told = f"tank {in_tank}, return chamber {in_chamber} over its floor"
        if floor > 1e-6:
            told += f", {show(floor, 'volume', system=model.scene.style)} on the floor"
        yield Stand(f"{name}, {words}", levels, told)


def poured(waters: Sequence[WaterBody], levels: Mapping[str, float]) -> tuple[WaterBody, ...]:
    """Return what is to be drawn of waters with some of them at other levels, z [m], by name.

    An overflow box is one water with the tank where that stands over its rim.
    """
    found = []
    for water in waters:
        level, tank = levels.get(water.name, water.level), levels.get("", 0.0)
        level = max(level, tank) if tank > water.rim else level
        if level > water.floor + 1e-4:
            found.append(replace(water, level=level))
    return tuple(found)


def table_of(model: Model) -> LevelTable | None:
    """Return the net water of tank and overflow boxes by level; None where there is none to be had."""
    try:
        return tank_with_boxes(model)
    except LayoutError:
        return None
