"""What lies close around a thing, by points just off its surface: foam, sand, rock, wood, or open room."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from layout3d.model.model import Model
from layout3d.parts.base import Body, Vector, vector
from layout3d.solid.contain import inside
from layout3d.solid.shape import Shape

__all__ = ["CLOSES", "Around", "around_body", "around_mouth", "dense"]

CLOSES = ("background", "substrate", "rock", "wood")
"""Groups that close what lies in them: no water gets there, and no hand."""
OFF = 0.001
"""So far off the surface it is looked what lies there, [m]: foam and a bed lie nearer, a channel not."""
STEP = 0.005
"""Surfaces are looked at every so far, [m]."""
RINGS = ((0.0, 1), (0.45, 6), (0.85, 12))
"""Where a mouth is looked at: shares of its radius, and so many points on each."""

Points = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Around:
    """The share of a surface or mouth that lies against something, [-], what does, and the middle of that."""

    share: float
    bodies: tuple[str, ...]
    at: Vector


def around_body(model: Model, body: Body, *, groups: Collection[str] = CLOSES) -> Around:
    """Tell how much of a body's surface lies against bodies of other parts, of these groups."""
    shape = dense(body.solid.shape, STEP)
    a, b, c = shape.solid(body.solid.placement).vertices[shape.faces].transpose(1, 0, 2)
    normal = np.cross(b - a, c - a)
    doubled = np.linalg.norm(normal, axis=1)
    some = doubled > 0
    points = ((a + b + c) / 3)[some] + OFF * normal[some] / doubled[some, None]
    return _held_against(_near(model, body.part, groups, points), points, doubled[some])


def around_mouth(
    model: Model, at: Vector, direction: Vector, bore: float, *, part: str, groups: Collection[str] = CLOSES
) -> Around:
    """Tell how much of a round mouth lies against bodies of other parts; ``direction`` points out of it."""
    way = np.array(direction) / np.linalg.norm(direction)
    across = np.cross(way, np.eye(3)[int(np.abs(way).argmin())])
    across /= np.linalg.norm(across)
    other = np.cross(way, across)
    points = np.array(
        [
            np.array(at) + OFF * way + share * bore / 2 * (np.cos(turn) * across + np.sin(turn) * other)
            for share, count in RINGS
            for turn in np.arange(count) * 2 * np.pi / count
        ]
    )
    return _held_against(_near(model, part, groups, points), points, np.ones(len(points)))


def dense(shape: Shape, step: float) -> Shape:
    """Return a shape with edges of at most ``step``, [m]."""
    made = Shape.from_manifold(shape.manifold.refine_to_length(step))
    return shape if made is None else made


def _near(model: Model, part: str, groups: Collection[str], points: Points) -> list[Body]:
    low, high = points.min(axis=0), points.max(axis=0)
    return [
        body
        for body in model.bodies
        if body.part != part
        and body.group in groups
        and bool((body.solid.bounds[0] <= high).all() and (body.solid.bounds[1] >= low).all())
    ]


def _held_against(bodies: Iterable[Body], points: Points, weights: Points) -> Around:
    found = [(body.name, inside(body.solid, points)) for body in bodies]
    closed = np.zeros(len(points), dtype=bool)
    for _, here in found:
        closed |= here
    whole = float(weights.sum())
    middle = (
        np.average(points[closed], axis=0, weights=weights[closed]) if closed.any() else points.mean(axis=0)
    )
    shares = sorted(((-float(weights[here].sum()), name) for name, here in found if here.any()))
    return Around(
        share=float(weights[closed].sum()) / whole if whole else 0.0,
        bodies=tuple(name for _, name in shares),
        at=vector(middle),
    )
