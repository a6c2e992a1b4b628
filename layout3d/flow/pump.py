"""Pump curves: head by flow, by speed. Where one meets its pipework: ``flow.solve``.

Left out: suction head and cavitation, wear, viscosity other than water's, power and heat.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

from layout3d.band import Setting
from layout3d.flow.monotone import Monotone
from layout3d.guards import above_zero, within

__all__ = ["Curve"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Curve:
    """A pump's curve as points, as a catalogue's entry has checked them; between them a monotone cubic.

    ``flows`` [m³/s] rise from 0; ``heads`` [m] fall all the way from the shut-off head; the last point
    is as far as the curve is known (often head 0 at the rated maximum flow). Three points that a falling
    parabola H = H0 - a Q - b Q² goes through, as curves are published, are joined by it. ``tolerance`` is
    the share by which the head of a pump of this curve may differ from it, either way, [-].

    >>> Curve(flows=(0.0, 4e-4, 8e-4), heads=(2.5, 1.9, 0.0)).head_at(4e-4)
    1.9
    """

    flows: tuple[float, ...]
    heads: tuple[float, ...]
    name: str = "pump"
    tolerance: float = 0.0

    @property
    def shut_off_head(self) -> float:
        """Head at no flow, [m]."""
        return self.heads[0]

    @property
    def max_flow(self) -> float:
        """Flow at the last point of the curve, [m³/s]."""
        return self.flows[-1]

    def head_at(self, flow: float) -> float:
        """Head [m] at ``flow`` [m³/s]; raise OutOfRange beyond the curve."""
        within(flow, 0.0, self.max_flow, f"flow of {self.name}", "m³/s", source="the ends of its curve")
        return self.head_and_slope(flow)[0]

    def head_and_slope(self, flow: float) -> tuple[float, float]:
        """Head [m] and its slope [m/(m³/s)], unchecked: for the inner loops of the solvers."""
        return _line(self).at(flow)

    def at_speed(self, speed: float) -> Curve:
        """Return the curve at ``speed``, a share of the rated speed (0.8 is 80 %), by the affinity law.

        Flow goes with the speed, head with its square (along the pump's own curve only). A share above 1
        is taken as it is: whether the motor can is for the caller to know.

        Sources
        -------
        White, Fluid Mechanics, 4th ed., eq. 11.28 (similarity rules).
        """
        share = above_zero(speed, f"speed of {self.name}", "of the rated speed")
        return self if share == 1.0 else self._scaled(share, f"{self.name} at {share:.0%}")

    def at(self, setting: Setting) -> Curve:
        """Return the weakest, likely or strongest pump of this curve: head differs by its tolerance.

        Flow does by the square root of that, as of a pump that turns a little slower or faster.
        """
        sign = {"low": -1.0, "likely": 0.0, "high": 1.0}[setting]
        share = math.sqrt(1.0 + sign * self.tolerance)
        return self if share == 1.0 else self._scaled(share, self.name)

    @property
    def parabola(self) -> bool:
        """Whether three points are joined by a parabola; else a monotone cubic joins them."""
        return isinstance(_line(self), _Parabola)

    def _scaled(self, share: float, name: str) -> Curve:
        return replace(
            self,
            flows=tuple(flow * share for flow in self.flows),
            heads=tuple(head * share * share for head in self.heads),
            name=name,
        )


class _Parabola:
    """The parabola through three points: value and slope, as :class:`Monotone` gives them."""

    __slots__ = ("_bend", "_fall", "_top")

    def __init__(self, flows: Sequence[float], heads: Sequence[float]) -> None:
        (_, q1, q2), (self._top, h1, h2) = flows, heads
        first, second = (h1 - self._top) / q1, (h2 - self._top) / q2
        self._bend = (second - first) / (q2 - q1)
        self._fall = first - self._bend * q1

    def at(self, flow: float) -> tuple[float, float]:
        return self._top + flow * (self._fall + self._bend * flow), self._fall + 2.0 * self._bend * flow

    def falls(self, end: float) -> bool:
        """Whether it falls all the way from no flow to ``end``."""
        return self._fall <= 0.0 and self.at(end)[1] < 0.0


@lru_cache(maxsize=256)
def _line(curve: Curve) -> Monotone | _Parabola:
    if len(curve.flows) == 3:
        fitted = _Parabola(curve.flows, curve.heads)
        if fitted.falls(curve.max_flow):
            return fitted
    return Monotone(curve.flows, curve.heads)
