"""Pump curves: head by flow, speed, pumps in a row or side by side, and the point of operation.

Left out: suction head and cavitation, wear, viscosity other than water's, power and heat.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

from layout3d.errors import BeyondCurve, NoOperatingPoint, OutOfRange
from layout3d.flow.monotone import Monotone
from layout3d.flow.roots import root
from layout3d.guards import above_zero, not_negative, within

__all__ = ["Curve", "OperatingPoint", "in_parallel", "in_series", "operating_point", "speed_for"]

COMBINED_POINTS = 65  # points a combined curve is drawn through: exact at each, within 0.1 % between


@dataclass(frozen=True, slots=True, kw_only=True)
class Curve:
    """A pump's curve as points; between them a monotone cubic, beyond them nothing.

    ``flows`` [m³/s] rise from 0; ``heads`` [m] fall all the way from the shut-off head; the last point
    is as far as the curve is known (often head 0 at the rated maximum flow).

    >>> Curve(flows=(0.0, 4e-4, 8e-4), heads=(2.5, 1.9, 0.0)).head_at(4e-4)
    1.9
    """

    flows: tuple[float, ...]
    heads: tuple[float, ...]
    name: str = "pump"

    def __post_init__(self) -> None:
        object.__setattr__(self, "flows", tuple(float(flow) for flow in self.flows))
        object.__setattr__(self, "heads", tuple(float(head) for head in self.heads))
        if len(self.flows) != len(self.heads) or len(self.flows) < 2:
            raise OutOfRange(
                f"the curve of {self.name} has {len(self.flows)} flows and {len(self.heads)} heads",
                expected="as many flows as heads, two or more",
            )
        for flow, head in zip(self.flows, self.heads, strict=True):
            not_negative(flow, f"a flow of the curve of {self.name}", "m³/s")
            not_negative(head, f"a head of the curve of {self.name}", "m")
        if self.flows[0] != 0.0:
            raise OutOfRange(
                f"the curve of {self.name} starts at {self.flows[0]:g} m³/s, not at 0",
                remedy="put the shut-off head (the highest lift, at no flow) first",
            )
        for field, sign in (("flows", 1.0), ("heads", -1.0)):
            figures = getattr(self, field)
            for before, after in pairwise(figures):
                if not sign * after > sign * before:
                    raise OutOfRange(
                        f"the {field} of the curve of {self.name} must {'rise' if sign > 0 else 'fall'} "
                        f"from point to point, got {before:g} then {after:g}"
                    )

    @classmethod
    def from_two_points(cls, shut_off_head: float, max_flow: float, *, name: str = "pump") -> Curve:
        """Guess a curve from the two figures on a box: a parabola with its top at no flow.

        Real small pumps lie between a straight line and this, 10 to 25 % lower in mid-range (common
        practice, no source): measure, or use the maker's curve where there is one.
        """
        above_zero(shut_off_head, "shut-off head", "m")
        above_zero(max_flow, "maximum flow", "m³/s")
        shares = [step / 32.0 for step in range(33)]
        return cls(
            flows=tuple(share * max_flow for share in shares),
            heads=tuple(shut_off_head * (1.0 - share * share) for share in shares),
            name=name,
        )

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

    def flow_at(self, head: float) -> float:
        """Flow [m³/s] delivered against ``head`` [m]; 0 above the shut-off head.

        Raises
        ------
        OutOfRange : a head below the last point, where the curve is not known.
        """
        if head >= self.shut_off_head:
            return 0.0
        within(
            head,
            self.heads[-1],
            self.shut_off_head,
            f"head of {self.name}",
            "m",
            source="the ends of its curve",
        )
        return root(lambda flow: self.head_and_slope(flow)[0] - head, 0.0, self.max_flow)

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
        if share == 1.0:
            return self
        return Curve(
            flows=tuple(flow * share for flow in self.flows),
            heads=tuple(head * share * share for head in self.heads),
            name=f"{self.name} at {share:.0%}",
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class OperatingPoint:
    """Where a pump and its pipework agree: ``flow`` [m³/s], ``head`` [m]."""

    flow: float
    head: float


def operating_point(curve: Curve, needed_head: Callable[[float], float]) -> OperatingPoint:
    """Find where a pump's curve meets what the pipework needs.

    Parameters
    ----------
    curve : the pump, at its speed
    needed_head : head [m] that the pipework takes at a flow [m³/s]; must not fall as flow rises

    Raises
    ------
    NoOperatingPoint : the lift at no flow is above the shut-off head, or the pipework would take more
        than the last point of the curve; the message gives the miss.

    >>> pump = Curve.from_two_points(2.0, 1e-3)
    >>> round(operating_point(pump, lambda flow: 1.5).flow * 1e3, 3)
    0.5
    """
    lift = needed_head(0.0)
    if lift >= curve.shut_off_head:
        raise NoOperatingPoint(
            f"{curve.name} lifts at most {curve.shut_off_head:.3g} m and {lift:.3g} m is needed before "
            f"anything flows: {lift - curve.shut_off_head:.3g} m short",
            remedy="use a pump of more head, a higher speed, or a lower outlet",
        )
    end_miss = curve.heads[-1] - needed_head(curve.max_flow)
    if end_miss > 0.0:
        raise BeyondCurve(
            f"{curve.name} would run beyond the end of its curve ({curve.max_flow * 3.6e6:.4g} L/h): "
            f"there it still has {end_miss:.3g} m more head than the pipework takes",
            remedy="throttle it, or give points of the curve at larger flows",
        )
    flow = root(lambda trial: curve.head_and_slope(trial)[0] - needed_head(trial), 0.0, curve.max_flow)
    return OperatingPoint(flow=flow, head=curve.head_and_slope(flow)[0])


def speed_for(curve: Curve, flow: float, head: float, *, lowest: float = 0.1, highest: float = 1.0) -> float:
    """Speed, as a share of the rated one, at which a pump gives ``flow`` [m³/s] at ``head`` [m].

    Raises
    ------
    NoOperatingPoint : even the ``highest`` speed gives less head, or the ``lowest`` gives more.
    """
    not_negative(flow, "wanted flow", "m³/s")
    not_negative(head, "wanted head", "m")

    def surplus(speed: float) -> float:
        own = flow / speed
        if own > curve.max_flow:
            # beyond the curve the pump has no known head; falling on, so that the search has a sign
            return curve.heads[-1] * speed * speed - head - (own - curve.max_flow) / curve.max_flow
        return curve.head_and_slope(own)[0] * speed * speed - head

    if surplus(highest) < 0.0:
        raise NoOperatingPoint(
            f"{curve.name} cannot give {flow * 3.6e6:.4g} L/h at {head:.3g} m, even at {highest:.0%} speed",
            remedy="use a larger pump, or lose less head on the way",
        )
    if surplus(lowest) > 0.0:
        raise NoOperatingPoint(
            f"{curve.name} gives more than {flow * 3.6e6:.4g} L/h at {head:.3g} m even at {lowest:.0%} speed",
            remedy="use a smaller pump, or throttle it",
        )
    return root(surplus, lowest, highest)


def in_series(curves: Sequence[Curve]) -> Curve:
    """Combine pumps that pass one flow in turn: heads add; ends where the first curve ends."""
    several = _several(curves)
    flows = _places({flow for curve in several for flow in curve.flows}, min(c.max_flow for c in several))
    heads = [sum(curve.head_and_slope(flow)[0] for curve in several) for flow in flows]
    return Curve(flows=tuple(flows), heads=tuple(heads), name=" + ".join(curve.name for curve in several))


def in_parallel(curves: Sequence[Curve]) -> Curve:
    """Combine pumps that lift side by side into one pipe, each behind a check valve: flows add.

    A pump whose shut-off head is passed gives nothing, and its check valve keeps the others' water out.
    The combined curve ends at the highest of the last heads, below which one of the curves is unknown.
    """
    several = _several(curves)
    top, bottom = max(c.shut_off_head for c in several), max(c.heads[-1] for c in several)
    marks = {head for curve in several for head in curve.heads if bottom <= head <= top} | {bottom, top}
    step = (top - bottom) / (COMBINED_POINTS - 1)
    heads = sorted(marks | {bottom + step * place for place in range(COMBINED_POINTS)}, reverse=True)
    flows: list[float] = []
    kept: list[float] = []
    for head in heads:
        flow = sum(curve.flow_at(head) for curve in several)
        if not flows or (flow > flows[-1] and head < kept[-1]):
            flows.append(flow)
            kept.append(head)
    return Curve(flows=tuple(flows), heads=tuple(kept), name=" | ".join(curve.name for curve in several))


def _several(curves: Sequence[Curve]) -> tuple[Curve, ...]:
    if not curves:
        raise OutOfRange("no pumps to combine", expected="one curve or more")
    return tuple(curves)


def _places(marks: set[float], end: float) -> list[float]:
    step = end / (COMBINED_POINTS - 1)
    grid = {step * place for place in range(COMBINED_POINTS - 1)}
    places = sorted({mark for mark in marks if mark < end} | grid)
    # two places closer than rounding would make a curve that does not rise
    kept = [places[0]]
    for place in places[1:]:
        if place - kept[-1] > 1e-9 * end:
            kept.append(place)
    return [*(place for place in kept if end - place > 1e-9 * end), end]


@lru_cache(maxsize=256)
def _line(curve: Curve) -> Monotone:
    return Monotone(curve.flows, curve.heads)
