"""Gravity drains that have to run uphill, or hold a trap of water that no air gets past."""

from __future__ import annotations

from layout3d.checks.base import FLOOD_TEST, Finding, Findings, rule
from layout3d.checks.flow_words import parts_of
from layout3d.checks.measure import length
from layout3d.flow.drain import LAYING
from layout3d.flow.overflow import gravity_drains
from layout3d.model.model import Model


@rule(
    "drain-uphill",
    asks="A drain without a pump falls, or runs level, all the way from the tank to its end.",
    caution=FLOOD_TEST,
)
def drain_uphill(model: Model) -> Findings:
    """Find drains whose path rises again, and drains that climb over the water they are to take."""
    told: set[tuple[str, ...]] = set()
    for drain in gravity_drains(model):
        if drain.rise > LAYING:
            yield Finding(
                parts=parts_of(drain),
                measured=drain.rise,
                limit=LAYING,
                at=drain.way.crest()[1],
                message=f"the drain {drain.name!r} climbs {length(drain.rise)} over its intake outside the "
                f"tank: nothing runs away before the water stands at {length(drain.crest)}",
                remedy=f"lead it {length(drain.rise)} lower, or raise its intake",
            )
        # two mouths of one drain share its traps
        worst = max(drain.traps, key=lambda trap: trap.depth, default=None)
        if worst is None or drain.parts in told:
            continue
        told.add(drain.parts)
        shuts = " and shuts off the air" if worst.sealed else ""
        yield Finding(
            parts=parts_of(drain),
            measured=worst.depth,
            limit=LAYING,
            at=worst.at,
            message=f"the drain {drain.name!r} runs down and then up again by {length(worst.depth)}: water "
            f"stands in it there{shuts}",
            remedy=f"lower what follows by {length(worst.depth)}, or lead it another way",
        )
