"""What head one link of a network takes at a flow, and how it rises: the laws behind ``flow.network``.

Every law is strictly rising, also where the flow is 0 or would run backward: the steady state is then the
bottom of one bowl, which a damped Newton search cannot miss.
"""

from __future__ import annotations

import math

from layout3d.flow.monotone import Monotone
from layout3d.flow.pipe import head_and_slope
from layout3d.flow.pump import Curve
from layout3d.units import GRAVITY

__all__ = ["Law", "OutletLaw", "PipeLaw", "PumpLaw", "SampledLaw"]

SHUT_SLOPE = 1e8  # [m/(m³/s)], what a one-way link sets against backward flow: 1 m drives 36 mL/h through it
TRACE_SLOPE = 1e-3  # [m/(m³/s)], added to every law: 1e-6 m at 1 L/s; keeps a link without loss solvable
ORDINARY_SPEED = 0.5  # [m/s], to start the search from
REST_SPEED = 1e-4  # [m/s], below which a square law goes over to a straight line: a head of 5e-10 m


class Law:
    """Head lost along a link at a flow; the kinds say what it is for water running forward.

    ``one_way`` links set a steep rise against backward flow, unless ``relaxed`` for a first search.
    """

    __slots__ = ("one_way", "relaxed")

    def __init__(self, *, one_way: bool) -> None:
        self.one_way = one_way
        self.relaxed = False

    def guess(self) -> float:
        """Return a flow of ordinary size, [m³/s]."""
        raise NotImplementedError

    def forward(self, flow: float) -> tuple[float, float]:
        """Return head lost [m] and slope [m/(m³/s)] at a flow of 0 or more."""
        raise NotImplementedError

    def at(self, flow: float) -> tuple[float, float]:
        """Return head lost [m] and slope [m/(m³/s)] at any flow."""
        if flow >= 0.0:
            return self.forward(flow)
        if self.one_way and not self.relaxed:
            return SHUT_SLOPE * flow, SHUT_SLOPE
        head, slope = self.forward(-flow)
        return -head, slope


class PipeLaw(Law):
    """Wall friction plus fittings of a full pipe (or a valve: a pipe without length)."""

    __slots__ = ("_area", "_bore", "_length", "_linear", "_rest", "_roughness", "_square", "_viscosity")

    def __init__(
        self,
        *,
        length: float,
        bore: float,
        roughness: float,
        coefficient: float,
        laminar: float,
        viscosity: float,
        one_way: bool,
    ) -> None:
        super().__init__(one_way=one_way)
        self._length, self._bore, self._roughness, self._viscosity = length, bore, roughness, viscosity
        self._area = 0.25 * math.pi * bore * bore
        self._square = coefficient / (2.0 * GRAVITY * self._area**2)
        # (K1/Re) V²/2g is straight in V: K1 nu V / (2 g D)
        self._linear = laminar * viscosity / (2.0 * GRAVITY * bore * self._area) + TRACE_SLOPE
        self._rest = REST_SPEED * self._area

    def guess(self) -> float:
        """Return a flow of ordinary size."""
        return ORDINARY_SPEED * self._area

    def forward(self, flow: float) -> tuple[float, float]:
        """Return head lost and slope."""
        friction, slope = head_and_slope(flow, self._length, self._bore, self._roughness, self._viscosity)
        square, square_slope = _square_law(self._square, flow, self._rest)
        return friction + square + self._linear * flow, slope + square_slope + self._linear


class OutletLaw(Law):
    """A mouth into air or under water: all its velocity head is lost, ``K V²/2g`` on its own bore."""

    __slots__ = ("_area", "_rest", "_square")

    def __init__(self, *, bore: float, coefficient: float, one_way: bool) -> None:
        super().__init__(one_way=one_way)
        self._area = 0.25 * math.pi * bore * bore
        self._square = coefficient / (2.0 * GRAVITY * self._area**2)
        self._rest = REST_SPEED * self._area

    def guess(self) -> float:
        """Return a flow of ordinary size."""
        return ORDINARY_SPEED * self._area

    def forward(self, flow: float) -> tuple[float, float]:
        """Return head lost and slope."""
        head, slope = _square_law(self._square, flow, self._rest)
        return head + TRACE_SLOPE * flow, slope + TRACE_SLOPE


class PumpLaw(Law):
    """A running pump: takes minus its head. One-way; beyond its curve a wall, found and refused later."""

    __slots__ = ("_curve",)

    def __init__(self, curve: Curve) -> None:
        super().__init__(one_way=True)
        self._curve = curve

    def guess(self) -> float:
        """Return a flow of ordinary size."""
        return 0.5 * self._curve.max_flow

    def forward(self, flow: float) -> tuple[float, float]:
        """Return minus the head it gives, and slope."""
        curve = self._curve
        if flow > curve.max_flow:
            return -curve.heads[-1] + SHUT_SLOPE * (flow - curve.max_flow), SHUT_SLOPE
        head, slope = curve.head_and_slope(flow)
        return -head + TRACE_SLOPE * flow, -slope + TRACE_SLOPE

    def at(self, flow: float) -> tuple[float, float]:
        """Return minus the head it gives, and slope; never relaxed."""
        if flow >= 0.0:
            return self.forward(flow)
        return -self._curve.shut_off_head + SHUT_SLOPE * flow, SHUT_SLOPE


class SampledLaw(Law):
    """An outlet known by samples of flow against head; the head is above the first sample's."""

    __slots__ = ("_last", "_line")

    def __init__(self, heads: tuple[float, ...], flows: tuple[float, ...]) -> None:
        super().__init__(one_way=True)
        self._line = Monotone(flows, tuple(head - heads[0] for head in heads))
        self._last = flows[-1]

    def guess(self) -> float:
        """Return a flow of ordinary size."""
        return 0.5 * self._last

    def forward(self, flow: float) -> tuple[float, float]:
        """Return head above the first sample, and slope."""
        if flow > self._last:
            return self._line.at(self._last)[0] + SHUT_SLOPE * (flow - self._last), SHUT_SLOPE
        head, slope = self._line.at(flow)
        return head + TRACE_SLOPE * flow, slope + TRACE_SLOPE


def _square_law(factor: float, size: float, rest: float) -> tuple[float, float]:
    """Return k Q² and its slope, rounded off at rest so that the slope there is not 0."""
    reach = math.hypot(size, rest)
    return factor * size * reach, factor * (reach + size * size / reach)
