"""A drip bar the other way about: head, hole size or pitch for a wanted flow. Also its range.

Left out: what :mod:`layout3d.flow.drip_bar` leaves out. One thing is varied at a time, the rest stands.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from layout3d.band import SETTINGS, Band
from layout3d.errors import NotPossible, OutOfRange
from layout3d.flow.bar import CLOG_DIAMETER, Bar, BarFlow
from layout3d.flow.drip_bar import RECOVERY, HeadKind, solve_bar
from layout3d.flow.network import SampledOutlet
from layout3d.flow.roots import root
from layout3d.flow.water import Water
from layout3d.guards import above_zero, not_negative

__all__ = ["BarBand", "BarDesign", "Vary", "bar_band", "bar_outlet", "design_bar"]

Vary = Literal["head", "diameter", "pitch"]
PITCH_DIAMETERS = 3.0  # holes closer than this disturb each other. Common practice, no source
WIDEST_HOLE = 0.5  # of the bore; a wider hole is a tee. Common practice, no source
HIGHEST_HEAD = 5.0  # [m] over the lowest hole, as far as the search goes
EVEN = 0.10  # coefficient of variation, [-]; 0.1 is a good emitter line. Common practice, no source
SAMPLES = 32


@dataclass(frozen=True, slots=True, kw_only=True)
class BarDesign:
    """A bar that does what was wanted: the bar, the head at its inlet (kind as asked) and its flow."""

    bar: Bar
    head: float
    result: BarFlow


@dataclass(frozen=True, slots=True, kw_only=True)
class BarBand:
    """A bar over the ranges of hole coefficient and recovery: total flow [m³/s], variation [-], each hole."""

    flow: Band
    variation: Band
    holes: tuple[Band, ...]


def design_bar(
    bar: Bar,
    *,
    flow_per_metre: float,
    vary: Vary,
    head: float | None = None,
    kind: HeadKind = "total",
    far: bool = False,
    variation: float = EVEN,
    highest_head: float = HIGHEST_HEAD,
    recovery: float = RECOVERY.likely,
    cross_flow: bool = False,
    water: Water | None = None,
) -> BarDesign:
    """Find the head, the hole size or the pitch at which a bar gives a wanted flow, evenly enough.

    Parameters
    ----------
    bar : the bar to start from
    flow_per_metre : wanted, over the length the holes serve, [m³/s per m]
    vary : "head" seeks the head at the inlet (a pump setting); "diameter" scales all holes alike; "pitch"
        puts more or fewer equal holes on the same length
    head : at the inlet, as z [m]; needed unless it is what is sought
    kind : what ``head`` is, "static" or "total"
    far : the far end is fed at the same head
    variation : largest coefficient of variation that counts as even, [-]
    highest_head : above the lowest hole, [m], as far as a head is sought
    recovery, cross_flow, water : as in :func:`~layout3d.flow.drip_bar.solve_bar`

    Returns
    -------
    BarDesign. By pitch the flow comes out to the nearest whole hole.

    Raises
    ------
    NotPossible : with the reason and the miss: the flow lies beyond the highest head, beyond the widest
        or below the narrowest sensible hole, beyond the closest pitch; or it is met but not evenly.
    """
    above_zero(flow_per_metre, "wanted flow per metre", "m³/s per m")
    above_zero(variation, "largest variation", "")
    if vary not in ("head", "diameter", "pitch"):
        raise OutOfRange(f"can't vary {vary!r} of a bar", expected='"head", "diameter" or "pitch"')
    wanted = flow_per_metre * bar.served_length

    def solved(trial: Bar, level: float) -> BarFlow:
        return solve_bar(
            trial,
            level,
            kind=kind,
            far_head=level if far else None,
            recovery=recovery,
            cross_flow=cross_flow,
            holds=False,
            water=water,
        )

    if vary == "head":
        level = _head_for(bar, wanted, solved, highest_head)
        design = bar
    else:
        if head is None:
            raise OutOfRange(f"a head is needed to find the {vary} of the holes")
        level = head
        by_kind = _diameter_for if vary == "diameter" else _pitch_for
        design = by_kind(bar, wanted, lambda trial: solved(trial, level))
    result = solve_bar(
        design,
        level,
        kind=kind,
        far_head=level if far else None,
        recovery=recovery,
        cross_flow=cross_flow,
        water=water,
    )
    still = sum(state in ("dry", "holds") for state in result.states)
    if still:
        raise NotPossible(
            f"the flow would be {_lph(wanted)}, but {still} of {design.count} holes give nothing at it",
            remedy="use fewer or wider holes, more head, or set the bar level",
        )
    if result.variation > variation:
        raise NotPossible(
            f"the flow is met but not evenly: variation {result.variation:.1%}, above {variation:.1%} "
            f"(hole area is {design.area_ratio:.2f} of the bore)",
            remedy="use a wider pipe, or fewer or smaller holes with more head; feed both ends; "
            "set the bar level",
        )
    return BarDesign(bar=design, head=level, result=result)


def bar_band(
    bar: Bar,
    head: float,
    *,
    kind: HeadKind,
    far_head: float | None = None,
    recovery: Band = RECOVERY,
    cross_flow: bool = False,
    water: Water | None = None,
) -> BarBand:
    """Solve a bar at both ends of its hole coefficient and of the recovery; the range of all is told."""
    likely = solve_bar(
        bar,
        head,
        kind=kind,
        far_head=far_head,
        recovery=recovery.likely,
        cross_flow=cross_flow,
        water=water,
    )
    found = [likely]
    for setting in SETTINGS:
        for share in (recovery.low, recovery.high):
            found.append(
                solve_bar(
                    bar,
                    head,
                    kind=kind,
                    far_head=far_head,
                    setting=setting,
                    recovery=share,
                    cross_flow=cross_flow,
                    water=water,
                )
            )
    note = f"hole coefficient over its band, recovery {recovery.low:g} to {recovery.high:g}"

    def span(figure: Callable[[BarFlow], float]) -> Band:
        figures = [figure(one) for one in found]
        return Band(low=min(figures), likely=figures[0], high=max(figures), note=note)

    flows = np.array([one.flows for one in found])
    return BarBand(
        flow=span(lambda one: one.flow),
        variation=span(lambda one: one.variation),
        holes=tuple(
            Band(low=low, likely=middle, high=high, note=note)
            for low, middle, high in zip(
                flows.min(axis=0).tolist(), flows[0].tolist(), flows.max(axis=0).tolist(), strict=True
            )
        ),
    )


def bar_outlet(
    bar: Bar,
    *,
    name: str,
    highest_head: float,
    recovery: float = RECOVERY.likely,
    cross_flow: bool = False,
    water: Water | None = None,
) -> SampledOutlet:
    """Sample a bar, capped at its far end, as an outlet of a network.

    The samples go over total heads up to ``highest_head``, as z [m]. Heights of the holes must be z of the
    network. Surface tension is left out, as it would make the flow jump: solve the bar again at the head
    the network finds.

    Raises
    ------
    NotPossible : the highest head is not above the lowest hole.
    """
    lowest = min(bar.heights)
    if not highest_head > lowest:
        raise NotPossible(f"no hole of the bar lies below {highest_head:g} m: it gives nothing")
    heads, flows = [lowest], [0.0]
    for step in range(1, SAMPLES + 1):
        # even steps of the square root, as flow goes with it
        level = lowest + (highest_head - lowest) * (step / SAMPLES) ** 2
        flow = solve_bar(
            bar, level, kind="total", recovery=recovery, cross_flow=cross_flow, holds=False, water=water
        ).flow
        if flow > flows[-1]:
            heads.append(level)
            flows.append(flow)
    return SampledOutlet(name=name, heads=tuple(heads), flows=tuple(flows))


def _lph(flow: float) -> str:
    return f"{flow * 3.6e6:.4g} L/h"


def _head_for(bar: Bar, wanted: float, solved: Callable[[Bar, float], BarFlow], highest: float) -> float:
    lowest = min(bar.heights)
    top = lowest + not_negative(highest, "highest head", "m")
    most = solved(bar, top).flow
    if most < wanted:
        raise NotPossible(
            f"even {highest:.3g} m of head gives {_lph(most)} of the {_lph(wanted)} wanted: "
            f"{_lph(wanted - most)} short",
            remedy="use wider or more holes, or a wider pipe",
        )
    return root(lambda level: solved(bar, level).flow - wanted, lowest, top)


def _diameter_for(bar: Bar, wanted: float, solved: Callable[[Bar], BarFlow]) -> Bar:
    narrowest, widest = min(bar.diameters), max(bar.diameters)
    gap = min((b - a for a, b in zip(bar.positions[:-1], bar.positions[1:], strict=True)), default=math.inf)
    low = CLOG_DIAMETER / narrowest
    high = min(WIDEST_HOLE * bar.bore, gap / PITCH_DIAMETERS) / widest

    def scaled(share: float) -> Bar:
        return replace(bar, diameters=tuple(size * share for size in bar.diameters))

    if low > high:
        raise NotPossible(
            f"no hole size is sensible here: {CLOG_DIAMETER * 1000:g} mm clogs, and the pitch or the "
            f"bore allows {high * widest * 1000:.2g} mm",
            remedy="use a wider pipe or a wider pitch",
        )
    least, most = solved(scaled(low)).flow, solved(scaled(high)).flow
    if wanted > most:
        raise NotPossible(
            f"even holes of {high * widest * 1000:.3g} mm give {_lph(most)} of the {_lph(wanted)} wanted",
            remedy="use more head, a wider pipe or more holes",
        )
    if wanted < least:
        raise NotPossible(
            f"holes of {low * narrowest * 1000:.3g} mm, the narrowest that stays clear, give {_lph(least)}, "
            f"more than the {_lph(wanted)} wanted",
            remedy="use fewer holes or less head",
        )
    return scaled(root(lambda share: solved(scaled(share)).flow - wanted, low, high))


def _pitch_for(bar: Bar, wanted: float, solved: Callable[[Bar], BarFlow]) -> Bar:
    if len(set(bar.diameters)) > 1:
        raise OutOfRange("the pitch can be found for equal holes only", remedy="give all holes one diameter")
    size, span = bar.diameters[0], bar.served_length
    first, last = bar.positions[0], bar.positions[-1]
    middle = 0.5 * (first + last) if bar.count > 1 else 0.5 * span

    def spaced(count: int) -> Bar:
        places = middle + (np.arange(count) - 0.5 * (count - 1)) * span / count
        heights = np.interp(places, bar.positions, bar.heights)
        return replace(
            bar,
            positions=tuple(np.clip(places, 0.0, bar.length).tolist()),
            diameters=(size,) * count,
            heights=tuple(heights.tolist()),
        )

    most = max(1, int(span / (PITCH_DIAMETERS * size)))
    reached = solved(spaced(most)).flow
    if reached < wanted:
        raise NotPossible(
            f"even {most} holes, {PITCH_DIAMETERS:g} diameters apart, give {_lph(reached)} of the "
            f"{_lph(wanted)} wanted",
            remedy="use wider holes, more head or a wider pipe",
        )
    low, high = 0, most
    while high - low > 1:
        count = (low + high) // 2
        low, high = (count, high) if solved(spaced(count)).flow < wanted else (low, count)
    over = solved(spaced(high)).flow - wanted
    under = wanted - (solved(spaced(low)).flow if low else 0.0)
    return spaced(high if over <= under or low == 0 else low)
