"""What a built sump tells the others: its compartments from inlet to return, and the baffles between."""

from __future__ import annotations

from dataclasses import dataclass

from layout3d.parts.vessel import Vessel

__all__ = ["Compartment", "SumpData"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Compartment(Vessel):
    """One compartment of a sump.

    ``level`` is the height of its water over the sump's floor as the scene sets it. ``baffle_height`` and
    ``baffle_gap`` are those of the baffle at its end, over the floor (0 and 0 at the last one: none).
    """

    name: str
    level: float
    baffle_height: float
    baffle_gap: float

    @property
    def water_z(self) -> float:
        """Return the height of its water in the tank's axes, [m]."""
        return self.floor + self.level


@dataclass(frozen=True, slots=True, kw_only=True)
class SumpData(Vessel):
    """A built sump."""

    compartments: tuple[Compartment, ...]

    @property
    def return_chamber(self) -> Compartment:
        """Return the last compartment, which the return pump draws from."""
        return self.compartments[-1]
