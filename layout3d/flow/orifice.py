"""Flow through a round hole, into air or under water. No pipe before it (see ``flow.drip_bar``)."""

from __future__ import annotations

import math
from itertools import pairwise

from layout3d.band import Band
from layout3d.errors import OutOfRange
from layout3d.flow.water import Water, water_at
from layout3d.guards import ROUNDING, above_zero, not_negative
from layout3d.units import GRAVITY

__all__ = [
    "UNKNOWN_WALL",
    "hold_head",
    "hole_coefficient",
    "orifice_head",
]

# where the wall is not known; common practice, no source: from 0.55 (burr) to 0.80 (short tube)
UNKNOWN_WALL = Band(low=0.55, likely=0.62, high=0.80, note="wall unknown: common practice, no source")
# wall over diameter up to which a row holds: low, high. Sharp plate and short tube are handbook values, from
# memory, check before relying on them; between 1 and 1.5 the jet may cling or spring free, so both rows count
WALL_ROWS = ((0.5, 0.60, 0.62), (1.0, 0.60, 0.70), (1.5, 0.60, 0.80), (3.0, 0.75, 0.82))
# likely, as a line through the middles of those rows
LIKELY_POINTS = ((0.5, 0.61), (0.75, 0.65), (1.25, 0.72), (1.5, 0.78), (3.0, 0.79))
WALL_LIMIT = 3.0  # wall over diameter, [-]; beyond it friction in the hole counts


def hole_coefficient(diameter: float, wall: float | None = None) -> Band:
    """Discharge coefficient of a clean drilled hole, by how thick its wall is.

    Parameters
    ----------
    diameter : [m], above 0
    wall : thickness the hole goes through, [m]; None where it is not known

    Returns
    -------
    Band, [-]. A burr on the inside can take it down to 0.5: deburr, and measure with a bucket and a watch.

    Raises
    ------
    OutOfRange : a wall above three diameters, where no figure is known.

    >>> hole_coefficient(0.006, 0.002).likely
    0.61
    """
    above_zero(diameter, "hole diameter", "m")
    if wall is None:
        return UNKNOWN_WALL
    ratio = not_negative(wall, "wall", "m") / diameter
    if ratio > WALL_LIMIT * (1.0 + ROUNDING):
        raise OutOfRange(
            f"the wall is {ratio:.1f} hole diameters thick, above {WALL_LIMIT:g}",
            expected="a wall of at most three hole diameters",
            remedy="drill larger holes, counterbore them from outside, or give a measured coefficient",
        )
    low, high = next((low, high) for limit, low, high in WALL_ROWS if ratio <= limit * (1.0 + ROUNDING))
    likely = LIKELY_POINTS[0][1]
    for (x0, y0), (x1, y1) in pairwise(LIKELY_POINTS):
        if ratio >= x0:
            likely = y0 + (y1 - y0) * min(1.0, (ratio - x0) / (x1 - x0))
    return Band(
        low=low,
        likely=likely,
        high=high,
        note=f"wall {ratio:.2f} diameters: sharp plate to short tube, handbook values, from memory",
    )


def orifice_head(diameter: float, flow: float, *, coefficient: float = 0.62) -> float:
    """Head [m] over a round hole that passes ``flow`` [m³/s] into air: Q = C A sqrt(2 g h).

    Surface tension is left out (see :func:`hold_head`).

    Sources
    -------
    White, Fluid Mechanics, 4th ed., sec. 3.7 (Torricelli); coefficients as in :func:`hole_coefficient`.
    """
    area = 0.25 * math.pi * above_zero(diameter, "hole diameter", "m") ** 2
    speed = not_negative(flow, "flow", "m³/s") / (above_zero(coefficient, "discharge coefficient", "") * area)
    return speed * speed / (2.0 * GRAVITY)


def hold_head(diameter: float, *, water: Water | None = None) -> float:
    """Head [m] below which surface tension keeps a drop in the hole: 4 σ / (ρ g d).

    An upper bound: tank water, algae and a wetted rim lower it.

    >>> round(hold_head(0.002, water=water_at(20.0)) * 1000)
    15
    """
    state = water or water_at()
    return (
        4.0 * state.surface_tension / (state.density * GRAVITY * above_zero(diameter, "hole diameter", "m"))
    )
