"""Which open water a point lies in or over: the tank's, a sump compartment's, or none."""

from __future__ import annotations

from layout3d.model.model import Model
from layout3d.parts.base import Built, Part, Vector
from layout3d.parts.vessel import SumpData

__all__ = ["set_levels", "sump_at", "vessel_at", "water_at_point", "whole_vessel"]


def water_at_point(model: Model, point: Vector) -> tuple[str, float] | None:
    """Return the name and level of the water whose plan a point lies in, or over; None above a sump's rim."""
    if model.tank.holds(point):
        return model.tank_name, model.waterline
    found = sump_at(model, point)
    if found is None or not found[2] or point[2] > found[1].rim:
        return None
    vessel = f"{found[0].part.name}.{found[2]}"
    return vessel, set_levels(model)[vessel]


def set_levels(model: Model) -> dict[str, float]:
    """Return the levels that the scene sets in its sumps, by 'sump.compartment', z [m]."""
    return {
        f"{built.part.name}.{one.name}": one.water_z
        for built in model.sumps
        for one in built.data.compartments
    }


def vessel_at(model: Model, point: Vector) -> str:
    """Return the vessel that a point lies in or over: the tank, 'sump.compartment', a sump; '' for none."""
    if model.tank.holds(point):
        return model.tank_name
    found = sump_at(model, point)
    if found is None:
        return ""
    built, _, compartment = found
    return f"{built.part.name}.{compartment}" if compartment else built.part.name


def whole_vessel(vessel: str) -> str:
    """Return the tank or the sump that a vessel is or is a compartment of; '' for none."""
    return vessel.partition(".")[0]


def sump_at(model: Model, point: Vector) -> tuple[Built[Part, object], SumpData, str] | None:
    """Return the sump over or in whose plan a point lies, its data, and the compartment or ''."""
    for built in model.sumps:
        sump = built.data
        if sump.holds(point):
            names = [one.name for one in sump.compartments if one.holds(point)]
            return built, sump, names[0] if names else ""
    return None
