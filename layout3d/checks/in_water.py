"""The water around a piece of equipment."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from layout3d.model.model import Model
from layout3d.parts.base import Body, vector

__all__ = ["CURRENT", "water_around"]

CURRENT = (
    "Mains voltage beside water kills. Use a residual-current device, a drip loop on each cable, and unplug "
    "before a hand goes in."
)
TOUCH = 1e-6  # what stands on a floor may be so far below it by rounding, [m]


def water_around(model: Model, body: Body) -> tuple[float, str] | None:
    """Return the height of the water around a body, in the tank's axes, [m], and its name; None for none.

    A box or compartment is that which holds the middle of the body or its lowest point. Land above the water,
    and pockets that the water does not reach, are not told from open water.
    """
    for box in model.overflow_boxes:
        if any(box.data.holds(vector(point)) and point[2] <= box.data.rim for point in _standing(body)):
            return box.data.level, f"the water in {box.part.name}"
    if body.where == "tank":
        return model.waterline, "the waterline"
    for built in model.sumps:
        for compartment in built.data.compartments:
            own = compartment.interior
            local = own.placement.inverse().apply(_standing(body))
            low, high = own.shape.bounds
            if bool(np.any(np.all((local >= low - TOUCH) & (local <= high + TOUCH), axis=1))):
                return compartment.water_z, f"the water of {built.part.name}.{compartment.name}"
    return None


def _standing(body: Body) -> NDArray[np.float64]:
    """Return the middle of a body and its lowest point, shape (2, 3): one of a tall rod's is in the water."""
    points = body.solid.vertices
    return np.stack([body.solid.bounds.mean(axis=0), points[int(np.argmin(points[:, 2]))]])
