"""Water in sumps by compartment and in overflow boxes, at the levels the scene sets."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from layout3d.model.model import Model
from layout3d.parts.base import vector
from layout3d.parts.vessel import SumpData
from layout3d.solid.shape import Placement, Points, Solid
from layout3d.water.cavity import Cavity, space_left
from layout3d.water.gauge import cavity_table, tank_table
from layout3d.water.level_table import LevelTable
from layout3d.water.remembered import kept
from layout3d.water.share import box_shares, reaches_into, share_out
from layout3d.water.standpipe import standpipe_bores

__all__ = [
    "CompartmentWater",
    "compartment_tables",
    "overflow_box_water",
    "overflow_boxes",
    "sump_compartments",
    "sump_space",
    "sump_water",
    "tank_with_boxes",
    "water_in_boxes",
]

ROUNDED = 12  # decimals of a place, [m]


@dataclass(frozen=True, slots=True, kw_only=True)
class CompartmentWater:
    """Water in one compartment, called 'part.compartment', or in an overflow box, called as its part.

    ``level`` is a height in the tank's axes, [m]. ``gross``, ``net`` (pores included) and ``pores`` are
    volumes below it, [m³]; ``surface`` is the area of the free surface there, [m²]. The ``cavity`` of a
    compartment stands as ``sump_space`` has it.
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
            space = sump_space(model, built.data, compartment.interior)
            found.append(_water_in(space, name, built.part.name, compartment.water_z))
    return tuple(found)


def sump_space(model: Model, sump: SumpData, inside: Solid) -> Cavity:
    """Return what bodies leave of a space in a sump, all of it moved in plan with the sump to the origin.

    So it is known wherever the sump goes with what is in it, places rounded to a billionth of a millimetre.
    """
    (x, y, _), (low, high) = sump.low, inside.bounds

    def moved(solid: Solid) -> Solid:
        there = solid.moved(Placement.at((-x, -y, 0.0))).placement
        return solid.shape.solid(Placement(there.rotation, there.offset.round(ROUNDED) + 0.0))

    bodies = [
        replace(body, solid=moved(body.solid), uncut=body.uncut and moved(body.uncut), rough=None)
        for body in model.near(vector(low), vector(high))
        if reaches_into(body.solid, inside)
    ]
    return space_left(moved(inside), share_out(bodies, apart=model.cut_apart))


def _water_in(cavity: Cavity, name: str, part: str, level: float) -> CompartmentWater:
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
            space_left(
                built.data.interior, box_shares(model), standpipe_bores(model, built.data.holes).solids
            ),
            built.part.name,
            built.part.name,
            built.data.level,
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
