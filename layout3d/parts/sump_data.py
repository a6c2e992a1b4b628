"""What a built sump tells the others: its compartments from inlet to return, and the baffles between."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from layout3d.parts.base import Vector

if TYPE_CHECKING:
    from layout3d.solid.shape import Solid

__all__ = ["Compartment", "SumpData"]

ROUNDING = 1e-7  # how far a point on a wall may be past it, [m]
ON_FLOOR = 1e-6  # what stands on a floor may be so far below it by rounding, [m]


@dataclass(frozen=True, slots=True, kw_only=True)
class Compartment:
    """One compartment, a box from ``low`` to ``high``, in the tank's axes, [m].

    ``level`` is the height of its water over the sump's floor as the scene sets it. ``baffle_height`` and
    ``baffle_gap`` are those of the baffle at its end, over the floor (0 and 0 at the last one: none).
    """

    name: str
    interior: Solid
    low: Vector
    high: Vector
    level: float
    baffle_height: float
    baffle_gap: float

    def lies_under(self, point: Vector) -> bool:
        """Tell whether a point lies in its plan and not below its floor, at any height."""
        return _lies_under(self.interior, point)

    @property
    def water_z(self) -> float:
        """Return the height of its water in the tank's axes, [m]."""
        return self.low[2] + self.level


@dataclass(frozen=True, slots=True, kw_only=True)
class SumpData:
    """A built sump; ``floor`` and ``rim`` are heights in the tank's axes, [m]."""

    compartments: tuple[Compartment, ...]
    interior: Solid
    floor: float
    rim: float

    def lies_under(self, point: Vector) -> bool:
        """Tell whether a point lies in its plan and not below its floor, at any height."""
        return _lies_under(self.interior, point)

    @property
    def return_chamber(self) -> Compartment:
        """Return the last compartment, which the return pump draws from."""
        return self.compartments[-1]


def _lies_under(interior: Solid, point: Vector) -> bool:
    """Hold a point against a box in the box's own axes: a sump may be turned."""
    x, y, z = interior.placement.inverse().apply(point)
    low, high = interior.shape.bounds
    in_plan = low[0] - ROUNDING <= x <= high[0] + ROUNDING and low[1] - ROUNDING <= y <= high[1] + ROUNDING
    return bool(in_plan and z >= low[2] - ON_FLOOR)
