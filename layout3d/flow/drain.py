"""Gravity drains: what a pipe carries open, as a siphon, and part full on a slope; where a path holds water.

Open (annular) flow is the safe figure. A drain running full carries several times as much, starts and stops
by itself, and is never counted on. Left out: venting, foam, what a fitting does to a falling sheet of water.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from layout3d.band import SETTINGS, Band
from layout3d.errors import NotPossible, OutOfRange
from layout3d.fittings.losses import NO_LOSS, Loss
from layout3d.flow.pipe import DEFAULT_ROUGHNESS, friction_head
from layout3d.flow.roots import root
from layout3d.flow.water import Water, water_at
from layout3d.guards import above_zero, finite, not_negative, within
from layout3d.units import GRAVITY

__all__ = [
    "AIR_NOTE",
    "MANNING",
    "DrainCapacity",
    "Trap",
    "drain_capacity",
    "part_full_depth",
    "part_full_flow",
    "siphon_flow",
    "stack_flow",
    "traps",
]

GPM = 6.30902e-5  # [m³/s], US gallon a minute
INCH = 0.0254
# Wyly and Eaton 1961, NBS Monograph 31: gpm = 27.8 r^(5/3) D^(8/3), D in inches, r the share of the section
# filled
STACK = 27.8
STACK_FILL = Band(
    low=1 / 4, likely=7 / 24, high=1 / 3, note="share of the section filled, Wyly and Eaton 1961"
)
# smallest bore told without widening; the stacks of that work were larger. From memory, check before
# relying on it
STACK_BORE = 0.031  # [m]
NARROW_SHARE = 0.5  # what is taken off below it. Common practice, no source
# Manning's n of PVC, [s/m^(1/3)]: clean, design, and as codes often have it. Handbook values
MANNING = Band(low=0.009, likely=0.010, high=0.013, note="Manning's n of PVC: clean, design, codes")
AIR_NOTE = (
    "between open and full a drain draws air in plugs, gulps and roars, and its flow swings; keep it well "
    "under the open figure, or throttle it full under water with an open emergency drain beside it"
)
FULLEST = 0.938  # depth over bore at which a round pipe carries most, [-]. Closed form of Manning's formula


@dataclass(frozen=True, slots=True, kw_only=True)
class DrainCapacity:
    """What a vertical drain carries, [m³/s]: ``open_flow`` to rely on, ``siphon`` never, and why."""

    open_flow: Band
    siphon: Band
    note: str = AIR_NOTE


@dataclass(frozen=True, slots=True, kw_only=True)
class Trap:
    """A stretch of a drain that rises: it holds water ``depth`` deep over its lowest point, ``at`` (x, y, z).

    ``sealed`` where it is deep enough to fill the bore: no air passes, and the drain can't run open.
    """

    first: int
    last: int
    at: tuple[float, float, float]
    depth: float
    sealed: bool


def stack_flow(bore: float) -> Band:
    """Open flow of a vertical drain: a sheet of water down the wall round a core of air.

    Parameters
    ----------
    bore : true inside diameter, [m]

    Returns
    -------
    Band, [m³/s]: the section 1/4, 7/24 and 1/3 filled. Under 31 mm, where the formula was not tried, low is
    half of it and the note says so.

    Sources
    -------
    Wyly and Eaton 1961, Capacities of stacks in sanitary drainage systems, NBS Monograph 31.
    """
    size = above_zero(bore, "bore of the drain", "m") / INCH
    flow = STACK_FILL.map(lambda share: STACK * share ** (5.0 / 3.0) * size ** (8.0 / 3.0) * GPM)
    if bore >= STACK_BORE:
        return flow
    tried = f"{STACK_BORE * 1000:g} mm"
    note = f"bore {bore * 1000:.1f} mm under {tried}: not tried by Wyly and Eaton, low is halved"
    return Band(low=flow.low * NARROW_SHARE, likely=flow.likely, high=flow.high, note=note)


def siphon_flow(
    bore: float,
    drop: float,
    length: float,
    *,
    loss: Loss = NO_LOSS,
    roughness: float = DEFAULT_ROUGHNESS,
    water: Water | None = None,
) -> Band:
    """Flow of a drain that runs full, or of a siphon hose, from level to level.

    Parameters
    ----------
    bore, length : of the pipe, [m]
    drop : from the water it starts in to the water (or mouth in air) it ends in, [m]; 0 or less gives none
    loss : of all fittings, entrance and exit with them, on the bore; their range makes the band
    roughness, water : as in :func:`~layout3d.flow.pipe.friction_head`; fresh water at 25 °C where None

    Returns
    -------
    Band, [m³/s]; low at the highest losses. Not a safe figure for a drain: one bubble ends it.

    Raises
    ------
    OutOfRange : neither length nor loss, so that nothing bounds the flow.
    """
    not_negative(length, "length of the drain", "m")
    if length == 0.0 and loss.low == 0.0:
        raise OutOfRange(
            "a full drain without length or loss has no bounded flow",
            remedy="count its entrance and exit losses",
        )
    area = 0.25 * math.pi * above_zero(bore, "bore of the drain", "m") ** 2
    if finite(drop, "drop of the drain", "m") <= 0.0:
        return Band.exact(0.0, "no drop")
    nu = (water or water_at()).viscosity
    flows = []
    for setting in SETTINGS:

        def miss(flow: float, coefficient: float = loss.at(setting)) -> float:
            speed = flow / area
            friction = friction_head(flow, length, inside_diameter=bore, roughness=roughness, viscosity=nu)
            fittings = (coefficient * speed + loss.laminar * nu / bore) * speed / (2.0 * GRAVITY)
            return friction + fittings - drop

        top = area
        while miss(top) < 0.0:
            top *= 2.0
        flows.append(root(miss, 0.0, top))
    return Band(
        low=flows[2], likely=flows[1], high=flows[0], note="running full, without air: not to be relied on"
    )


def drain_capacity(
    bore: float,
    drop: float,
    length: float,
    *,
    loss: Loss = NO_LOSS,
    roughness: float = DEFAULT_ROUGHNESS,
    water: Water | None = None,
) -> DrainCapacity:
    """Tell a vertical drain's open flow and its flow running full apart; arguments as :func:`siphon_flow`."""
    return DrainCapacity(
        open_flow=stack_flow(bore),
        siphon=siphon_flow(bore, drop, length, loss=loss, roughness=roughness, water=water),
    )


