"""Drip holes so small that algae, lime and grains close them."""

from __future__ import annotations

from layout3d.checks.base import Findings, rule
from layout3d.checks.measure import judged, length, limit, missing, runs
from layout3d.model.model import Model


@rule(
    "drip-clog",
    asks="Drip holes are wide enough to stay open.",
    limits=("drip_hole_diameter", "drip_hole_diameter_least"),
)
def clogging_holes(model: Model) -> Findings:
    """Find the smallest hole of each pipe, if it is too small."""
    wanted, least = limit(model, "drip_hole_diameter"), limit(model, "drip_hole_diameter_least")
    for name, run in runs(model):
        for element in run.elements:
            if not element.holes:
                continue
            smallest = min(element.holes, key=lambda hole: hole.diameter)
            closes = missing(smallest.diameter, least)
            count = sum(bool(missing(hole.diameter, wanted)) for hole in element.holes)
            yield from judged(
                model,
                smallest.diameter,
                "drip_hole_diameter_least" if closes else "drip_hole_diameter",
                least,
                parts=(element.body,),
                at=smallest.at,
                says=f"{count} of {len(element.holes)} drip holes of {element.body} clog: the smallest is "
                f"{length(smallest.diameter)}, {{miss}}",
                remedy=f"drill {name} with {length(wanted)} or more, fewer holes for the same flow, and put "
                "a strainer before the pump",
            )
