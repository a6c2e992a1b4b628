"""Room over the sump for a hand, for what has to be lifted out of it."""

from __future__ import annotations

import numpy as np

from layout3d.checks.base import Findings, rule
from layout3d.checks.measure import judged, worded
from layout3d.model.model import Model
from layout3d.parts.base import Body, vector

OVER = ("stand", "glass")
"""Groups that lie over a sump to stay; what else hangs there can be taken away."""


@rule(
    "sump-access",
    asks="A hand gets over the sump's rim, under what lies above it.",
    limits=("hand_access", "hand_access_least"),
)
def sump_access(model: Model) -> Findings:
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
