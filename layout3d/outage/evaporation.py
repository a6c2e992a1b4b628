"""Water that leaves an open surface to the air of the room, by two published methods, as a range.

For water open to the room. Under a lid the air soon stands near the water's warmth and 80 to 95 % moist, and
what leaves is what ventilation carries off, not these rates. Wet walls, rock and falls add area: count them
in.
"""

from __future__ import annotations

import math

from layout3d.band import Band
from layout3d.guards import not_negative, within

__all__ = [
    "ACTIVITY",
    "evaporation",
    "natatorium_rate",
    "saturation_pressure",
    "still_surface_rate",
]

PRESSURE = 101325.0  # [Pa], standard atmosphere
GAS_AIR, GAS_VAPOUR = (
    287.055,
    461.52,
)  # [J/(kg K)]. Handbook values, from memory, check before relying on them
MASS_RATIO = 0.62198  # water vapour to dry air, [-]. ASHRAE Handbook Fundamentals, from memory
# share of the full rate: low 0.5, a quiet pool; high 1.0, agitated like a public pool. ASHRAE Handbook HVAC
# Applications, natatoriums, from memory. Likely 0.74: undisturbed pools measured against Carrier's rate,
# ASHRAE Transactions paper 4146 (1998), from an excerpt
ACTIVITY = Band(low=0.5, likely=0.74, high=1.0, note="activity 0.5 to 1.0 of the natatorium rate")


def saturation_pressure(temperature: float) -> float:
    """Pressure of saturated vapour over water, [Pa]; ``temperature`` in °C, 0 to 50.

    Sources
    -------
    Alduchov and Eskridge 1996, J. Appl. Meteorol. 35, 601-609: 610.94 exp(17.625 t / (t + 243.04)).

    >>> round(saturation_pressure(20.0))
    2333
    """
    within(temperature, 0.0, 50.0, "temperature", "°C", source="degrees Celsius, not kelvin")
    return 610.94 * math.exp(17.625 * temperature / (temperature + 243.04))


def natatorium_rate(water: float, air: float, humidity: float, *, speed: float = 0.1) -> float:
    """Evaporation of an agitated pool, before any activity factor.

    Parameters
    ----------
    water, air : temperatures, [°C], 0 to 50
    humidity : relative, of the air, [-], 0 to 1
    speed : of the air over the surface, [m/s], 0 to 1; 0.05 to 0.15 in a still room

    Returns
    -------
    [kg/(m² s)]; 0 where the air's vapour pressure is above the water's.

    Sources
    -------
    Carrier 1918, as in ASHRAE Handbook HVAC Applications, natatoriums: (pw - pa)(0.089 + 0.0782 V)/Y with
    p in kPa and Y = 2501 - 2.381 tw kJ/kg.
    """
    within(speed, 0.0, 1.0, "speed of the air", "m/s")
    difference = saturation_pressure(water) - _vapour(air, humidity)
    return max(0.0, difference) / 1000.0 * (0.089 + 0.0782 * speed) / (2501.0 - 2.381 * water)


def still_surface_rate(water: float, air: float, humidity: float) -> float:
    """Evaporation of an undisturbed surface in still air, [kg/(m² s)]; arguments as :func:`natatorium_rate`.

    Notes
    -----
    The larger of natural convection, 35 rho_w (rho_r - rho_w)^(1/3) (Ww - Wr), and drift, 0.00005 (pw - pr),
    in kg/(m² h); rho and W of moist air, w saturated at the water, r of the room, p in Pa.

    Sources
    -------
    Shah 2014, ASHRAE Transactions 120(2), from memory, check before relying on it.
    """
    pressure_water, pressure_room = saturation_pressure(water), _vapour(air, humidity)
    difference = pressure_water - pressure_room
    if difference <= 0.0:
        return 0.0
    density_water, density_room = _density(water, pressure_water), _density(air, pressure_room)
    lift = density_room - density_water  # below 0 nothing rises, and drift is the larger
    moister = _ratio(pressure_water) - _ratio(pressure_room)
    rising = 35.0 * density_water * math.cbrt(lift) * moister
    return max(rising, 5e-5 * difference) / 3600.0


def evaporation(area: float, *, water: float, air: float, humidity: float, speed: float = 0.1) -> Band:
    """Water lost from an open surface.

    Parameters
    ----------
    area : open and wetted surface, [m²], 0 or more
    water, air, humidity, speed : as in :func:`natatorium_rate`

    Returns
    -------
    Band, [kg/s], which is litres a second near enough: low the lesser of a quiet pool and Shah's still
    surface, high the greater of an agitated pool and Shah's. Times 86 400 for a day.

    Raises
    ------
    OutOfRange : a temperature outside 0 to 50 °C, a humidity outside 0 to 1.
    """
    not_negative(area, "wetted area", "m²")
    full = natatorium_rate(water, air, humidity, speed=speed)
    still = still_surface_rate(water, air, humidity)
    figures = [full * ACTIVITY.low, full * ACTIVITY.high, still]
    return Band(
        low=area * min(figures),
        likely=area * min(max(full * ACTIVITY.likely, min(figures)), max(figures)),
        high=area * max(figures),
        note=f"Carrier with {ACTIVITY.note}; Shah, still surface",
    )


def _vapour(temperature: float, humidity: float) -> float:
    within(humidity, 0.0, 1.0, "relative humidity", "", source="a share, not per cent")
    return humidity * saturation_pressure(temperature)


def _ratio(vapour: float) -> float:
    """Mass of vapour to dry air, [-]."""
    return MASS_RATIO * vapour / (PRESSURE - vapour)


def _density(temperature: float, vapour: float) -> float:
    """Density of moist air, [kg/m³]."""
    kelvin = temperature + 273.15
    return (PRESSURE - vapour) / (GAS_AIR * kelvin) + vapour / (GAS_VAPOUR * kelvin)
