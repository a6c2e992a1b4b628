"""The distance from the waterline to the top of the glass, and to the perimeter brace."""

from __future__ import annotations

from collections.abc import Iterator

from layout3d.checks.base import Finding, rule
from layout3d.checks.measure import ROUNDING, length, limit, missing
from layout3d.checks.rules.plugged import FLOOD
from layout3d.model.model import Model
from layout3d.parts.base import Vector

__all__ = ["freeboard"]


@rule(
    "freeboard",
    asks="The waterline stays below the glass's top edge, with freeboard.",
    caution=FLOOD,
    limits=("freeboard_least", "freeboard"),
)
def freeboard(model: Model) -> Iterator[Finding]:
    """Find a waterline too near the top of the glass, and one that wets the perimeter brace."""
    yield from _to_glass(model)
    braces = [b for b in model.bodies_of(model.tank_name) if b.name == f"{model.tank_name}.perimeter_brace"]
    for brace in braces:
        left = float(brace.solid.bounds[0, 2]) - model.waterline
        over = missing(left, 0.0)
        if over:
            yield Finding(
                rule="freeboard",
                severity="warning",
                parts=(brace.name,),
                measured=left,
                limit=0.0,
                unit="m",
                at=_at(model),
                message=(
                    f"the waterline is {length(model, over)} above the lower face of {brace.name}: water "
                    "lies in the seam and under the strip"
                ),
                remedy=f"lower the waterline by {length(model, over)}",
            )


def _to_glass(model: Model) -> Iterator[Finding]:
    left = model.tank.height - model.waterline
    wanted, least = limit(model, "freeboard"), limit(model, "freeboard_least")
    short = missing(left, wanted)
    if not short:
        return
    leaves = f"leaves {length(model, left)} to" if left > 0 else "is at"
    yield Finding(
        rule="freeboard",
        severity="fault" if left <= least + ROUNDING else "warning",
        parts=(model.tank_name,),
        measured=left,
        limit=wanted,
        unit="m",
        at=_at(model),
        message=(
            f"the waterline {leaves} the glass's top edge: {length(model, short)} short of "
            f"{length(model, wanted)} (limit freeboard)"
        ),
        remedy=f"lower the waterline by {length(model, short)}",
    )


def _at(model: Model) -> Vector:
    x, y, _ = ((a + b) / 2 for a, b in zip(model.tank.low, model.tank.high, strict=True))
    return (x, y, model.waterline)
