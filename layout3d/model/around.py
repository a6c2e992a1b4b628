"""What lies close around a thing, by points just off its surface: foam, sand, rock, wood, or open room."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from layout3d.keep import FIGURES, code_of, kept, key_of, remembered
from layout3d.model.model import Model
from layout3d.parts.base import Body, Vector, vector
from layout3d.solid.contain import inside
from layout3d.solid.distance import least_gap
from layout3d.solid.nearby import lies_in
from layout3d.solid.shape import Shape, Solid
from layout3d.solid.store import SHAPE

__all__ = ["CLOSES", "Around", "around_body", "around_mouth", "around_opening", "dense"]

CLOSES = ("background", "substrate", "rock", "wood")
"""Groups that close what lies in them: no water gets there, and no hand."""
OFF = 0.001
"""So far off the surface it is looked what lies there, [m]: foam and a bed lie nearer, a channel not."""
SURE = 1e-6
"""What is farther than that by so much holds none of these places, [m]."""
STEP = 0.005
"""Surfaces are looked at every so far, [m]."""
RINGS = ((0.0, 1), (0.45, 6), (0.85, 12))
"""Where a mouth is looked at: shares of its radius, and so many points on each."""
LAYERS = 8
"""So many planes before it are looked at."""
FACES = (*CLOSES, "glass", "sump", "stand")
"""Groups that may stand before an opening; filter media let water through."""

Points = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Around:
    """The share of a surface or mouth that lies against something, [-], what does, and the middle of that."""

    share: float
    bodies: tuple[str, ...]
    at: Vector


def around_body(model: Model, body: Body, *, groups: Collection[str] = CLOSES) -> Around:
    """Tell how much of a body's surface lies against bodies of other parts, of these groups."""

    def look() -> tuple[Points, Points]:
        shape = dense(body.solid.shape, STEP)
        a, b, c = shape.solid(body.solid.placement).vertices[shape.faces].transpose(1, 0, 2)
        normal = np.cross(b - a, c - a)
        doubled = np.linalg.norm(normal, axis=1)
        some = doubled > 0
        return ((a + b + c) / 3)[some] + OFF * normal[some] / doubled[some, None], doubled[some]

    def beside(other: Solid) -> bool:
        return least_gap(body.solid, other.uncarved) > OFF + SURE

    low, high = body.solid.bounds
    return _held_against(model, body.part, groups, (low - OFF, high + OFF), body.solid, look, beside=beside)


def around_mouth(model: Model, at: Vector, direction: Vector, bore: float, *, part: str) -> Around:
    """Tell what share of a round mouth's area bodies of other parts take; ``direction`` points out of it.

    As ``around_opening``, as far as a quarter of its bore: past a face so far off, the gap all around is as
    large as the bore's area, and nearer by that much smaller. Closed form, pi d h to pi d² / 4.
    """
    way = np.array(direction) / np.linalg.norm(direction)
    across = np.cross(way, np.eye(3)[int(np.abs(way).argmin())])
    across /= np.linalg.norm(across)
    other = np.cross(way, across)
    mouth = np.array(
        [
            np.array(at) + share * bore / 2 * (np.cos(turn) * across + np.sin(turn) * other)
            for share, count in RINGS
            for turn in np.arange(count) * 2 * np.pi / count
        ]
    )
    return around_opening(model, mouth, way, bore / 4.0, part=part)


def around_opening(model: Model, opening: Points, way: Points, reach: float, *, part: str) -> Around:
    """Tell what share of an opening bodies of other parts take, by points (n, 3) in it and the way out of it.

    What lies against a point takes all of it, a face before it by how much nearer it is than ``reach``, [m].
    """
    before = (np.arange(LAYERS) + 0.5) / LAYERS * reach
    points = (opening + before[:, None, None] * way).reshape(-1, 3)
    box = points.min(axis=0), points.max(axis=0)
    return _held_against(
        model, part, FACES, box, points, lambda: (points, np.ones(len(points))), layers=LAYERS
    )


def dense(shape: Shape, step: float) -> Shape:
    """Return a shape with edges of at most ``step``, [m]."""

    def made() -> Shape:
        return Shape.from_manifold(shape.manifold.refine_to_length(step)) or shape

    return remembered("dense", shape, step, make=made, size=SHAPE.size)


def _held_against(
    model: Model,
    part: str,
    groups: Collection[str],
    box: tuple[Points, Points],
    of: object,
    look: Callable[[], tuple[Points, Points]],
    layers: int = 1,
    beside: Callable[[Solid], bool] = lambda _: False,
) -> Around:
    """Tell what lies at points, with weights, that ``look`` makes in a box; ``of`` is all they hang on.

    Points of several layers are closed as well where the one of a layer before is; what is ``beside`` all of
    them closes none.
    """
    low, high = box
    near = model.near(vector(low), vector(high))
    bodies = [b for b in near if b.part != part and b.group in groups and b.kind != "media"]
    bodies = [b for b in bodies if not beside(b.solid)]
    bounds = np.stack(box)
    if not bodies:
        return Around(share=0.0, bodies=(), at=vector(bounds.mean(axis=0)))

    def figures() -> tuple[float, ...]:
        points, weights = look()
        filled = [_filled(body, points).reshape(layers, -1) for body in bodies]
        found = [np.logical_or.accumulate(each).ravel() for each in filled]
        closed = np.logical_or.reduce([np.zeros(len(points), dtype=bool), *found])
        some = closed.any()
        at = np.average(points[closed], axis=0, weights=weights[closed]) if some else points.mean(axis=0)
        whole = float(weights.sum())
        share = float(weights[closed].sum()) / whole if whole else 0.0
        # behind it how much each of them closes, -1 for nothing
        return (share, *at.tolist(), *(float(weights[here].sum()) if here.any() else -1.0 for here in found))

    content = tuple(_content(model, body, near, bounds, beside) for body in bodies)
    key = key_of("around", code_of("solid", "model"), of, content)
    share, x, y, z, *held = kept(key, FIGURES, figures)
    order = sorted((-much, body.name) for much, body in zip(held, bodies, strict=True) if much >= 0.0)
    return Around(share=share, bodies=tuple(name for _, name in order), at=(x, y, z))


def _filled(body: Body, points: Points) -> NDArray[np.bool_]:
    """Tell which points a body fills."""
    if body.uncut is None:
        return inside(body.solid, points)
    # where it was laid is the same whatever lies in it: only there what does is looked at
    laid = body.solid.uncarved
    filled = remembered("laid", laid, points, make=lambda: inside(laid, points), size=len).copy()
    filled[filled] = inside(body.solid, points[filled])
    return filled


def _content(
    model: Model, body: Body, near: Iterable[Body], bounds: Points, beside: Callable[[Solid], bool]
) -> tuple[bytes, ...]:
    """Return all that what a body fills in a box hangs on: what it is, or is cut around, far off does not."""
    if body.uncut is None:
        return (lies_in(body.solid, bounds),)
    around = [other.solid for other in near if other is not body and model.cut_apart(body, other)]
    around = [solid for solid in around if not beside(solid)]
    laid = body.uncut
    if body.rough is not None:
        laid = body.rough.solid
        around += [
            work
            for work in body.rough.works
            if (work.bounds[0] <= bounds[1]).all() and (work.bounds[1] >= bounds[0]).all()
        ]
    return (
        model.tank.interior.content_key,
        laid.content_key,
        *(lies_in(solid, bounds) for solid in around),
    )
