"""Drip bars whose holes give unevenly, or whose holes take more than the bore can bring evenly."""

from __future__ import annotations

from collections.abc import Iterator

from layout3d.checks.base import Finding, rule
from layout3d.checks.flow_at import hole_of
from layout3d.checks.measure import limit
from layout3d.flow.result import BarRun
from layout3d.flow.running import running
from layout3d.model.model import Model

__all__ = ["uneven_bars"]


@rule(
    "drip-even",
    asks="The holes of a drip bar give alike, and their area is small beside the bore's.",
    limits=("drip_hole_area_ratio", "drip_variation", "drip_variation_most"),
)
def uneven_bars(model: Model) -> Iterator[Finding]:
    """Find uneven bars; one with dry holes is told by drip-dry alone."""
    usual, most = limit(model, "drip_variation"), limit(model, "drip_variation_most")
    for bar in running(model).bars:
        if bar.count("dry", "holds"):
            continue
        found = bar.variation.likely
        if found > usual:
            severe = found > most
            yield _uneven(model, bar, most if severe else usual, severe=severe)
        elif bar.bar.area_ratio > limit(model, "drip_hole_area_ratio"):
            yield _wide(model, bar)


def _uneven(model: Model, bar: BarRun, bound: float, *, severe: bool) -> Finding:
    strongest = max(bar.holes, key=lambda hole: hole.flow.likely)
    weakest = min(bar.holes, key=lambda hole: hole.flow.likely)
    name = "drip_variation_most" if severe else "drip_variation"
    return Finding(
        severity="fault" if severe else "warning",
        parts=(bar.run, bar.body),
        measured=bar.variation.likely,
        limit=bound,
        unit="",
        at=hole_of(model, bar, weakest.number).at,
        message=f"the holes of {bar.body} vary by {bar.variation.likely:.0%} ({bar.variation.low:.0%} to "
        f"{bar.variation.high:.0%}), over {bound:.0%} (limit {name}, common practice): hole "
        f"{strongest.number} gives {strongest.flow.likely / weakest.flow.likely:.1f} times hole "
        f"{weakest.number}; their area is {bar.bar.area_ratio:.2f} of the bore's",
        remedy="use a wider pipe, fewer or smaller holes, feed the bar in its middle, or set it level",
    )


def _wide(model: Model, bar: BarRun) -> Finding:
    bound = limit(model, "drip_hole_area_ratio")
    ratio = bar.bar.area_ratio
    return Finding(
        severity="warning",
        parts=(bar.run, bar.body),
        measured=ratio,
        limit=bound,
        unit="",
        at=hole_of(model, bar, 1).at,
        message=f"the holes of {bar.body} have {ratio:.2f} of the bore's area, over {bound:.2f} (limit "
        f"drip_hole_area_ratio, common practice): they vary by {bar.variation.likely:.0%} as drawn, and by "
        "more as slime builds up",
        remedy=f"drill holes of {(bound / ratio) ** 0.5:.0%} of their diameter or {bound / ratio:.0%} of "
        "their count, or use a wider pipe",
    )