def part_full_flow(bore: float, slope: float, depth_share: float, *, manning: Band = MANNING) -> Band:
    """Flow of a round pipe on a slope, part full.

    Parameters
    ----------
    bore : [m]
    slope : fall over length along the pipe, [-], above 0; 0.01 to 0.04 is usual
    depth_share : depth of water over bore, [-], 0 to 1
    manning : n, [s/m^(1/3)]

    Returns
    -------
    Band, [m³/s]; low at the highest n.

    Sources
    -------
    Manning's formula by ``fluids.V_Manning``; n as in :data:`MANNING`.
    """
    above_zero(bore, "bore of the drain", "m")
    above_zero(slope, "slope of the drain", "m/m")
    within(depth_share, 0.0, 1.0, "depth over bore", "")
    above_zero(manning.low, "Manning's n", "s/m^(1/3)")
    from fluids import V_Manning

    angle = 2.0 * math.acos(max(-1.0, min(1.0, 1.0 - 2.0 * depth_share)))
    area = bore * bore * (angle - math.sin(angle)) / 8.0
    wetted = 0.5 * bore * angle
    if area <= 0.0:
        return Band.exact(0.0, "empty")
    return manning.map(lambda n: area * float(V_Manning(area / wetted, slope, n)), note=manning.note)


def part_full_depth(bore: float, slope: float, flow: float, *, manning: Band = MANNING) -> Band:
    """Depth over bore, [-], at which a sloped pipe carries ``flow`` [m³/s]: :func:`part_full_flow` inverted.

    Raises
    ------
    NotPossible : more than the pipe can carry with air over the water, at its highest n.
    """
    not_negative(flow, "flow of the drain", "m³/s")
    depths = []
    for n in (manning.low, manning.likely, manning.high):

        def miss(share: float, fixed: Band = Band.exact(n)) -> float:  # noqa: B008 - bound to this round of the loop
            return part_full_flow(bore, slope, share, manning=fixed).likely - flow

        if miss(FULLEST) < 0.0:
            raise NotPossible(
                f"{flow * 3.6e6:.4g} L/h is more than a bore of {bore * 1000:.1f} mm carries at a slope of "
                f"{slope:.1%}: {(flow + miss(FULLEST)) * 3.6e6:.4g} L/h at n {n:g}",
                remedy="use a wider pipe or a steeper slope",
            )
        depths.append(root(miss, 0.0, FULLEST))
    return Band(low=depths[0], likely=depths[1], high=depths[2], note=manning.note)


def traps(
    points: Sequence[tuple[float, float, float]], bore: float, *, allowed_rise: float = 1e-3
) -> tuple[Trap, ...]:
    """Find where a drain's path rises on its way down, and so holds water and stops air.

    Parameters
    ----------
    points : (n, 3) centre line from the intake to the mouth, [m]
    bore : [m]
    allowed_rise : smaller rises are put down to laying, [m]

    Returns
    -------
    One Trap for each low point that a rise follows; ``depth`` is what stands over it, to the lower of its
    two sides. Empty where the path falls or runs level all the way.
    """
    above_zero(bore, "bore of the drain", "m")
    path = [(finite(x, "x", "m"), finite(y, "y", "m"), finite(z, "z", "m")) for x, y, z in points]
    heights = [z for _, _, z in path]
    found: list[Trap] = []
    first = 0
    while first < len(path) - 1:
        if heights[first + 1] >= heights[first]:
            first += 1
            continue
        low = first
        while low < len(path) - 1 and heights[low + 1] <= heights[low]:
            low += 1
        last = low
        while last < len(path) - 1 and heights[last + 1] >= heights[last]:
            last += 1
        depth = min(heights[first], heights[last]) - heights[low]
        if last > low and depth > allowed_rise:
            found.append(Trap(first=first, last=last, at=path[low], depth=depth, sealed=depth >= bore))
        first = last
    return tuple(found)
