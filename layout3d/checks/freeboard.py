"""The distance from the waterline to the top of the glass, or to the perimeter brace."""

from __future__ import annotations

from collections.abc import Iterator

from layout3d.checks.base import Finding, rule
from layout3d.checks.measure import length, limit
from layout3d.checks.plugged import FLOOD
from layout3d.model.model import Model

__all__ = ["freeboard"]


@rule("freeboard", asks="The waterline stays below the glass's top edge, with freeboard.", caution=FLOOD)
def freeboard(model: Model) -> Iterator[Finding]:
    """Find a waterline too near the top."""
    left = model.tank.height - model.waterline
    wanted, least = limit(model, "freeboard"), limit(model, "freeboard_least")
    if left >= wanted:
        return
    middle = [(a + b) / 2 for a, b in zip(model.tank.low, model.tank.high, strict=True)]
    yield Finding(
        rule="freeboard",
        severity="fault" if left <= least else "warning",
        parts=(model.tank_name,),
        measured=left,
        limit=wanted,
        unit="m",
        at=(middle[0], middle[1], model.waterline),
        message=(
            f"the waterline leaves {length(model, left)} to the glass's top edge: {length(model, wanted - left)} "
            f"short of {length(model, wanted)} (limit freeboard)"
        ),
        remedy=f"lower the waterline by {length(model, wanted - left)}",
    )
