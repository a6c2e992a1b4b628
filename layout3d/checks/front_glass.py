"""Room along the front glass for a cleaning magnet."""

from __future__ import annotations

from collections.abc import Iterator

from layout3d.checks.base import Finding, Severity, rule
from layout3d.checks.measure import at, gaps_below, length, limit
from layout3d.model.model import Model
from layout3d.parts.base import Body

__all__ = ["front_glass"]

LET_OFF = ("glass", "background", "substrate")
"""Groups that reach the front by nature: other panes, slabs on the side walls, the bed."""


@rule("front-glass", asks="A cleaning magnet gets along the inside of the front glass.")
def front_glass(model: Model) -> Iterator[Finding]:
    """Find parts too near the front glass."""
    wanted, least = limit(model, "magnet_to_front_glass"), limit(model, "magnet_to_front_glass_least")
    front = f"{model.tank_name}.{model.built[model.tank_name].part.wall_names()[0]}"  # type: ignore[attr-defined] # a tank

    def may_hinder(body: Body) -> bool:
        return body.where == "tank" and body.group not in LET_OFF and body.kind not in ("foliage", "root")

    for body, _, between in gaps_below(model, may_hinder, lambda body: body.name == front, wanted):
        severity: Severity = "fault" if between.distance < least else "warning"
        short = wanted - between.distance
        yield Finding(
            rule="front-glass",
            severity=severity,
            parts=(body.name, front),
            measured=between.distance,
            limit=wanted,
            unit="m",
            at=at(between.at_a),
            message=(
                f"{body.name} is {length(model, between.distance)} from the front glass: {length(model, short)} "
                f"short of {length(model, wanted)} (limit magnet_to_front_glass)"
            ),
            remedy=f"move {body.part} back by {length(model, short)}",
        )
