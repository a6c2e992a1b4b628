"""A bed steeper than sand stays, or that ends in a step which nothing holds."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any

import numpy as np

from layout3d.checks.base import Findings, rule
from layout3d.checks.measure import ROUNDING, judged, length
from layout3d.model.beds import TankOnly
from layout3d.model.model import Model
from layout3d.parts.base import Body, Vector
from layout3d.parts.forms.bed import cell_slopes
from layout3d.parts.substrate import Substrate
from layout3d.units import show

STEP = 0.010
"""A bed's free edge is looked at every so far, [m]; a lower step than this shapes itself."""
HOLD = 0.010
"""What stands within this of a free edge holds it back, [m]."""


@rule(
    "substrate-slope",
    asks="No bed is steeper than its sand stays, nor ends in a step that nothing holds.",
    limits=("substrate_slope", "substrate_slope_most"),
)
def substrate_slopes(model: Model) -> Findings:
    """Find the steepest place of each bed, within the glass, and free edges of its region."""
    for bed in model.beds:
        yield from _slope(model, bed)
        yield from _free_edge(model, bed)


def _slope(model: Model, bed: Substrate) -> Findings:
    site: Any = TankOnly(model)
    x, y, heights = bed.grid(site)
    slopes = np.radians(cell_slopes(x, y, heights))
    middles = np.stack(
        np.broadcast_arrays((x[1:, None] + x[:-1, None]) / 2, (y[None, 1:] + y[None, :-1]) / 2), axis=-1
    )
    over_floor = model.tank.room(middles.reshape(-1, 2)).reshape(slopes.shape) >= 0
    slopes[~over_floor] = 0.0
    steepest = float(slopes.max())
    place = _middlemost(slopes, middles, (float(x[1] - x[0]), float(y[1] - y[0])))
    yield from judged(
        model,
        steepest,
        "substrate_slope",
        "substrate_slope_most",
        most=True,
        kind="angle",
        parts=(bed.name,),
        at=(*place, float(bed.surface(site)(*place))),
        says=f"{bed.name} is {show(steepest, 'angle')} steep",
        remedy=f"spread {bed.name} out there, or hold it in steps with rock",
    )


def _middlemost(slopes: np.ndarray, middles: np.ndarray, cell: tuple[float, float]) -> tuple[float, float]:
    """Return the middle of the steepest cells, or of the one nearest to it where that is none of them."""
    places = middles[slopes >= slopes.max() - ROUNDING]
    middle = places.mean(axis=0)
    away = np.linalg.norm(places - middle, axis=1)
    x, y = middle if away.min() <= math.hypot(*cell) / 2 + ROUNDING else places[int(away.argmin())]
    return float(x), float(y)


def _free_edge(model: Model, bed: Substrate) -> Findings:
    """Find the highest step along the edges of a bed's region with nothing beside it that holds it back."""
    if bed.region is None:
        return
    height = bed.surface(TankOnly(model))  # type: ignore[arg-type] # all that a bed asks for
    near = [b for b in model.bodies if b.part != bed.name and b.kind != "foliage" and b.where == "tank"]
    highest, where = 0.0, (0.0, 0.0, 0.0)
    for place, outward in _edge(model, bed):
        step = float(height(*place))
        x, y = place + HOLD * outward
        z = step / 2
        if step > max(highest, STEP) and not any(_meets(body, (*place, z), (x, y, z)) for body in near):
            highest, where = step, (float(place[0]), float(place[1]), z)
    if highest:
        yield from judged(
            model,
            math.pi / 2,
            "substrate_slope",
            most=True,
            kind="angle",
            parts=(bed.name,),
            at=where,
            says=f"{bed.name} ends in a step {length(highest)} high that nothing beside it holds",
            remedy="stand rock, wood or glass along that edge, or let the bed run out to nothing there",
        )


def _edge(model: Model, bed: Substrate) -> Iterator[tuple[np.ndarray, np.ndarray]]:
    """Return places just inside the edge of a bed's region, off the glass, each with the way outward."""
    assert bed.region is not None, "only a region has edges of its own (_edge)"
    left, front, right, back = bed.region
    hair = 1e-6
    for low, high, outward in (
        ((left, front), (right, front), (0.0, -1.0)),
        ((left, back), (right, back), (0.0, 1.0)),
        ((left, front), (left, back), (-1.0, 0.0)),
        ((right, front), (right, back), (1.0, 0.0)),
    ):
        count = max(2, int(math.dist(low, high) / STEP))
        way = np.array(outward)
        for share in (np.arange(count) + 0.5) / count:
            place = np.array(low) + share * np.subtract(high, low) - hair * way
            if float(model.tank.room(place + HOLD * way)[0]) >= 0:
                yield place, way


def _meets(body: Body, start: Vector, end: Vector) -> bool:
    low, high = body.solid.bounds
    reach = np.array([start, end])
    if (reach.max(axis=0) < low).any() or (reach.min(axis=0) > high).any():
        return False
    return bool(body.solid.manifold.ray_cast(start, end))
