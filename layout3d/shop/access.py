"""What gets to a place: a hand to a bulkhead, nothing behind a slab."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from layout3d.keep import key_of, remembered
from layout3d.model.model import Model
from layout3d.parts.background import Background
from layout3d.parts.background_data import BackgroundData, Slab
from layout3d.parts.base import Body, Built, Port
from layout3d.shop.opening import directions
from layout3d.solid.distance import ball_passes, boxes_of
from layout3d.solid.shape import Solid

__all__ = ["HAND", "WAYS", "arm_reaches", "hand_reaches", "hidden_by"]

Array = NDArray[np.float64]

HAND = 0.095
"""Width of the way for a hand around a thing up to 25 mm wide, bare, [m]. MIL-STD-1472F, from memory."""
ARM = 1.5  # such a way is looked at as far as this, [m]
WAYS = 120  # directions that it is looked for in
_BENDS = 40  # and that an arm goes on in behind the wrist
HIDDEN = 0.5  # a body with more than this share of its corners behind a slab's front is hidden by it


def hand_reaches(port: Port, solids: Sequence[Solid]) -> bool:
    """Tell whether a hand gets straight to the end of a fitting, from anywhere in the open.

    A ball as wide as a hand in front of the port goes straight away from there in one of many directions, and
    touches nothing.
    """
    radius = HAND / 2.0
    start = np.array(port.at) + (radius + 0.005) * np.array(port.direction)
    boxes = boxes_of(solids)
    return any(ball_passes(start, start + ARM * way, radius, solids, boxes=boxes) for way in directions(WAYS))


def arm_reaches(centre: Array, size: float, solids: Sequence[Solid], *, width: float, wrist: float) -> bool:
    """Tell whether a hand gets to a place, and its arm from the open to that: straight, or bent at the wrist.

    Parameters
    ----------
    centre : (3,) of what is held, [m]; ``size`` half its width
    solids : what stands in the way; not what is held
    width : of the way, [m]; it is round
    wrist : from what is held to where the way bends, [m]; from there the arm goes on straight for ``ARM``
    """
    radius, boxes, on = width / 2.0, boxes_of(solids), directions(_BENDS)
    for way in directions(WAYS):
        start = centre + (size + radius + 0.005) * way
        bend = start + wrist * way
        if ball_passes(start, bend, radius, solids, boxes=boxes):
            arms = (bend + ARM * each for each in (way, *on[on @ way > -0.2]))
            if any(ball_passes(bend, shoulder, radius, solids, boxes=boxes) for shoulder in arms):
                return True
    return False


def hidden_by(model: Model, background: Built[Background, BackgroundData]) -> tuple[str, ...]:
    """Return the bodies of plumbing that lie behind the front of a background's slabs."""
    data = background.data
    pipes = [b for b in model.bodies if b.group == "plumbing" and b.name not in data.comes_out]
    fronts = key_of("fronts", tuple((slab.panel, slab.u, slab.v, slab.front) for slab in data.slabs))

    def hidden(body: Body) -> bool:
        return remembered("hidden", fronts, body.kind, body.solid, make=lambda: _hidden(data.slabs, body))

    return tuple(body.name for body in pipes if hidden(body))


def _hidden(slabs: Sequence[Slab], body: Body) -> bool:
    for slab in slabs:
        behind = slab.holds(body.solid.vertices)
        if behind.mean() > HIDDEN or (body.kind == "bulkhead" and behind.mean() > 0.1):
            return True
    return False
