"""Which open water a point lies in or over: the tank's, a sump compartment's, or none."""

from __future__ import annotations

from layout3d.model.model import Model
from layout3d.parts.base import Vector
from layout3d.parts.sump_data import SumpData

__all__ = ["water_at_point"]


def water_at_point(model: Model, point: Vector) -> tuple[str, float] | None:
    """Return the name and level of the water whose plan a point lies in, or over; None in the room."""
    tank = model.tank
    if point[2] > -1e-6 and _over(point, tank.low, tank.high):
        return model.tank_name, model.waterline
    for built in model.of_kind("sump"):
        data = built.data
        assert isinstance(data, SumpData), "a sump builds its data (water_at_point)"
        for compartment in data.compartments:
            if (
                _over(point, compartment.low, compartment.high)
                and data.floor - 1e-6 <= point[2] <= data.rim + 1.0
            ):
                return f"{built.part.name}.{compartment.name}", compartment.water_z
    return None


def _over(point: Vector, low: Vector, high: Vector) -> bool:
    """Tell whether a point lies in the plan of a box."""
    return all(a - 1e-9 <= p <= b + 1e-9 for p, a, b in zip(point[:2], low[:2], high[:2], strict=True))
