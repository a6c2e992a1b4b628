"""Open flow in round pipe: depth, energy and backwater of water with air over it. Steady, one leg at a time.

Left out: the jump where fast water meets slow, waves, air drawn along, what a bend does to the surface.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from layout3d.flow.roots import root
from layout3d.guards import above_zero, finite, not_negative, within
from layout3d.units import GRAVITY

__all__ = [
    "FULLEST",
    "Backwater",
    "Reach",
    "backwater",
    "critical_depth",
    "critical_flow",
    "depth_of_energy",
    "energy",
    "normal_depth",
    "uniform_flow",
]

FULLEST = 0.938  # depth over bore at which a round pipe carries most, [-]. Closed form of Manning's formula
BRIM = 1.0 - 1e-6  # depth over bore that counts as full, [-]: critical depth nears it without end
STEPS = 160  # of depth along a leg; with 160 a length is right to 0.1 %
REACH = 12.0  # how near the uniform depth a profile is followed: to exp(-12) of the way


@dataclass(frozen=True, slots=True, kw_only=True)
class Reach:
    """A straight leg of round pipe: ``bore`` and ``length`` [m], ``fall`` over length, Manning's ``n``.

    ``fall`` [-] is below 0 where it rises; ``n`` is in s/m^(1/3).
    """

    bore: float
    length: float
    fall: float
    n: float

    def __post_init__(self) -> None:
        above_zero(self.bore, "bore of the leg", "m")
        not_negative(self.length, "length of the leg", "m")
        finite(self.fall, "fall of the leg", "m/m")
        above_zero(self.n, "Manning's n", "s/m^(1/3)")


@dataclass(frozen=True, slots=True, kw_only=True)
class Backwater:
    """Water along one leg, depths over its lowest line [m]: at its ``start``, its ``end``, and the ``most``.

    ``energy`` is that at the start, depth and velocity head, [m]. A depth over the bore is a leg under
    pressure: the height that the water would rise to.
    """

    start: float
    end: float
    most: float
    energy: float


def critical_flow(bore: float, share: float) -> float:
    """Flow of which ``share`` of the ``bore`` is the critical depth, [m³/s]: Q² T = g A³.

    Sources
    -------
    Chow 1959, Open-Channel Hydraulics, ch. 4: Froude number 1 on the section of a circle.
    """
    area, _, width = _section(bore, share)
    return math.sqrt(GRAVITY * area**3 / width) if width > 0.0 else 0.0


def critical_depth(bore: float, flow: float) -> float:
    """Depth [m] at which ``flow`` [m³/s] is critical: that at a free end. At most the bore."""
    if not_negative(flow, "flow", "m³/s") == 0.0:
        return 0.0
    if critical_flow(bore, BRIM) <= flow:
        return bore
    return bore * root(lambda share: critical_flow(bore, share) - flow, 0.0, BRIM)


def uniform_flow(bore: float, fall: float, share: float, n: float) -> float:
    """Flow of a long pipe that falls steadily, ``share`` of its bore deep, by Manning's formula, [m³/s]."""
    area, wetted, _ = _section(above_zero(bore, "bore", "m"), within(share, 0.0, 1.0, "depth over bore", ""))
    if area <= 0.0 or fall <= 0.0:
        return 0.0
    from fluids import V_Manning

    return area * float(V_Manning(area / wetted, fall, above_zero(n, "Manning's n", "s/m^(1/3)")))


def normal_depth(reach: Reach, flow: float) -> float:
    """Depth [m] at which ``flow`` [m³/s] neither rises nor falls along a leg; infinite where it can't."""
    if flow <= 0.0:
        return 0.0
    most = uniform_flow(reach.bore, reach.fall, FULLEST, reach.n)
    if most <= flow:
        return math.inf
    return reach.bore * root(
        lambda share: uniform_flow(reach.bore, reach.fall, share, reach.n) - flow, 0.0, FULLEST
    )


def energy(bore: float, flow: float, depth: float) -> float:
    """Depth and velocity head over the lowest line of the pipe, [m]; ``depth`` over the bore is pressure."""
    area, _, _ = _section(bore, min(depth / bore, 1.0))
    return depth + (flow / area) ** 2 / (2.0 * GRAVITY) if area > 0.0 else depth


def depth_of_energy(bore: float, flow: float, wanted: float) -> float:
    """Depth [m] of slow water with this energy [m]; the critical depth where that needs as much or more."""
    least = critical_depth(bore, flow)
    if energy(bore, flow, least) >= wanted:
        return least
    return root(lambda depth: energy(bore, flow, depth) - wanted, least, wanted)


