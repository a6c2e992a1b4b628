"""A bulkhead's flat flange on a bent wall: it rests on two lines, and its gasket has to fill the rest."""

from __future__ import annotations

from layout3d.checks.base import FLOOD, Finding, Findings, rule
from layout3d.checks.drilled_holes import holes
from layout3d.checks.measure import length, limit, missing
from layout3d.model.model import Model


@rule(
    "flange-on-bend",
    asks="A flat flange on a bent wall leaves no more than its gasket takes.",
    caution=FLOOD,
    limits=("gasket_over_bend",),
)
def flanges_on_bends(model: Model) -> Findings:
    """Find bulkheads whose flange stands off a bent wall by more than a gasket fills."""
    most = limit(model, "gasket_over_bend")
    for hole, wall in holes(model):
        over = missing(most, hole.gap)
        if over:
            yield Finding(
                parts=(wall.body, hole.name),
                measured=hole.gap,
                limit=most,
                at=hole.at,
                message=f"the flange of {hole.name}, {length(hole.flange_diameter)} wide, stands off "
                f"{wall.body} by {length(hole.gap)} at its worst: {length(over)} more than its gasket takes "
                "(limit gasket_over_bend)",
                remedy="use a smaller bulkhead, drill a flat pane or the bottom, or have a flat seat made",
            )
