"""Baffles of the sump that reach to its rim or over it: the water runs over the rim first."""

from __future__ import annotations

from collections.abc import Iterator

from layout3d.checks.base import Finding, rule
from layout3d.checks.measure import ROUNDING, length, limit, missing
from layout3d.checks.rules.plugged import FLOOD
from layout3d.model.model import Model
from layout3d.parts.base import vector

__all__ = ["baffle_heights"]


@rule(
    "baffle-height",
    asks="Baffles that water runs over end below the sump's rim, with room for the water over them.",
    caution=FLOOD,
    limits=("baffle_to_rim",),
)
def baffle_heights(model: Model) -> Iterator[Finding]:
    """Find baffles too near the rim. A baffle that is open below may be as high as the sump, not higher."""
    wanted = limit(model, "baffle_to_rim")
    for built in model.sumps:
        data = built.data
        for compartment in data.compartments[:-1]:
            below = data.rim - data.floor - compartment.baffle_height
            least = 0.0 if compartment.baffle_gap > 0 else wanted
            short = missing(below, least)
            if not short:
                continue
            body = model.body(f"{built.part.name}.baffle_{compartment.name}")
            if below > 0:
                how = f"ends {length(model, below)} below"
            else:
                how = "reaches" if below == 0 else f"stands {length(model, -below)} over"
            yield Finding(
                rule="baffle-height",
                severity="fault" if below <= ROUNDING else "warning",
                parts=(body.name,),
                measured=below,
                limit=least,
                unit="m",
                at=vector([*body.solid.bounds.mean(axis=0)[:2], body.solid.bounds[1, 2]]),
                message=(
                    f"{body.name} {how} the rim of {built.part.name}: {length(model, short)} short of "
                    f"{length(model, least)} (limit baffle_to_rim)"
                ),
                remedy=f"make the baffle {length(model, short)} lower, or the sump higher",
            )