def backwater(reach: Reach, flow: float, end: float = 0.0, *, fast: bool = False) -> Backwater:
    """Follow the water in one leg upstream from its end.

    Parameters
    ----------
    flow : [m³/s]
    end : depth that stands at its end, [m]; critical there where less does: a free end
    fast : whether the water enters fast, as it does at the foot of an upright: in a leg steep enough to keep
        it so, it runs no deeper than uniform. Else it enters at rest, over the critical depth at least

    Notes
    -----
    Gradually varied flow, dy/dx = (fall - friction) / (1 - Froude²), integrated over the depth; friction by
    Manning's formula. Where the water fills the bore, the rest of the leg runs full.

    Sources
    -------
    Chow 1959, Open-Channel Hydraulics, ch. 9 and 10.
    """
    bore = reach.bore
    critical, normal = critical_depth(bore, flow), normal_depth(reach, flow)
    if flow <= 0.0:
        start = max(0.0, end - reach.fall * reach.length)
        return Backwater(start=start, end=end, most=max(start, end), energy=start)
    last = max(end, critical)
    steep = normal < critical
    if steep and end <= critical:
        # nothing stands back in it: the water speeds up from critical, or comes faster than that
        start = normal if fast else critical
        return Backwater(start=start, end=normal, most=start, energy=energy(bore, flow, start))
    start = _upstream(
        reach, flow, last, critical if steep else normal, uniform=not steep and normal != critical
    )
    if steep and start <= critical and fast:
        start = normal
    return Backwater(start=start, end=last, most=max(start, last), energy=energy(bore, flow, start))


def _upstream(reach: Reach, flow: float, last: float, aim: float, *, uniform: bool) -> float:
    """Return the depth at the start of a leg, from that at its end towards the depth it nears upstream."""
    bore, left, depth = reach.bore, reach.length, last
    full = _slope_of(reach, flow, bore)
    if depth > bore:  # under pressure at its end
        change = full - reach.fall
        if change >= 0.0 or depth + change * left >= bore:
            return depth + change * left
        left, depth = left - (depth - bore) / -change, bore
    to = min(aim, bore)
    if abs(to - depth) > 1e-12:
        depths, lengths = _profile(reach, flow, depth, to, ends=to == aim and uniform)
        if left <= lengths[-1]:
            return float(np.interp(left, lengths, depths))
        left -= float(lengths[-1])
    # it has come to its uniform or critical depth, or it fills the bore and rises on as pressure
    return to if aim <= bore else max(bore, bore + (full - reach.fall) * left)


def _profile(
    reach: Reach, flow: float, start: float, to: float, *, ends: bool
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return depths from ``start`` to ``to`` and lengths up to them; ``ends`` where it is the uniform one."""
    if ends:  # nears it without end: even steps of the logarithm
        nearing = np.linspace(0.0, REACH, STEPS + 1)
        depths = to + (start - to) * np.exp(-nearing)
    else:
        depths = np.linspace(start, to, STEPS + 1)
    turn = 2.0 * np.arccos(np.clip(1.0 - 2.0 * depths / reach.bore, -1.0, 1.0))
    area = reach.bore**2 * (turn - np.sin(turn)) / 8.0
    wetted, width = reach.bore * turn / 2.0, reach.bore * np.sin(turn / 2.0)
    friction = (flow * reach.n / area) ** 2 * (wetted / area) ** (4.0 / 3.0)
    froude = flow**2 * width / (GRAVITY * area**3)
    rate = (1.0 - froude) / (friction - reach.fall)
    if ends:
        # the rate has a pole at the uniform depth; times the way left to it, it has none
        steps = rate * (to - depths)
        lengths = np.concatenate([[0.0], np.cumsum((steps[1:] + steps[:-1]) / 2.0 * np.diff(nearing))])
    else:
        lengths = np.concatenate([[0.0], np.cumsum((rate[1:] + rate[:-1]) / 2.0 * np.diff(depths))])
    return depths, np.maximum.accumulate(lengths)


def _slope_of(reach: Reach, flow: float, depth: float) -> float:
    """Return the friction slope at a depth by Manning's formula, [-]."""
    area, wetted, _ = _section(reach.bore, min(depth / reach.bore, 1.0))
    return float((flow * reach.n / area) ** 2 * (wetted / area) ** (4.0 / 3.0))


def _section(bore: float, share: float) -> tuple[float, float, float]:
    """Return area, wetted length of wall and width of the surface of a round section, [m²] and [m]."""
    turn = 2.0 * math.acos(max(-1.0, min(1.0, 1.0 - 2.0 * share)))
    return (
        bore * bore * (turn - math.sin(turn)) / 8.0,
        bore * turn / 2.0,
        bore * math.sin(turn / 2.0),
    )
