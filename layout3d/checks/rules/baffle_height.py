"""Baffles of the sump that reach to its rim or over it: the water runs over the rim first."""

from __future__ import annotations

from layout3d.checks.base import FLOOD, Findings, rule
from layout3d.checks.measure import ROUNDING, farthest, judged, limit, worded
from layout3d.model.model import Model


@rule(
    "baffle-height",
    asks="Baffles that water runs over end below the sump's rim, with room for the water over them.",
    caution=FLOOD,
    limits=("baffle_to_rim",),
)
def baffle_heights(model: Model) -> Findings:
    """Find baffles too near the rim. A baffle that is open below may be as high as the sump, not higher."""
    wanted = limit(model, "baffle_to_rim")
    for built in model.sumps:
        data = built.data
        for compartment in data.compartments[:-1]:
            below = data.rim - data.floor - compartment.baffle_height
            least = 0.0 if compartment.baffle_gap > 0 else wanted
            body = model.body(f"{built.part.name}.baffle_{compartment.name}")
            how = worded(below, "ends {} below", "stands {} over", "reaches")
            yield from judged(
                model,
                below,
                least,
                2 * ROUNDING,
                parts=(body.name,),
                at=farthest(body.solid.vertices, (0.0, 0.0, 1.0)),
                says=f"{body.name} {how} the rim of {built.part.name}",
                told=" (limit baffle_to_rim)",
                remedy="make the baffle {short} lower, or the sump higher",
            )
