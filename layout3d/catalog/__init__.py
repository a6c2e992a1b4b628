"""Sizes, materials, limits and pumps, each figure with its source. Data in YAML, entries in SI."""

from layout3d.catalog.catalog import Catalog, default
from layout3d.catalog.entry import Bulkhead, Limit, Material, Pipe, Pump, Tube
from layout3d.catalog.own import OWN_FIELDS
from layout3d.catalog.water import water_density, water_viscosity

__all__ = [
    "OWN_FIELDS",
    "Bulkhead",
    "Catalog",
    "Limit",
    "Material",
    "Pipe",
    "Pump",
    "Tube",
    "default",
    "water_density",
    "water_viscosity",
]
