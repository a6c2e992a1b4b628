"""What stands there while a tank is built, as the order of building has it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from layout3d.model.model import Model
from layout3d.parts.base import Body, Vector
from layout3d.shop.beds import sunk_in
from layout3d.shop.step import Step, worked_on
from layout3d.solid.boolean import intersection
from layout3d.solid.shape import Shape

__all__ = ["called", "filled_to", "stands_from_the_start", "undersides"]


def stands_from_the_start(model: Model, steps: Sequence[Step]) -> set[str]:
    """Return the bodies that no step puts in."""
    return {body.name for body in model.bodies}.difference(*(worked_on(model, step) for step in steps))


def undersides(model: Model) -> tuple[Vector, ...]:
    """Return the undersides of what stands in a bed: the middle of each, at its lowest height, [m]."""
    found = []
    for body in sunk_in(model).values():
        x, y, _ = (float(v) for v in body.solid.centroid)
        found.append((x, y, float(body.solid.bounds[0, 2])))
    return tuple(found)


def filled_to(body: Body, points: Sequence[Vector]) -> Body:
    """Return a bed filled as high as points (k of 1 or more), and as what lies between them in between.

    Between points the height is their mean, weighted by the inverse square of the distance.
    """
    whole = body.uncut or body.solid
    corners, given = np.array(whole.vertices), np.array(points)
    apart = np.square(corners[:, None, :2] - given[None, :, :2]).sum(axis=2)
    weight = 1.0 / np.maximum(apart, 1e-6)
    corners[:, 2] = np.minimum(corners[:, 2], (weight @ given[:, 2]) / weight.sum(axis=1))
    low = Shape.of(corners, whole.faces).solid()
    # what was cut away around stones, pipes and walls stays away
    left = intersection(low, body.solid)
    return body if left is None else replace(body, solid=left, uncut=None)


def called(body: Body) -> str:
    """Return what a body is called in a step: its part, but a bulkhead as its hole, and media by itself."""
    return body.name.split(".")[-1] if body.kind in ("bulkhead", "media") else body.part
