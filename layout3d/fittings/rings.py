"""Skins over circles: round parts whose circles may each have their own number of sides. No booleans.

A fitting's socket needs the pipe's many sides, its outside does not: one ring may have 88 corners and the
next 48. The circles are those of ``solid.primitives``, same corners and same area, so that a pipe fills its
socket exactly.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import manifold3d
import numpy as np
from numpy.typing import ArrayLike, NDArray

from layout3d.errors import MeshRefused
from layout3d.solid.outline import circle, loop_area
from layout3d.solid.shape import Placement, Points, Shape

__all__ = [
    "BODY_SIDES",
    "Outline",
    "bent_bar",
    "corners",
    "mirrored",
    "placed_ring",
    "ring_arc",
    "skin",
    "turned",
    "within_corners",
]

Outline = list[tuple[float, float, int]]
"""Corners (radius, z, sides), [m, m, -], of a part that is round about z; radius 0 is a tip."""
BODY_SIDES = 48  # of the outside of fittings: 0.04 mm of sagitta on a 33 mm hub


def corners(sides: int, *points: tuple[float, float]) -> Outline:
    """Return corners (radius, z), [m], of an outline, whose circles have so many sides."""
    return [(radius, z, sides) for radius, z in points]


def mirrored(outline: Outline) -> Outline:
    """Return an outline with z the other way, walked from its end."""
    return [(radius, -z, sides) for radius, z, sides in reversed(outline)]


def within_corners(radius: float, n: int) -> float:
    """Return the radius of the circle whose polygon of n sides has its corners at ``radius``, [m]."""
    step = 2.0 * math.pi / n
    return radius / math.sqrt(step / math.sin(step))


def skin(rings: Sequence[Points], *, closed: bool) -> Shape:
    """Return the shape whose surface runs from ring to ring.

    Parameters
    ----------
    rings : each (n, 3) float, [m], all turning the same way and starting at the same angle; n may differ; one
        point is a tip
    closed : the last ring joins the first (a tube); otherwise both ends must be tips

    Raises
    ------
    MeshRefused : the surface does not close or encloses nothing.
    """
    starts = np.cumsum([0, *(len(ring) for ring in rings)])
    pairs = [(i, i + 1) for i in range(len(rings) - 1)]
    if closed:
        pairs.append((len(rings) - 1, 0))
    faces = np.concatenate([_zip(len(rings[i]), len(rings[j]), starts[i], starts[j]) for i, j in pairs])
    vertices = np.concatenate(rings)
    shape = Shape.trusted(vertices, faces)
    return Shape.of(vertices, faces if shape.volume > 0 else faces[:, ::-1])


def turned(profile: Outline) -> Shape:
    """Return the shape turned round z from an outline.

    One that starts and ends on the axis is solid there; others go round a section off the axis (a ring).
    Circles keep their true areas, so that a straight or conical shape has its true volume.

    Raises
    ------
    MeshRefused : the outline crosses itself.
    """
    outline = np.array([(r, z) for r, z, _ in profile])
    outline /= np.abs(outline).max() / 1e3  # the library rounds to 1e-8
    filled = manifold3d.CrossSection([outline], manifold3d.FillRule.NonZero).area()
    if not math.isclose(abs(loop_area(outline)), filled, rel_tol=1e-6):
        raise MeshRefused("turned: the outline crosses itself")
    rings = [
        np.column_stack([circle(r, n), np.full(n, z)]) if r > 0.0 else np.array([[0.0, 0.0, z]])
        for r, z, n in profile
    ]
    return skin(rings, closed=profile[0][0] > 0.0)


def ring_arc(bend_radius: float, angle: float, radius: float, n: int, steps: int) -> list[Points]:
    """Return the rings of a bend in the xy plane, its axes crossing at the origin.

    It comes in along +x and goes out turned by ``angle`` towards +y; the first ring lies at ``bend_radius``
    tan(angle/2) before the crossing, the last as far behind it. Each ring's corners start at +z (its "up").
    """
    before = bend_radius * math.tan(angle / 2.0)
    rings = []
    for turn in np.linspace(0.0, angle, steps + 1):
        centre = np.array([-before + bend_radius * math.sin(turn), bend_radius * (1.0 - math.cos(turn)), 0.0])
        along = (math.cos(turn), math.sin(turn), 0.0)
        rings.append(placed_ring(circle(radius, n), centre, along))
    return rings


def placed_ring(corners: Points, centre: ArrayLike, along: ArrayLike) -> Points:
    """Return a plane ring (n, 2) as (n, 3) round ``centre``, square to ``along``, its own x up (+z)."""
    frame = Placement.from_frame(centre, (0.0, 0.0, 1.0), along)
    return frame.apply(np.column_stack([corners, np.zeros(len(corners))]))


def bent_bar(bend_radius: float, angle: float, radius: float, n: int, steps: int) -> Shape:
    """Return a solid bend with flat ends (see ``ring_arc``)."""
    rings = ring_arc(bend_radius, angle, radius, n, steps)
    return skin(
        [rings[0].mean(axis=0, keepdims=True), *rings, rings[-1].mean(axis=0, keepdims=True)], closed=False
    )


def _zip(a: int, b: int, first: int, second: int) -> NDArray[np.int64]:
    """Faces between rings of ``a`` and ``b`` corners, numbered from ``first`` and ``second``.

    Walks once round both by angle: each step goes on along one of them.
    """
    if a == 1 or b == 1:
        along = np.full(max(a, b), a > 1)
    else:
        # halfway between corners, so that edges cross from a corner to the nearest one
        angles = np.concatenate([(np.arange(a) + 1.0) / a - 0.5 / a, (np.arange(b) + 1.0) / b - 0.5 / b])
        along = np.argsort(angles, kind="stable") < a
    on_a = np.concatenate([[0], np.cumsum(along)[:-1]])
    on_b = np.concatenate([[0], np.cumsum(~along)[:-1]])
    third = np.where(along, first + (on_a + 1) % a, second + (on_b + 1) % b)
    return np.column_stack([first + on_a % a, third, second + on_b % b])
