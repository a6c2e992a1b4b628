"""Beds that share out one floor: of a later one next to nothing is left over those before it."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from layout3d.checks.base import Findings, rule
from layout3d.checks.measure import judged, worded
from layout3d.model.beds import TankOnly
from layout3d.model.model import Model

MARKS = 40
"""A bed's height is looked at on a grid of so many places each way, [-]."""


@rule(
    "bed-on-bed",
    asks="A bed lies over those before it in the file, and is more than a skin on them.",
    limits=("bed_layer",),
)
def beds_on_beds(model: Model) -> Findings:
    """Find beds that stand, over half of where they lie on others, less than a layer above them."""
    site: Any = TankOnly(model)
    laid = [(bed, bed.surface(site), bed.grid(site)) for bed in model.beds]
    for number, (bed, height, (xs, ys, _)) in enumerate(laid):
        x, y = np.meshgrid(*(_middles(along) for along in (xs, ys)), indexing="ij")
        before = np.zeros(x.shape)
        for _, other, _ in laid[:number]:
            before = np.fmax(before, other(x, y))
        in_tank = model.tank.room(np.stack([x, y], axis=-1).reshape(-1, 2)).reshape(x.shape) >= 0
        over = (height(x, y) - before)[(before > 0) & in_tank]
        if not len(over):
            continue
        layer = float(np.median(over))
        place = float(xs.mean()), float(ys.mean())
        stands = worded(layer, "is {} higher", "no higher: {} below")
        others = [other.name for other, _, _ in laid[:number]]
        yield from judged(
            model,
            layer,
            "bed_layer",
            parts=(bed.name, *others),
            at=(*place, float(height(*place))),
            says=f"{bed.name} lies where {' and '.join(others[:3])} already lies, and {stands} in the middle "
            "of its heights",
            told=" over it (limit bed_layer)",
            remedy=f"give {bed.name} a `region:` of its own, or make it deeper than what lies under it",
        )


def _middles(along: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return places spread evenly between the ends of a bed, none on them: beds may lie side by side."""
    places: NDArray[np.float64] = along[0] + (along[-1] - along[0]) * (np.arange(MARKS) + 0.5) / MARKS
    return places
