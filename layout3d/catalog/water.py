"""Fresh water by temperature, at one atmosphere. No salt, no ice, no steam."""

from __future__ import annotations

from layout3d.errors import OutOfRange

__all__ = ["water_density", "water_viscosity"]


def _in_range(celsius: float, low: float, high: float, what: str) -> None:
    if not low <= celsius <= high:
        raise OutOfRange(
            f"{what} of water was asked for at {celsius:g} °C",
            expected=f"{low:g} to {high:g} °C",
            remedy="give the water's temperature in degrees Celsius",
        )


def water_density(celsius: float) -> float:
    """Density of air-free fresh water.

    Parameters
    ----------
    celsius : temperature, [°C], 0 to 40

    Returns
    -------
    Density, [kg/m³], at 101.325 kPa.

    Raises
    ------
    OutOfRange : outside 0 to 40 °C, where the formula was never fitted.

    Sources
    -------
    Tanaka et al., Recommended table for the density of water, Metrologia 38 (2001) 301-309, eq. 1.

    Examples
    --------
    >>> round(water_density(25.0), 2)
    997.05
    """
    _in_range(celsius, 0.0, 40.0, "density")
    shifted = (celsius - 3.983035) ** 2 * (celsius + 301.797)
    return 999.974950 * (1.0 - shifted / (522528.9 * (celsius + 69.34881)))


def water_viscosity(celsius: float) -> float:
    """Dynamic viscosity of fresh water.

    Parameters
    ----------
    celsius : temperature, [°C], 0 to 100

    Returns
    -------
    Dynamic viscosity, [Pa s], at 0.1 MPa; within 1 %.

    Raises
    ------
    OutOfRange : outside 0 to 100 °C.

    Sources
    -------
    IAPWS SR6-08, thermodynamic properties of liquid water at 0.1 MPa, viscosity equation.

    Examples
    --------
    >>> round(1e3 * water_viscosity(20.0), 4)
    1.0016
    """
    _in_range(celsius, 0.0, 100.0, "viscosity")
    ratio = (celsius + 273.15) / 300.0
    terms = ((280.68, -1.9), (511.45, -7.7), (61.131, -19.6), (0.45903, -40.0))
    return float(1e-6 * sum(factor * ratio**power for factor, power in terms))
