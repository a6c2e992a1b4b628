"""Valves and unions where nobody can reach them: foamed into a background, under sand, or behind a slab."""

from __future__ import annotations

from layout3d.checks.base import Finding, Findings, Severity, rule
from layout3d.checks.measure import ROUNDING, limit, missing, runs
from layout3d.fittings.registry import fittings
from layout3d.model.around import around_body
from layout3d.model.model import Model
from layout3d.parts.base import vector


@rule(
    "buried-valve",
    asks="Valves and unions stay where a hand can reach them.",
    limits=("buried_share", "buried_share_least"),
)
def buried_valves(model: Model) -> Findings:
    """Find valves and unions whose own place is in foam, sand or rock, whatever else of their run is.

    One that is hidden in a channel can be reached by taking the slab off: only a warning.
    """
    few, most = limit(model, "buried_share_least"), limit(model, "buried_share")
    for name, run in runs(model):
        for element in run.elements:
            made = fittings().get(element.kind)
            if made is None or not made.hand:
                continue
            body = model.body(element.body)
            around = around_body(model, body)
            severity: Severity = "fault" if missing(around.share, most) <= ROUNDING else "warning"
            if around.share > few:
                holders = list(dict.fromkeys(model.body(holder).part for holder in around.bodies))
                how = f"is buried in {' and '.join(holders)} to {around.share:.0%} of its surface"
            else:
                middle, severity = body.solid.centroid[None, :], "warning"
                holders = [
                    built.part.name
                    for built in model.backgrounds
                    if any(channel.follow == name for channel in getattr(built.part, "channels", ()))
                    and any(slab.holds(middle).all() for slab in built.data.slabs)
                ]
                how = f"is hidden behind {' and '.join(holders)}"
            if holders:
                yield Finding(
                    severity=severity,
                    parts=(body.name, *holders),
                    at=vector(body.solid.centroid),
                    message=f"{body.name} {how}: no hand gets to it to {made.hand} it",
                    remedy=f"move it to where {name} is open, or leave an opening for a hand over it",
                )
