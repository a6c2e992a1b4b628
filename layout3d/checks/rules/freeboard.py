"""The distance from the waterline to the top of the glass, and to the perimeter brace."""

from __future__ import annotations

from layout3d.checks.base import FLOOD, Finding, Findings, rule
from layout3d.checks.measure import ROUNDING, judged, length, limit, missing, worded
from layout3d.model.model import Model


@rule(
    "freeboard",
    asks="The waterline stays below the glass's top edge, with freeboard.",
    caution=FLOOD,
    limits=("freeboard_least", "freeboard"),
)
def freeboard(model: Model) -> Findings:
    """Find a waterline too near the top of the glass, and one that wets the perimeter brace."""
    place = model.tank.middle(model.waterline)
    left = model.tank.height - model.waterline
    yield from judged(
        model,
        left,
        "freeboard",
        limit(model, "freeboard_least") + 2 * ROUNDING,
        parts=(model.tank_name,),
        at=place,
        says=f"the waterline {worded(left, 'leaves {} to', 'is at')} the glass's top edge",
        remedy="lower the waterline by {short}",
    )
    name = f"{model.tank_name}.perimeter_brace"
    for brace in model.bodies_of(name):
        left = float(brace.solid.bounds[0, 2]) - model.waterline
        over = missing(left, 0.0)
        if over:
            yield Finding(
                severity="warning",
                parts=(name,),
                measured=left,
                limit=0.0,
                at=place,
                message=f"the waterline is {length(over)} above the lower face of {name}: water lies in the "
                "seam and under the strip",
                remedy=f"lower the waterline by {length(over)}",
            )
