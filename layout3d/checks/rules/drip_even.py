"""Drip bars whose holes give unevenly, or whose holes take more than the bore can bring evenly."""

from __future__ import annotations

from layout3d.checks.base import Finding, Findings, rule
from layout3d.checks.flow_words import hole_of
from layout3d.checks.measure import limit
from layout3d.flow.running import running
from layout3d.model.model import Model


@rule(
    "drip-even",
    asks="The holes of a drip bar give alike, and their area is small beside the bore's.",
    limits=("drip_hole_area_ratio", "drip_variation", "drip_variation_most"),
)
def uneven_bars(model: Model) -> Findings:
    """Find uneven bars; one with dry holes is told by drip-dry alone."""
    usual, most = limit(model, "drip_variation"), limit(model, "drip_variation_most")
    wide = limit(model, "drip_hole_area_ratio")
    for bar in running(model).bars:
        if bar.count("dry", "holds"):
            continue
        spread, ratio = bar.variation, bar.bar.area_ratio
        strongest = max(bar.holes, key=lambda hole: hole.flow.likely)
        weakest = min(bar.holes, key=lambda hole: hole.flow.likely)
        severe = spread.likely > most
        name, bound = ("drip_variation_most", most) if severe else ("drip_variation", usual)
        if spread.likely > usual:
            yield Finding(
                severity="fault" if severe else "warning",
                parts=(bar.run, bar.body),
                measured=spread.likely,
                limit=bound,
                unit="",
                at=hole_of(model, bar, weakest.number).at,
                message=f"the holes of {bar.body} vary by {spread.likely:.0%} ({spread.low:.0%} to "
                f"{spread.high:.0%}), over {bound:.0%} (limit {name}, common practice): hole "
                f"{strongest.number} gives {strongest.flow.likely / weakest.flow.likely:.1f} times hole "
                f"{weakest.number}; their area is {ratio:.2f} of the bore's",
                remedy="use a wider pipe, fewer or smaller holes, feed the bar in its middle, or set it "
                "level",
            )
        elif ratio > wide:
            yield Finding(
                severity="warning",
                parts=(bar.run, bar.body),
                measured=ratio,
                limit=wide,
                unit="",
                at=hole_of(model, bar, 1).at,
                message=f"the holes of {bar.body} have {ratio:.2f} of the bore's area, over {wide:.2f} "
                f"(limit drip_hole_area_ratio, common practice): they vary by {spread.likely:.0%} as drawn, "
                "and by more as slime builds up",
                remedy=f"drill holes of {(wide / ratio) ** 0.5:.0%} of their diameter or {wide / ratio:.0%} "
                "of their count, or use a wider pipe",
            )
