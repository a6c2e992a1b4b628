"""How high the water stands in each compartment of the sump while the pumps run, against the sump's rim."""

from __future__ import annotations

import math

from layout3d.checks.base import FLOOD_TEST, Finding, Findings, rule
from layout3d.checks.measure import length, limit, missing, worded
from layout3d.model.model import Model
from layout3d.outage.circuit import circuit


@rule(
    "sump-rim",
    asks="With the pumps running the water stands below the sump's rim in every compartment.",
    caution=FLOOD_TEST,
    limits=("compartment_to_rim",),
)
def sump_rim(model: Model) -> Findings:
    """Find compartments whose water, with the head over their baffle, comes too near the rim."""
    found = circuit(model)
    if found is None or found.flow is None:
        return
    sump, wanted = found.sump, limit(model, "compartment_to_rim")
    for crest, item, compartment in zip(
        sump.crests, found.compartments[:-1], sump.data.compartments, strict=False
    ):
        # held at the rim in the levels: what it would take is crest and head
        likely, high = (
            sump.rim
            - max(item.level.at(setting), -math.inf if crest is None else crest + item.head.at(setting))
            for setting in ("likely", "high")
        )
        if not missing(high, wanted):
            continue
        over = likely <= 0.0
        left = likely if over else high
        if over:
            how = worded(likely, "", "would have to rise {} over", "stands at") + f" the rim of {sump.name}"
        else:
            how = f"leaves {length(left)} at the high figure to the rim of {sump.name}"
        yield Finding(
            severity="fault" if over else "warning",
            parts=(f"{sump.name}.baffle_{item.name}",),
            measured=left,
            limit=0.0 if over else wanted,
            at=compartment.middle(sump.rim),
            message=f"the water of {sump.name}.{item.name}, "
            f"{length(item.head.likely, give=item.head.half)} over its baffle at the running flow, {how} "
            f"(limit compartment_to_rim, {length(wanted)}; {item.head.note})",
            remedy=f"make the baffle {length(wanted - left)} lower, or the sump higher",
        )
