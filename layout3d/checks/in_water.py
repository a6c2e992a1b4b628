"""The water around a piece of equipment, and where it comes to stand when pumps stop or drains block."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from layout3d.checks.flow_words import blocked
from layout3d.model.model import Model
from layout3d.outage.outages import outages, water_levels
from layout3d.parts.base import Body, vector

__all__ = ["levels_at_stops", "water_around"]

TOUCH = 1e-6  # what stands on a floor may be so far below it by rounding, [m]


def levels_at_stops(model: Model, *, all_drains: bool) -> Iterator[tuple[str, str, tuple[float, float]]]:
    """Yield what stops, in words, a water's name as in ``water_levels``, and its least and most level, z [m].

    All pumps, then each drain; with several, all of them as well where ``all_drains`` says so.
    """
    found = outages(model)
    if found is None:
        return
    drains = found.blocked if found.circuit.drains else ()
    drains = drains if all_drains or len(drains) == 1 else drains[:-1]
    stops = [("when the pumps stop", found.power_cut)]
    stops += [(f"with {blocked(event.subject)} blocked", event) for event in drains]
    for words, event in stops:
        levels = [water_levels(found, event, number) for number in range(3)]
        for name in levels[0]:
            yield words, name, (min(one[name] for one in levels), max(one[name] for one in levels))


def water_around(model: Model, body: Body) -> tuple[float, str, str] | None:
    """Return the height of the water around a body, in the tank's axes, [m]; None for none.

    With it, it is told in words, and by its name as in ``water_levels``.

    A box or compartment is that which holds the middle of the body or its lowest point. Land above the water,
    and pockets that the water does not reach, are not told from open water.
    """
    for box in model.overflow_boxes:
        if any(box.data.holds(vector(point)) and point[2] <= box.data.rim for point in _standing(body)):
            return box.data.level, f"the water in {box.part.name}", box.part.name
    if body.where == "tank":
        return model.waterline, "the waterline", ""
    for built in model.sumps:
        for compartment in built.data.compartments:
            own = compartment.interior
            local = own.placement.inverse().apply(_standing(body))
            low, high = own.shape.bounds
            if bool(np.any(np.all((local >= low - TOUCH) & (local <= high + TOUCH), axis=1))):
                name = f"{built.part.name}.{compartment.name}"
                return compartment.water_z, f"the water of {name}", name
    return None


def _standing(body: Body) -> NDArray[np.float64]:
    """Return the middle of a body and its lowest point, shape (2, 3): one of a tall rod's is in the water."""
    points = body.solid.vertices
    return np.stack([body.solid.bounds.mean(axis=0), points[int(np.argmin(points[:, 2]))]])
