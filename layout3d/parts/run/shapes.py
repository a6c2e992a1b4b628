"""Shapes of what a run is laid from beside fittings: pipes with drip holes, bent tubes."""

from __future__ import annotations

import itertools
import math

import numpy as np

from layout3d.errors import OutOfRange
from layout3d.parts.base import Vector, vector
from layout3d.solid.boolean import difference, whole
from layout3d.solid.placement import Array
from layout3d.solid.primitives import cylinder, sweep, tube
from layout3d.solid.shape import Placement, Shape
from layout3d.solid.store import stored

__all__ = [
    "bends",
    "bent_path",
    "pipe_shape",
    "tube_shape",
]

HOLE_SIDES = 16  # corrected to the true area by the primitive; a drip hole is a few millimetres wide
_ARC_STEP = math.radians(7.5)


@stored
def pipe_shape(
    outside: float, inside: float, length: float, holes: tuple[tuple[float, float, float], ...]
) -> Shape:
    """Return a pipe along z from 0, with holes (distance along, angle from x, diameter), [m, rad, m]."""
    pipe = tube(outside / 2, inside / 2, length)
    if not holes:
        return pipe
    reach = outside / 2 * 1.05
    bits = {diameter: cylinder(diameter / 2, reach, n=HOLE_SIDES) for *_, diameter in holes}
    drills = []
    for along, angle, diameter in holes:
        axis = (math.cos(angle), math.sin(angle), 0.0)
        drills.append(bits[diameter].solid(Placement.from_frame((0.0, 0.0, along), (0.0, 0.0, 1.0), axis)))
    drilled = whole(difference(pipe.solid(), drills), "pipe")
    return Shape.of(drilled.vertices, drilled.faces)


@stored
def tube_shape(path: tuple[Vector, ...], outside: float, inside: float) -> Shape:
    """Return a tube swept along a path with rounded bends."""
    return sweep(np.array(path), outside / 2, inside_radius=inside / 2)


def bends(points: Array, radius: float) -> tuple[Array, Array]:
    """Return the turn at each inner corner of a polyline, and how much of each leg beside it the bend takes.

    Parameters
    ----------
    points : (k, 3) float, [m], no two in a row at one place
    radius : of the bends, [m]

    Returns
    -------
    turns : (k - 2,) float, [rad];  tangents : (k - 2,) float, [m]; both empty for a straight line.
    """
    legs = np.diff(points, axis=0)
    ways = legs / np.linalg.norm(legs, axis=1)[:, None]
    apart = np.linalg.norm(ways[1:] - ways[:-1], axis=1)
    together = np.linalg.norm(ways[1:] + ways[:-1], axis=1)
    turns = 2.0 * np.arctan2(apart, together)
    return turns, radius * np.tan(np.minimum(turns, 3.14) / 2)


def bent_path(points: Array, radius: float) -> tuple[Vector, ...]:
    """Round the corners of a polyline with arcs of one radius.

    Parameters
    ----------
    points : (k, 3) float, [m], no two in a row at one place
    radius : of the bends, [m]

    Returns
    -------
    A finer polyline: the arcs in steps of 7.5 degrees or less.

    Raises
    ------
    OutOfRange : a leg is shorter than its bends (see ``bends``).
    """
    legs = np.diff(points, axis=0)
    lengths = np.linalg.norm(legs, axis=1)
    ways = legs / lengths[:, None]
    turns, tangents = bends(points, radius)
    needed = np.concatenate([[0.0], tangents]) + np.concatenate([tangents, [0.0]])
    if np.any(needed > lengths + 1e-9):
        raise OutOfRange("bent_path: a leg is shorter than its bends", expected="longer legs")
    path: list[Array] = [points[0]]
    for index, turn in enumerate(turns, start=1):
        if turn < 1e-6:
            path.append(points[index])
            continue
        path += _arc(points[index], ways[index - 1], ways[index], float(turn), radius)
    path.append(points[-1])
    kept = [path[0]]
    kept += [p for q, p in itertools.pairwise(path) if float(np.linalg.norm(p - q)) > 1e-7]
    return tuple(vector(point) for point in kept)


def _arc(corner: Array, before: Array, after: Array, turn: float, radius: float) -> list[Array]:
    tangent = radius * math.tan(turn / 2)
    start = corner - tangent * before
    inward = after - float(np.dot(after, before)) * before
    inward = inward / np.linalg.norm(inward)
    centre = start + radius * inward
    steps = max(2, math.ceil(turn / _ARC_STEP))
    return [
        centre + radius * (math.sin(a) * before - math.cos(a) * inward)
        for a in np.linspace(0.0, turn, steps + 1)
    ]
