"""Sizes, materials, limits and pumps, each figure with its source. Data in YAML, entries in SI."""

from layout3d.catalog.catalog import Catalog, default
from layout3d.catalog.entry import Bulkhead, FittingSize, Limit, Material, Pipe, Pump, Tube
from layout3d.catalog.fitting import FITTING_KINDS, barb_size, fitting_size
from layout3d.catalog.own import OWN_FIELDS
from layout3d.catalog.water import water_density, water_kinematic_viscosity, water_viscosity

__all__ = [
    "FITTING_KINDS",
    "OWN_FIELDS",
    "Bulkhead",
    "Catalog",
    "FittingSize",
    "Limit",
    "Material",
    "Pipe",
    "Pump",
    "Tube",
    "barb_size",
    "default",
    "fitting_size",
    "water_density",
    "water_kinematic_viscosity",
    "water_viscosity",
]
