"""Friction head in full pipes. Water only; no air, no part-full drains (see ``flow.drain``), no fittings."""

from __future__ import annotations

import math
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from layout3d.errors import OutOfRange
from layout3d.guards import ROUNDING, above_zero, not_negative
from layout3d.units import GRAVITY

__all__ = [
    "DEFAULT_ROUGHNESS",
    "LAMINAR_LIMIT",
    "TURBULENT_LIMIT",
    "friction_head",
]

Floats: TypeAlias = NDArray[np.float64] | np.float64

LAMINAR_LIMIT = 2000.0  # Reynolds number, [-]. Below it 64/Re; as EPANET 2.2 manual, sec. 12.1
TURBULENT_LIMIT = 4000.0  # Reynolds number, [-]. Above it Colebrook; as EPANET 2.2 manual, sec. 12.1
ROUGHNESS_LIMIT = 0.05  # relative, [-]. Moody 1944, Trans. ASME 66, 671-684: the chart ends there
DEFAULT_ROUGHNESS = 1.5e-6  # [m], drawn tubing and plastic. Moody 1944, as quoted in handbooks, from memory
VISCOSITY_AT_20 = 1.0034e-6  # [m²/s], kinematic, 20 °C. IAPWS-95 and IAPWS 2008


def friction_head(
    flow: float,
    length: float,
    *,
    inside_diameter: float,
    roughness: float = DEFAULT_ROUGHNESS,
    viscosity: float = VISCOSITY_AT_20,
) -> float:
    """Head lost to wall friction along a straight, full pipe.

    Parameters
    ----------
    flow : volume flow, [m³/s], 0 or more
    length : [m], 0 or more
    inside_diameter : [m], above 0
    roughness : absolute, [m]; 1.5e-6 for drawn plastic
    viscosity : kinematic, [m²/s]; the default is water at 20 °C

    Returns
    -------
    Head, [m of the fluid]; 0.0 where flow or length is 0.

    Raises
    ------
    OutOfRange : a negative flow or length; relative roughness above 0.05.

    Notes
    -----
    Darcy-Weisbach: f (L/D) V²/2g, with f as in :func:`factor_and_slope`.

    Sources
    -------
    White, Fluid Mechanics, 4th ed., eq. 6.10 and 6.64.
    """
    not_negative(flow, "flow", "m³/s")
    not_negative(length, "length", "m")
    above_zero(inside_diameter, "inside diameter", "m")
    above_zero(viscosity, "kinematic viscosity", "m²/s")
    relative = not_negative(roughness, "roughness", "m") / inside_diameter
    if relative > ROUGHNESS_LIMIT * (1.0 + ROUNDING):
        raise OutOfRange(
            f"relative roughness is {relative:g}, outside 0 to {ROUGHNESS_LIMIT:g}",
            expected="roughness of at most a twentieth of the bore (Moody 1944)",
            remedy="check the units of roughness, or the bore",
        )
    bore, rough = np.float64(inside_diameter), np.float64(roughness)
    return float(head_and_slope(np.float64(flow), np.float64(length), bore, rough, viscosity)[0])


def factor_and_slope(reynolds: Floats, relative_roughness: Floats) -> tuple[Floats, Floats]:
    """Darcy factor (four times Fanning's) and d(ln f)/d(ln Re) of arrays alike, unchecked: for inner loops.

    Notes
    -----
    64/Re to Re 2000, the Colebrook equation (solved exactly) from Re 4000. Between them the real flow is
    unsettled; a cubic in log f over log Re joins the two with their own slopes, so that head loss rises
    smoothly with flow. There the factor may be off by half.

    Sources
    -------
    Colebrook 1939, J. ICE 11(4), 133-156. White, Fluid Mechanics, 4th ed., eq. 6.64.

    >>> round(float(factor_and_slope(np.float64(15256.0), np.float64(5.6e-5))[0]), 4)
    0.0278
    """
    right, right_slope = _colebrook(np.maximum(reynolds, TURBULENT_LIMIT), relative_roughness)
    span = math.log(TURBULENT_LIMIT / LAMINAR_LIMIT)
    t = np.clip(np.log(reynolds / LAMINAR_LIMIT) / span, 0.0, 1.0)
    y0, y1 = math.log(64.0 / LAMINAR_LIMIT), np.log(right)
    m0, m1 = -1.0 * span, right_slope * span
    # cubic Hermite in log-log; its steepest fall is the -1 of the laminar end, so head still rises with flow
    c = 3.0 * (y1 - y0) - 2.0 * m0 - m1
    d = 2.0 * (y0 - y1) + m0 + m1
    joined, bend = np.exp(y0 + t * (m0 + t * (c + t * d))), (m0 + t * (2.0 * c + 3.0 * t * d)) / span
    laminar, turbulent = reynolds <= LAMINAR_LIMIT, reynolds >= TURBULENT_LIMIT
    factor = np.where(laminar, 64.0 / reynolds, np.where(turbulent, right, joined))
    return factor, np.where(laminar, -1.0, np.where(turbulent, right_slope, bend))


def head_and_slope(
    flow: Floats, length: Floats, bore: Floats, roughness: Floats, viscosity: float
) -> tuple[Floats, Floats]:
    """Friction head [m] and its rise with flow [m/(m³/s)] of arrays alike, unchecked; flows 0 or more."""
    # at rest the slope is Hagen-Poiseuille's, which a trickle has as well
    moving = np.maximum(flow, 1e-15)
    velocity = moving / (0.25 * math.pi * bore * bore)
    factor, bend = factor_and_slope(velocity * bore / viscosity, roughness / bore)
    head = factor * length / bore * velocity * velocity / (2.0 * GRAVITY)
    return np.where(flow > 0.0, head, 0.0), (2.0 + bend) * head / moving


def _colebrook(reynolds: Floats, relative_roughness: Floats) -> tuple[Floats, Floats]:
    """Solve the Colebrook equation in x = 1/sqrt(f): three of Newton's steps from Swamee and Jain's guess."""
    rough, speed = relative_roughness / 3.7, 2.51 / reynolds
    x = -2.0 * np.log10(rough + 5.74 / reynolds**0.9)
    for _ in range(3):
        inside = rough + speed * x
        x = x - (x + 2.0 * np.log10(inside)) / (1.0 + 2.0 / math.log(10.0) * speed / inside)
    share = 2.0 / math.log(10.0) * speed
    return 1.0 / (x * x), -2.0 * share / (rough + speed * x + share)
