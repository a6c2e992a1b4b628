"""Beds of sand: steps and slopes that hold, one on another, and none in an open channel."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any

import numpy as np
from numpy.typing import NDArray

from layout3d.checks.base import Finding, rule
from layout3d.checks.measure import ROUNDING, judged, length, limit, worded
from layout3d.model.beds import TankOnly, beds
from layout3d.model.model import Model
from layout3d.parts.background_data import Slab
from layout3d.parts.base import Body, Vector, vector
from layout3d.parts.forms.bed import cell_slopes
from layout3d.parts.substrate import Substrate
from layout3d.solid.boolean import intersection, union
from layout3d.solid.primitives import heightfield
from layout3d.solid.shape import Solid
from layout3d.units import show

__all__ = ["beds_on_beds", "sand_in_channels", "substrate_slopes"]

STEP = 0.010
"""A bed's free edge is looked at every so far, [m]; a lower step than this shapes itself."""
HOLD = 0.010
"""What stands within this of a free edge holds it back, [m]."""

MARKS = 40
"""A bed's height is looked at on a grid of so many places each way, [-]."""


@rule(
    "substrate-slope",
    asks="No bed is steeper than its sand stays, nor ends in a step that nothing holds.",
    limits=("substrate_slope", "substrate_slope_most"),
)
def substrate_slopes(model: Model) -> Iterator[Finding]:
    """Find the steepest place of each bed, within the glass, and free edges of its region."""
    for bed in beds(model):
        yield from _slope(model, bed)
        yield from _free_edge(model, bed)


def _slope(model: Model, bed: Substrate) -> Iterator[Finding]:
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


def _free_edge(model: Model, bed: Substrate) -> Iterator[Finding]:
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


@rule(
    "bed-on-bed",
    asks="A bed lies over those before it in the file, and is more than a skin on them.",
    limits=("bed_layer",),
)
def beds_on_beds(model: Model) -> Iterator[Finding]:
    """Find beds that stand, over half of where they lie on others, less than a layer above them."""
    site: Any = TankOnly(model)
    laid = [(bed, bed.surface(site), bed.grid(site)) for bed in beds(model)]
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


@rule(
    "sand-in-channel",
    asks="Channels of a background stay open: no sand lies in them.",
    limits=("overlap_volume",),
)
def sand_in_channels(model: Model) -> Iterator[Finding]:
    """Find beds that reach into a channel behind the front of its slab, told once for each run."""
    least = limit(model, "overlap_volume")
    beds = [body for built in model.substrates for body in built.bodies]
    for built in model.backgrounds:
        for bed in beds:
            found: dict[str, list[Solid]] = {}
            for slab in built.data.slabs:
                for run, piece in _sand(bed, slab):
                    found.setdefault(run, []).append(piece)
            for run, pieces in found.items():
                sand = union(pieces)
                if sand is None or sand.volume <= least:
                    continue
                top = show(float(sand.bounds[1, 2]), "length")
                yield Finding(
                    parts=(bed.part, built.part.name, run),
                    measured=sand.volume,
                    limit=least,
                    unit="m³",
                    at=vector(sand.centroid),
                    message=f"{show(sand.volume, 'volume')} of {bed.part} lies in the channel of {run} in "
                    f"{built.part.name}, up to {top} over the tank's floor: it should be open there; the bed "
                    "holds the run and closes its holes",
                    remedy=f"lead {run} into the slab above the bed, keep the bed away (`region:`), or let "
                    f"{built.part.name} be foamed around it (`embeds:`)",
                )


def _sand(bed: Body, slab: Slab) -> Iterator[tuple[str, Solid]]:
    """Return what of a bed lies in each channel between the glass and the slab's front, with its run."""
    room: Solid | None = None
    for run, channel in slab.channels:
        sand = intersection(bed.solid, channel)
        if sand is None:
            continue
        if room is None:
            low = min(0.0, float(slab.front.min()))
            room = heightfield(slab.u, slab.v, slab.front, low).solid(slab.panel.placement())
        behind = intersection(sand, room)
        if behind is not None:
            yield run, behind
