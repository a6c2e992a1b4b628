"""Properties of fresh water by temperature, near atmospheric pressure. No salt, no dissolved gas."""

from __future__ import annotations

from dataclasses import dataclass

from layout3d.catalog import water_density, water_viscosity
from layout3d.guards import within
from layout3d.model.model import Model

__all__ = ["Water", "surface_tension", "water_at", "water_of"]

ICE = 273.15  # [K], 0 °C. ISO 80000-5
RANGE = (0.0, 40.0)  # [°C], the range of the density formula, the narrowest of the three
CRITICAL_TEMPERATURE = 647.096  # [K]. IAPWS R2-83


@dataclass(frozen=True, slots=True, kw_only=True)
class Water:
    """Water at one temperature, in SI.

    temperature [°C], density [kg/m³], viscosity (kinematic) [m²/s], surface_tension [N/m].
    """

    temperature: float
    density: float
    viscosity: float
    surface_tension: float


def surface_tension(temperature: float) -> float:
    """Surface tension of clean water against air, [N/m]; ``temperature`` in °C, 0 to 40.

    Notes
    -----
    Tank water carries proteins and tannins that lower it: a hold head from this value is an upper bound.

    Sources
    -------
    IAPWS R1-76(2014); the constants from memory, checked in the tests against 0.0728 N/m at 20 °C.
    """
    below = 1.0 - (_checked(temperature) + 273.15) / CRITICAL_TEMPERATURE
    return float(0.2358 * below**1.256 * (1.0 - 0.625 * below))


def water_at(temperature: float = 25.0) -> Water:
    """Return the properties of fresh water at ``temperature`` [°C], 0 to 40.

    >>> round(water_at(20.0).viscosity * 1e6, 3)
    1.003
    """
    density = water_density(_checked(temperature))
    return Water(
        temperature=float(temperature),
        density=density,
        viscosity=water_viscosity(temperature) / density,
        surface_tension=surface_tension(temperature),
    )


def water_of(model: Model) -> Water:
    """Return the properties of a scene's water, at its temperature."""
    return water_at(model.scene.conditions.water_temperature - ICE)


def _checked(temperature: float) -> float:
    return within(temperature, *RANGE, "water temperature", "°C", source="degrees Celsius, not kelvin")
