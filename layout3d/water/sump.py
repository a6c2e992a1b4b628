"""Water in the sump by compartment, at the levels the scene sets. What stands under baffles is left out."""

from __future__ import annotations

from dataclasses import dataclass

from layout3d.model.model import Model
from layout3d.water.cavity import Cavity, space_left
from layout3d.water.gauge import cavity_table
from layout3d.water.kept import kept
from layout3d.water.level_table import LevelTable
from layout3d.water.share import shares

__all__ = ["CompartmentWater", "compartment_tables", "sump_compartments", "sump_water"]


@dataclass(frozen=True, slots=True, kw_only=True)
class CompartmentWater:
    """Water in one compartment. ``name`` is 'part.compartment', ``level`` a height in the tank's axes, [m].

    ``gross``, ``net`` (pores included) and ``pores`` are volumes below the level, [m³]; ``surface`` is
    the area of the free surface there, [m²].
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
            cavity = space_left(compartment.interior, shares(model))
            level = compartment.water_z
            gross, net, pores, surface = (
                float(figure(level)[0]) for figure in (cavity.gross, cavity.net, cavity.pores, cavity.surface)
            )
            found.append(
                CompartmentWater(
                    name=f"{built.part.name}.{compartment.name}",
                    part=built.part.name,
                    level=level,
                    gross=gross,
                    net=net,
                    pores=pores,
                    surface=surface,
                    cavity=cavity,
                )
            )
    return tuple(found)


def sump_water(model: Model) -> float:
    """Return the water in all sumps at the levels the scene sets, pores included, [m³]; 0 without a sump."""
    return sum((compartment.net for compartment in sump_compartments(model)), 0.0)


@kept
def compartment_tables(model: Model) -> dict[str, LevelTable]:
    """Return each compartment's net water by level, a height in the tank's axes; by 'part.compartment'."""
    return {item.name: cavity_table(item.cavity, item.name) for item in sump_compartments(model)}
