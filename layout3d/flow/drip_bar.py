"""A drip bar: what each hole of a drilled pipe gives, with friction and with pressure recovery behind holes.

Left out: fittings inside the bar, holes that share a place, swirl behind an elbow (keep ten bores of
straight pipe before the first hole), dirt. All heights are z above one datum, heads are levels in it, [m].
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal, NoReturn

import numpy as np
from numpy.typing import NDArray

from layout3d.band import Band, Setting
from layout3d.errors import NotPossible, OutOfRange
from layout3d.flow.bar import Bar, BarFlow, Floats, HoleState
from layout3d.flow.orifice import hold_head
from layout3d.flow.pipe import head_and_slope
from layout3d.flow.roots import root
from layout3d.flow.water import Water, water_at
from layout3d.guards import finite, within
from layout3d.units import GRAVITY

__all__ = ["RECOVERY", "SPURT_SPEED", "HeadKind", "solve_bar"]

HeadKind = Literal["static", "total"]
SPURT_SPEED = 1.0  # [m/s] of the jet, above which it leaves the wall. Common practice, no source
WEEP_SHARE = 2.0  # heads up to this many hold heads only weep. Common practice, no source
# share of the velocity head a hole takes out that comes back as pressure behind it; 1.0 is an ideal bar,
# measured with sharp holes mostly 0.7 to 1.0: from memory, check before relying on it
RECOVERY = Band(low=0.7, likely=1.0, high=1.0, note="measured with sharp holes, from memory")
# fall of the coefficient of a sharp side port with cross-flow, 0.58 of 0.63.
# Fischer et al. 1979, Mixing in Inland and Coastal Waters, from memory, check before relying on it
CROSS_FLOW_FALL = 0.58 / 0.63
HEAD_MISS = 1e-5  # [m], of the head asked for at the inlet
LEAST_HEAD = 1e-24  # [m], below which the far holes count as starved
HOLD_PASSES = 50


def solve_bar(
    bar: Bar,
    head: float,
    *,
    kind: HeadKind,
    far_head: float | None = None,
    setting: Setting = "likely",
    recovery: float = RECOVERY.likely,
    cross_flow: bool = False,
    holds: bool = True,
    spurt_speed: float = SPURT_SPEED,
    water: Water | None = None,
) -> BarFlow:
    """Find what each hole of a bar gives.

    Parameters
    ----------
    bar : the pipe and its holes
    head : level at the inlet in the datum of the hole heights, [m]
    kind : whether ``head`` (and ``far_head``) is "static" (what a gauge on the wall shows) or
        "total" (with the velocity head: the level of a still tank that feeds it, less losses on the way)
    far_head : level at the far end where that is fed as well, [m]; None for a capped end
    setting : which end of the holes' discharge coefficient
    recovery : share of the lost velocity head that returns as pressure behind each hole, [-], 0 to 1;
        0.7 to 1.0 is real, 0 is what network solvers do
    cross_flow : let the coefficient fall with the speed that passes the hole
    holds : let surface tension hold the drop in a hole under a small head
    spurt_speed : jet speed above which a hole counts as spurting, [m/s]
    water : its properties; fresh water at 25 °C where None

    Raises
    ------
    OutOfRange : a figure out of its range.
    NotPossible : a static head that the bar can't have, as its holes take more than its bore brings; or a
        far head so low that water would leave by that end.

    Notes
    -----
    Marches from the dead end (or, fed from both ends, from the hole where the two streams meet) to the
    inlet, and searches the head there. Across a hole the static head rises by recovery x (V1² - V2²)/2g;
    a hole is driven by the static head just behind it, or with ``cross_flow`` by the total head before
    it. Friction as in :mod:`layout3d.flow.pipe`. A hole that holds its drop is shut and stays shut.

    Sources
    -------
    Momentum recovery: Perry's Chemical Engineers' Handbook, sec. 6, perforated-pipe distributors.
    """
    finite(head, "head at the inlet", "m")
    within(recovery, 0.0, 1.0, "recovery", "")
    if kind not in ("static", "total"):
        raise OutOfRange(f"no head kind {kind!r}", expected='"static" or "total"')
    state = water or water_at()
    march = _March(bar, setting, recovery, cross_flow, state)
    hold = np.array([hold_head(diameter, water=state) for diameter in bar.diameters])
    open_holes = np.ones(bar.count, dtype=bool)
    far = None if far_head is None else finite(far_head, "head at the far end", "m")
    for _ in range(HOLD_PASSES):
        march.open(open_holes)
        if far is None:
            ends = march.from_one_end(head - march.datum, kind)
        else:
            ends = march.from_both_ends(head - march.datum, far - march.datum, kind)
        held = open_holes & (march.heads > 0.0) & (march.heads < hold)
        if not (holds and held.any()):
            break
        open_holes &= ~held
    return _told(bar, march, hold if holds else hold * 0.0, spurt_speed, ends)


@dataclass(frozen=True, slots=True)
class _Ends:
    """Recovered head and flow at the inlet, and flow at the far end."""

    head: float
    flow: float
    far_flow: float


class _Starved(Exception):
    """No head is left at the far holes: they are dry, and the march must start nearer."""


class _March:
    """One bar at one setting; works on recovered head, static + recovery V²/2g, which holes do not change."""

    def __init__(self, bar: Bar, setting: Setting, recovery: float, cross_flow: bool, water: Water) -> None:
        self.bar, self.recovery, self.cross_flow, self.viscosity = bar, recovery, cross_flow, water.viscosity
        self.area = 0.25 * math.pi * bar.bore**2
        self.speed_head = 1.0 / (2.0 * GRAVITY * self.area**2)  # velocity head of a flow: this times Q²
        steps = np.diff([0.0, *bar.positions, bar.length])
        self.steps: list[float] = steps.tolist()
        # heights from the last hole reached: a head there may be tiny, and must not drown in the datum
        self.datum = bar.heights[-1]
        self.heights = [height - self.datum for height in bar.heights]
        self.full = [
            cd * 0.25 * math.pi * size**2 * math.sqrt(2.0 * GRAVITY)
            for cd, size in zip(bar.coefficients(setting), bar.diameters, strict=True)
        ]
        self.factors = list(self.full)
        self.near: list[float] = []
        self.meeting = 0.5 * bar.count
        self.flows = np.zeros(bar.count)
        self.heads = np.zeros(bar.count)

    def open(self, holes: NDArray[np.bool_]) -> None:
        """Say which holes may flow."""
        self.factors = [factor if up else 0.0 for factor, up in zip(self.full, holes, strict=True)]

    def hole(self, number: int, level: float, passing: float) -> float:
        """Flow of one hole at recovered head ``level``, ``passing`` going on behind it; notes its head."""
        over = level - self.heights[number]
        head = over - self.recovery * self.speed_head * passing * passing
        self.heads[number] = head
        factor = self.factors[number]
        if head <= 0.0 or factor == 0.0:
            self.flows[number] = 0.0
            return 0.0
        flow = factor * math.sqrt(head)
        if self.cross_flow:
            flow = root(lambda trial: self.crossed(factor, over, passing + trial) - trial, 0.0, flow)
        self.flows[number] = flow
        return flow

    def crossed(self, factor: float, over: float, arriving: float) -> float:
        """Flow of a hole passed by ``arriving`` before it, by the total head there."""
        speed_head = self.speed_head * arriving * arriving
        total, static = over + (1.0 - self.recovery) * speed_head, over - self.recovery * speed_head
        if static <= 0.0:
            return 0.0
        fall = 1.0 - CROSS_FLOW_FALL * min(1.0, speed_head / total)
        return factor * min(fall * math.sqrt(total), math.sqrt(static))

    def toward(self, end: int, number: int, level: float, flow: float) -> tuple[float, float]:
        """March from hole ``number``, which takes ``flow`` from that side, to one end (0 inlet, 1 far)."""
        bore, rough, nu, steps, hole = (
            self.bar.bore,
            self.bar.roughness,
            self.viscosity,
            self.steps,
            self.hole,
        )
        numbers = range(number - 1, -1, -1) if end == 0 else range(number + 1, self.bar.count)
        step = number + end
        for other in numbers:
            level += head_and_slope(flow, steps[step], bore, rough, nu)[0]
            flow += hole(other, level, flow)
            step = other + end
        return level + head_and_slope(flow, steps[step], bore, rough, nu)[0], flow

    def told(self, level: float, flow: float, kind: HeadKind) -> float:
        """Turn a recovered head into a static or total one."""
        share = -self.recovery if kind == "static" else 1.0 - self.recovery
        return level + share * self.speed_head * flow * flow

    def from_one_end(self, head: float, kind: HeadKind) -> _Ends:
        """Solve with a capped far end; where the far holes are starved, find how far the water comes."""
        try:
            return self._as_far_as(self.bar.count, head, kind)
        except _Starved:
            reached, starved = 0, self.bar.count
        while starved - reached > 1:
            middle = (reached + starved) // 2
            try:
                self._as_far_as(middle, head, kind)
                reached = middle
            except _Starved:
                starved = middle
        return self._as_far_as(max(1, reached), head, kind)

    def _as_far_as(self, reached: int, head: float, kind: HeadKind) -> _Ends:
        """Solve with the holes beyond the first ``reached`` shut, as no head is left for them."""
        all_factors, last = self.factors, self.bar.count - 1
        self.factors = all_factors[:reached] + [0.0] * (self.bar.count - reached)
        self.datum, datum = self.bar.heights[reached - 1], self.datum
        head -= self.datum - datum
        self.heights = [height - self.datum for height in self.bar.heights]

        def run(level: float) -> tuple[float, float]:
            return self.toward(0, last, level, self.hole(last, level, 0.0))

        try:
            level = self._level(lambda trial: self.told(*run(trial), kind) - head, head)
            return _Ends(*run(level), 0.0)
        finally:
            self.factors = all_factors

    def from_both_ends(self, head: float, far_head: float, kind: HeadKind) -> _Ends:
        count = self.bar.count
        near = self.near  # levels and meetings of the pass before: a good place to look first

        def run(meeting: float, level: float) -> tuple[tuple[float, float], tuple[float, float]]:
            number = min(int(meeting), count - 1)
            share = meeting - number
            flow = self.hole(number, level, 0.0)
            for _ in range(3):  # the hole where the streams meet is passed by neither
                flow = self.hole(number, level, min(share, 1.0 - share) * flow)
            return self.toward(0, number, level, share * flow), self.toward(
                1, number, level, (1.0 - share) * flow
            )

        def level_at(meeting: float) -> float:
            level = self._level(
                lambda trial: self.told(*run(meeting, trial)[0], kind) - head, head, near, False
            )
            near[:] = [level]
            return level

        def miss(meeting: float) -> float:
            return self.told(*run(meeting, level_at(meeting))[1], kind) - far_head

        low, high = max(0.0, self.meeting - 2.0), min(float(count), self.meeting + 2.0)
        if not (near and miss(low) > 0.0 > miss(high)):
            low, high = 0.0, float(count)
        at_low, at_high = miss(low), miss(high)
        if at_high > HEAD_MISS or at_low < -HEAD_MISS:
            raise NotPossible(
                f"fed at {head + self.datum:.3g} m and {far_head + self.datum:.3g} m, water would run in at "
                "one end and out at the other",
                remedy="feed both ends from one riser, or cap the end of less head",
            )
        if at_low <= 0.0 or at_high >= 0.0:
            meeting = low if at_low <= 0.0 else high  # one end only just carries nothing
        else:
            meeting = root(miss, low, high)
        self.meeting = meeting
        (at_inlet, flow), (_, far_flow) = run(meeting, level_at(meeting))
        if abs(self.told(at_inlet, flow, kind) - head) > HEAD_MISS:
            raise NotPossible(
                "the holes in the middle are starved: the head there is below what can be computed",
                remedy="use a wider or shorter pipe, or fewer or smaller holes",
            )
        return _Ends(at_inlet, flow, far_flow)

    def _level(
        self, miss: Callable[[float], float], head: float, near: Sequence[float] = (), strict: bool = True
    ) -> float:
        """Recovered head at the far end of a march that brings ``miss`` to 0."""
        low = min(self.heights) - 1e-9
        if miss(low) >= 0.0:
            return head  # the head reaches no hole: nothing flows, the water stands level
        for middle in near:
            reach = 1e-3 * abs(middle)
            if miss(middle - reach) < 0.0 < miss(middle + reach):
                return root(miss, middle - reach, middle + reach)
        if miss(0.0) >= 0.0:
            high = 0.0
        else:
            high = max(head, 1e-3)
            for _ in range(40):
                if miss(high) >= 0.0:
                    break
                high *= 4.0
            else:
                self._refuse(head)
            while high > LEAST_HEAD and miss(high * 1e-3) >= 0.0:
                high *= 1e-3
            low = high * 1e-3
        if miss(low) >= 0.0:
            if strict and miss(low) > HEAD_MISS:
                raise _Starved
            return low
        level = root(miss, low, high)
        if strict and abs(miss(level)) > HEAD_MISS:
            raise NotPossible(
                "the flow of this bar hangs on heads too small to compute: water barely reaches some holes",
                remedy="set the bar level, or use a wider pipe or smaller holes",
            )
        return level

    def _refuse(self, head: float) -> NoReturn:
        raise NotPossible(
            f"the holes take more than the bore brings: no static head of {head + self.datum:.3g} m at "
            f"the inlet (hole area is {self.bar.area_ratio:.2f} of the bore)",
            remedy="give the total head instead, or use a wider pipe or fewer, smaller holes",
        )


def _told(bar: Bar, march: _March, hold: Floats, spurt_speed: float, ends: _Ends) -> BarFlow:
    flows, heads = march.flows.copy(), march.heads.copy()
    flows.flags.writeable = False
    heads.flags.writeable = False
    return BarFlow(
        flows=flows,
        hole_heads=heads,
        states=tuple(
            _state(head, flow, least, size, spurt_speed)
            for head, flow, least, size in zip(heads, flows, hold, bar.diameters, strict=True)
        ),
        inlet_flow=ends.flow,
        far_flow=ends.far_flow,
        inlet_velocity=ends.flow / march.area,
        static_head=march.datum + march.told(ends.head, ends.flow, "static"),
        total_head=march.datum + march.told(ends.head, ends.flow, "total"),
    )


def _state(head: float, flow: float, hold: float, size: float, spurt_speed: float) -> HoleState:
    if flow <= 0.0:
        return "holds" if 0.0 < head < hold else "dry"
    if math.sqrt(2.0 * GRAVITY * head) > spurt_speed:
        return "spurts"
    return "weeps" if head < WEEP_SHARE * hold else "runs"
