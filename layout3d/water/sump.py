"""Water in sumps by compartment and in overflow boxes, at the levels the scene sets."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from layout3d.model.model import Model
from layout3d.solid.shape import Points, Solid
from layout3d.water.cavity import Cavity, space_left
from layout3d.water.gauge import cavity_table, tank_table
from layout3d.water.level_table import LevelTable
from layout3d.water.remembered import kept
from layout3d.water.share import vessel_shares
from layout3d.water.standpipe import standpipe_bores

__all__ = [
    "CompartmentWater",
    "compartment_tables",
    "overflow_box_water",
    "overflow_boxes",
    "sump_compartments",
    "sump_water",
    "tank_with_boxes",
    "water_in_boxes",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class CompartmentWater:
    """Water in one compartment, called 'part.compartment', or in an overflow box, called as its part.

    ``level`` is a height in the tank's axes, [m]. ``gross``, ``net`` (pores included) and ``pores`` are
    volumes below it, [m³]; ``surface`` is the area of the free surface there, [m²].
    """

    name: str
    part: str
    level: float
    gross: float
    net: float
    pores: float
    surface: float
    cavity: Cavity


@kept
def sump_compartments(model: Model) -> tuple[CompartmentWater, ...]:
    """Return the water in each compartment of each sump, in the order of the flow; empty without a sump.

    Raises
    ------
    OutOfRange : a compartment's level above the sump's rim.
    """
    found = []
    for built in model.sumps:
        for compartment in built.data.compartments:
            name = f"{built.part.name}.{compartment.name}"
            found.append(_water_in(model, name, built.part.name, compartment.interior, compartment.water_z))
    return tuple(found)


def _water_in(
    model: Model, name: str, part: str, interior: Solid, level: float, bores: Sequence[Solid] = ()
) -> CompartmentWater:
    cavity = space_left(interior, vessel_shares(model), bores)
    gross, net, pores, surface = (
        float(figure(level)[0]) for figure in (cavity.gross, cavity.net, cavity.pores, cavity.surface)
    )
    return CompartmentWater(
        name=name,
        part=part,
        level=level,
        gross=gross,
        net=net,
        pores=pores,
        surface=surface,
        cavity=cavity,
    )


@kept
def overflow_boxes(model: Model) -> tuple[CompartmentWater, ...]:
    """Return the water in each overflow box in the tank, at its own level; empty without one."""
    return tuple(
        _water_in(
            model,
            built.part.name,
            built.part.name,
            built.data.interior,
            built.data.level,
            standpipe_bores(model, built.data.holes).solids,
        )
        for built in model.overflow_boxes
    )


def overflow_box_water(model: Model) -> float:
    """Return the water in all overflow boxes at their own levels, [m³]; 0 without one."""
    return sum((box.net for box in overflow_boxes(model)), 0.0)


def sump_water(model: Model) -> float:
    """Return the water in all sumps at the levels the scene sets, pores included, [m³]; 0 without a sump."""
    return sum((compartment.net for compartment in sump_compartments(model)), 0.0)


@kept
def compartment_tables(model: Model) -> dict[str, LevelTable]:
    """Return the net water by level, a height in the tank's axes, of each compartment and overflow box.

    By 'part.compartment', and by the name of the box.
    """
    vessels = (*sump_compartments(model), *overflow_boxes(model))
    return {item.name: cavity_table(item.cavity, item.name) for item in vessels}


def water_in_boxes(model: Model, levels: Points) -> Points:
    """Return what overflow boxes hold where the tank's water is at ``levels``, both (k,): [m], [m³].

    They are full where it is over them, and as full as their own level has it where not.
    """
    held = np.zeros(len(levels))
    for built, box in zip(model.overflow_boxes, overflow_boxes(model), strict=True):
        full = compartment_tables(model)[box.name].volumes[-1]
        held += np.where(levels > built.data.rim, full, box.net)
    return held


def tank_with_boxes(model: Model) -> LevelTable:
    """Return the net water by level of the tank and its overflow boxes, as ``water_in_boxes``."""
    tank = tank_table(model)
    rims = {rim + past for rim in (built.data.rim for built in model.overflow_boxes) for past in (0.0, 1e-6)}
    levels = np.array(sorted({*tank.levels, *(rim for rim in rims if rim < tank.top)}))
    volumes = np.array([tank.volume(level) for level in levels]) + water_in_boxes(model, levels)
    return LevelTable(levels=tuple(levels.tolist()), volumes=tuple(volumes.tolist()), name=tank.name)
