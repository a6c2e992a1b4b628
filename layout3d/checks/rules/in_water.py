"""Equipment and the water around it: what has to be under water, and what has to stay dry."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from layout3d.checks.base import Finding, rule
from layout3d.checks.measure import farthest, judged, worded
from layout3d.model.model import Model
from layout3d.parts.base import Body, Built, Part, Vector, vector

__all__ = ["CURRENT", "stays_dry", "under_water", "water_around"]

CURRENT = (
    "Mains voltage beside water kills. Use a residual-current device, a drip loop on each cable, and unplug "
    "before a hand goes in."
)


_TOUCH = 1e-6  # what stands on a floor may be so far below it by rounding, [m]


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
            if bool(np.any(np.all((local >= low - _TOUCH) & (local <= high + _TOUCH), axis=1))):
                return compartment.water_z, f"the water of {built.part.name}.{compartment.name}"
    return None


def _standing(body: Body) -> NDArray[np.float64]:
    """Return the middle of a body and its lowest point, shape (2, 3): one of a tall rod's is in the water."""
    points = body.solid.vertices
    return np.stack([body.solid.bounds.mean(axis=0), points[int(np.argmin(points[:, 2]))]])


@rule(
    "under-water",
    asks="Heaters, mist makers and the inlets of pumps stay under water.",
    caution=CURRENT,
    limits=("water_cover",),
)
def under_water(model: Model) -> Iterator[Finding]:
    """Find equipment that works under water and stands out of it, or in none."""
    pumps = [pump for pump in model.pumps if not pump.part.air]
    for built in (*model.heaters, *model.mist_makers, *pumps):
        for body in built.bodies:
            water = water_around(model, body)
            if water is None:
                yield Finding(
                    parts=(built.part.name,),
                    at=vector(body.solid.centroid),
                    message=f"{built.part.name} stands in no water: neither in the tank nor in a sump",
                    remedy=f"put {built.part.name} into the tank or a compartment (`in: sump.name`)",
                )
            else:
                yield from _judge(model, built, body, *water)


def _judge(
    model: Model, built: Built[Part, object], body: Body, level: float, water: str
) -> Iterator[Finding]:
    what, place = _to_cover(built, body)
    cover = level - place[2]
    how = worded(cover, "is {} under", "is {} above", "is at")
    yield from judged(
        model,
        cover,
        "water_cover",
        0.0,
        parts=(built.part.name,),
        at=place,
        says=f"{what} of {built.part.name} {how} {water}",
        remedy=f"set {built.part.name} {{short}} lower, or raise the water",
    )


def _to_cover(built: Built[Part, object], body: Body) -> tuple[str, Vector]:
    """Return what has to be under water: a pump's inlet, else the highest point of the body."""
    if built.part.kind == "pump":
        return "the inlet", built.anchors["inlet"]
    return "the top", farthest(body.solid.vertices, (0.0, 0.0, 1.0))


@rule(
    "stays-dry",
    asks="Lights and air pumps stay above the water.",
    caution=CURRENT,
    limits=("light_over_water",),
)
def stays_dry(model: Model) -> Iterator[Finding]:
    """Find lights and air pumps in the water or too near above it."""
    for built in (*model.lights, *(pump for pump in model.pumps if pump.part.air)):
        for body in built.bodies:
            water = _water_under(model, body)
            if water is None:
                continue
            lowest = farthest(body.solid.vertices, (0.0, 0.0, -1.0))
            over = lowest[2] - water[0]
            how = worded(over, "hangs {} over", "reaches {} below")
            yield from judged(
                model,
                over,
                "light_over_water",
                0.0,
                parts=(built.part.name,),
                at=lowest,
                says=f"{built.part.name} {how} {water[1]}",
                remedy=f"raise {built.part.name} by {{short}}",
            )


def _water_under(model: Model, body: Body) -> tuple[float, str] | None:
    """Return the water that a body is in or over: a light counts as of the room, yet hangs over the tank."""
    if body.where == "room" and _over_tank(model, body):
        return model.waterline, "the waterline"
    return water_around(model, body)


def _over_tank(model: Model, body: Body) -> bool:
    """Tell whether any corner of a body is over the tank's inside, above its floor."""
    points = body.solid.vertices
    return bool(((model.tank.room(points) >= 0) & (points[:, 2] >= 0)).any())
