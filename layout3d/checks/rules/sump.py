"""The sump: its baffles and levels against one another and its rim, and room for a hand over it."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator

import numpy as np

from layout3d.checks.base import Finding, rule
from layout3d.checks.flood_words import FLOOD_TEST
from layout3d.checks.measure import ROUNDING, farthest, judged, length, limit, missing, worded
from layout3d.checks.rules.plugged import FLOOD
from layout3d.model.model import Model
from layout3d.outage.circuit import circuit
from layout3d.parts.base import Body, vector

__all__ = ["baffle_heights", "sump_access", "sump_levels", "sump_rim"]

OVER = ("stand", "glass")
"""Groups that lie over a sump to stay; what else hangs there can be taken away."""


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


@rule(
    "sump-levels",
    asks="Water in the sump stands no higher than where it comes from.",
    limits=("sump_level_step",),
)
def sump_levels(model: Model) -> Iterator[Finding]:
    """Find compartments whose stated levels can't stand beside each other.

    Over a baffle, the water behind it stands no higher than in front. Under a baffle, both sides are level.
    """
    for built in model.sumps:
        data = built.data
        for before, after in itertools.pairwise(data.compartments):
            names = tuple(f"{built.part.name}.{c.name}" for c in (before, after))
            rise = after.level - before.level
            place = vector([*((np.array(after.low) + after.high) / 2)[:2], after.water_z])
            if before.baffle_gap > 0:
                yield from judged(
                    model,
                    abs(rise),
                    "sump_level_step",
                    most=True,
                    parts=names,
                    at=place,
                    says=f"{names[0]} and {names[1]} differ by {length(abs(rise))}, yet the baffle between "
                    "them is open below",
                    remedy=f"set `level:` of {after.name} to {length(before.level)}, as in {before.name}",
                )
            elif missing(0.0, rise):
                yield Finding(
                    parts=names,
                    measured=rise,
                    limit=0.0,
                    at=place,
                    message=f"{names[1]} stands {length(rise)} higher than {names[0]}, which fills it",
                    remedy=f"set `level:` of {after.name} to {length(before.level)} or less",
                )


@rule(
    "sump-rim",
    asks="With the pumps running the water stands below the sump's rim in every compartment.",
    caution=FLOOD_TEST,
    limits=("compartment_to_rim",),
)
def sump_rim(model: Model) -> Iterator[Finding]:
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
        x, y = (np.array(compartment.low) + compartment.high)[:2] / 2.0
        yield Finding(
            severity="fault" if over else "warning",
            parts=(f"{sump.name}.baffle_{item.name}",),
            measured=left,
            limit=0.0 if over else wanted,
            at=vector((x, y, sump.rim)),
            message=f"the water of {sump.name}.{item.name}, "
            f"{length(item.head.likely, give=item.head.half)} over its baffle at the running flow, {how} "
            f"(limit compartment_to_rim, {length(wanted)}; {item.head.note})",
            remedy=f"make the baffle {length(wanted - left)} lower, or the sump higher",
        )


@rule(
    "sump-access",
    asks="A hand gets over the sump's rim, under what lies above it.",
    limits=("hand_access", "hand_access_least"),
)
def sump_access(model: Model) -> Iterator[Finding]:
    """Find sumps with too little room between their rim and the lowest board or pane above."""
    for built in model.sumps:
        data = built.data
        low, high = data.interior.bounds
        above = [body for body in model.bodies if body.group in OVER and _over(body, low, high)]
        if not above:
            continue
        lid = min(above, key=lambda body: float(body.solid.bounds[0, 2]))
        room = float(lid.solid.bounds[0, 2]) - data.rim
        left = worded(room, "leaves {} over", "is {} below")
        yield from judged(
            model,
            room,
            "hand_access",
            "hand_access_least",
            parts=(built.part.name, lid.name),
            at=vector([*((low + high) / 2)[:2], data.rim]),
            says=f"{lid.name} {left} the rim of {built.part.name}",
            remedy="use a sump {short} lower, or a higher stand",
        )


def _over(body: Body, low: np.ndarray, high: np.ndarray) -> bool:
    """Tell whether a body lies over a sump's inside: above the middle of its height, and across its plan."""
    own_low, own_high = body.solid.bounds
    across = bool((own_low[:2] < high[:2]).all() and (own_high[:2] > low[:2]).all())
    return across and float(own_low[2]) > float(low[2] + high[2]) / 2
