"""Soft daylight reaching each vertex: how much of an uneven sky it sees past everything else.

Computed once in the scene's own space, so that it holds for every view, through glass, and while the window
turns. The scene is thrown as points onto one grid for each of a few dozen directions, and a vertex is lit
from there unless something lies in front of it: soft shadows and dark crevices, much cheaper than rays. Left
out: light that bounces from one thing to another, and the bending of light by water. Cells are about 1/220
of the scene wide, so shadows of things thinner than that are faint.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from layout3d.draw.mesh import nearest_points
from layout3d.wanted import go_on

__all__ = [
    "CONTACT",
    "GRID",
    "areas",
    "blockers_of",
    "contact_shade",
    "daylight",
    "lamplight",
    "spread_over",
    "surface_points",
    "thinned",
]

Floats = NDArray[np.float32]

DIRECTIONS = 32
KEY = np.array([-0.40, -0.62, 0.68])  # towards the brightest part of the sky: over the viewer's left shoulder
GRID = 220  # cells along the longest side of the scene
MOST_POINTS = 900_000
CHUNK = 16_384  # points
CONTACT, CONTACT_SHADE = 0.035, 0.5  # m to which the shade of touching things reaches, and its depth
TOUCHING = 0.003  # m: what is nearer is before a face and behind it alike
LAMP_REACH, NEAREST_LAMP = 0.5, 0.15  # m: where a lamp's light is 1, and from where on it grows no more


def _sky() -> tuple[Floats, Floats]:
    """Return directions over the upper half, evenly spread, (k, 3), and their brightness, (k,)."""
    k = np.arange(DIRECTIONS) + 0.5
    height = 0.03 + 0.96 * k / DIRECTIONS
    turn = k * math.pi * (3.0 - math.sqrt(5.0))
    across = np.sqrt(1.0 - height**2)
    towards = np.stack([across * np.cos(turn), across * np.sin(turn), height], axis=1)
    key = KEY / np.linalg.norm(KEY)
    bright = 0.42 + 0.75 * height**2 + 0.6 * np.clip(towards @ key, 0.0, 1.0) ** 3
    return towards.astype(np.float32), bright.astype(np.float32)


def surface_points(vertices: Floats, faces: NDArray[np.int32], spacing: float) -> Floats:
    """Spread points over a surface, about one for each ``spacing`` squared, the same each time.

    Parameters
    ----------
    vertices : (n, 3) float, [m];  faces : (m, 3) int
    spacing : [m], above 0

    Returns
    -------
    (k, 3) float, [m]; k is 0 where there are no faces.
    """
    if not len(faces):
        return np.zeros((0, 3), dtype=np.float32)
    a, b, c = (vertices[faces[:, i]] for i in range(3))
    total = np.cumsum(areas(a, b, c))
    count = int(min(max(total[-1] / spacing**2, 1.0), MOST_POINTS))
    at = (np.arange(count) + 0.5) * (total[-1] / count)
    face = np.minimum(np.searchsorted(total, at), len(faces) - 1)
    u, v = (share[:, None] for share in _spread(count))
    points = a[face] + u * (b[face] - a[face]) + v * (c[face] - a[face])
    return np.asarray(points, dtype=np.float32)


def areas(a: NDArray[Any], b: NDArray[Any], c: NDArray[Any]) -> NDArray[np.float64]:
    """Return the areas of triangles with corners at rows of these, (m, 3) [m]: (m,), [m²]."""
    one, other = (b - a).T, (c - a).T
    # column by column: several times as quick as the library's own product of rows of three
    across = (one[i - 2] * other[i - 1] - one[i - 1] * other[i - 2] for i in range(3))
    return np.asarray(np.sqrt(sum(side * side for side in across)).astype(np.float64) / 2.0)


def _spread(count: int) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return how far along its first and its second side each point lies in a triangle, (``count``,).

    The plane's low-discrepancy sequence of the plastic number: no clumps, no random draw.
    """
    k = np.arange(count)
    u, v = (0.5 + k * step for step in (0.7548776662466927, 0.5698402909980532))
    u -= np.floor(u)
    v -= np.floor(v)
    fold = u + v > 1.0
    return np.where(fold, 1.0 - u, u), np.where(fold, 1.0 - v, v)


def thinned(points: Floats, cell: float) -> Floats:
    """Keep one point of each little cube of side ``cell`` that has any, (k, 3)."""
    if not len(points):
        return points
    low = points.min(axis=0)
    cubes = ((points - low) / np.float32(cell)).astype(np.int64)
    span = cubes.max(axis=0) + 1
    # cube and number of each point in one figure, so that one quick sort finds the first point of each cube
    order = ((cubes[:, 0] * span[1] + cubes[:, 1]) * span[2] + cubes[:, 2]) * len(points)
    order += np.arange(len(points))
    order.sort()
    cube, number = np.divmod(order, len(points))
    first = number[np.flatnonzero(np.diff(cube, prepend=-1))]
    return np.asarray(points[np.sort(first)], dtype=np.float32)


def spread_over(vertices: Floats, faces: NDArray[np.int32], cell: float) -> Floats:
    """Return points over a surface, close enough to throw shadow on a grid of ``cell``."""
    return surface_points(vertices, faces, 0.7 * cell)


def blockers_of(spread: Iterable[Floats], cell: float) -> Floats:
    """Return what throws shadow on a grid of ``cell``, of points ``spread_over`` surfaces."""
    return thinned(np.concatenate([np.zeros((0, 3), dtype=np.float32), *spread]), 0.6 * cell)


def daylight(points: Floats, normals: Floats, blockers: Floats, *, cell: float) -> Floats:
    """Return the light at points, (n,): 1 on an open face turned to the bright sky, 0.1 to 0.3 in a crevice.

    Parameters
    ----------
    points, normals : (n, 3) float, [m] and unit vectors
    blockers : (k, 3) float, [m]; points over all that throws shadow, no further apart than ``cell``
    cell : width of the grid, [m]
    """
    if not len(points):
        return np.zeros(0, dtype=np.float32)
    directions, brightness = _sky()
    facing_up = np.ascontiguousarray(normals.T)
    # a cell and a bit off the surface, so that it does not shade itself
    raised = np.ascontiguousarray((points + normals * np.float32(1.2 * cell)).T)
    thrown = np.ascontiguousarray(blockers.T)
    light = np.zeros(len(points), dtype=np.float32)
    for towards, bright in zip(directions, brightness, strict=True):
        go_on()
        sieve = _Sieve(thrown, towards, np.float32(cell)) if len(blockers) else None
        for some in _chunks(len(points)):
            facing = _along(towards, facing_up[:, some])
            np.clip(facing, 0.0, None, out=facing)
            if sieve is not None:
                facing *= sieve.unblocked(raised[:, some])
            facing *= bright
            light[some] += facing
    # what a face turned to the key would get under an open sky
    key = (KEY / np.linalg.norm(KEY)).astype(np.float32)
    open_sky = float((brightness * np.clip(directions @ key, 0.0, None)).sum())
    bounce = np.float32(0.10) + np.float32(0.07) * (1.0 - normals[:, 2])
    return np.asarray(light / np.float32(open_sky) + bounce, dtype=np.float32)


def contact_shade(points: Floats, normals: Floats, others: Floats) -> Floats:
    """Return what of the light gets to points close to other things, (n,): 1 from ``CONTACT`` on.

    It is the soft dark line where a stone meets the sand, finer than the cells of ``daylight``. What lies
    behind a face, as sand does before the other side of a thin wall, throws none on it.

    Parameters
    ----------
    points, normals : (n, 3) float, [m] and unit vectors
    others : (k, 3) float, [m], over what they may lie close to
    """
    if not len(points) or not len(others):
        return np.ones(len(points), dtype=np.float32)
    shade = np.ones(len(points), dtype=np.float32)
    low, high = others.min(axis=0) - CONTACT, others.max(axis=0) + CONTACT
    inside = np.flatnonzero(((points > low) & (points < high)).all(axis=1))
    # where there is any of them in a cube of that side or in one beside it
    held = np.zeros(((high - low) / CONTACT).astype(np.intp) + 3, dtype=bool)
    held[tuple(((others - low) / CONTACT).astype(np.intp).T + 1)] = True
    for axis in range(3):
        held |= np.roll(held, 1, axis=axis) | np.roll(held, -1, axis=axis)
    inside = inside[held[tuple(((points[inside] - low) / CONTACT).astype(np.intp).T + 1)]]
    if len(inside):
        towards = nearest_points(points[inside], others) - points[inside]
        near = np.linalg.norm(towards, axis=1).astype(np.float64)
        close = near < CONTACT
        near, towards, which = near[close], towards[close], inside[close]
        above = np.einsum("ij,ij->i", towards, normals[which])
        before = np.clip(1.0 + 2.0 * above / np.maximum(near, TOUCHING), 0.0, 1.0)
        shade[which] -= np.float32(CONTACT_SHADE) * (1.0 - near / CONTACT) ** 2 * before
    return shade


def lamplight(points: Floats, normals: Floats, blockers: Floats, lamps: Floats, *, cell: float) -> Floats:
    """Return the light that lamps throw on points, (n,): about 1 half a metre below one, 0 in the dark.

    Parameters
    ----------
    lamps : (k, 3) points that shine downwards, evenly all round, [m]; k may be 0
    points, normals, blockers, cell : as ``daylight`` takes them

    Notes
    -----
    It falls off with the square of the distance, and with the cosines at both ends. What stands in its way is
    looked for straight above a point: lamps hang over what they light.
    """
    light = np.zeros(len(points), dtype=np.float32)
    if not len(points) or not len(lamps):
        return light
    places, facing_to = np.ascontiguousarray(points.T), np.ascontiguousarray(normals.T)
    for some in _chunks(len(points)):
        for lamp in lamps:
            x, y, z = lamp[:, None] - places[:, some]
            square = np.maximum(x * x + y * y + z * z, np.float32(NEAREST_LAMP**2))
            facing = x * facing_to[0, some] + y * facing_to[1, some] + z * facing_to[2, some]
            light[some] += np.clip(facing, 0.0, None) * np.clip(z, 0.0, None) / square**2
    light *= np.float32(LAMP_REACH**2 / 3.0)  # of three points a lamp
    raised = np.ascontiguousarray((points + normals * np.float32(1.2 * cell)).T)
    if len(blockers):
        up = np.array([0.0, 0.0, 1.0], dtype=np.float32)
        sieve = _Sieve(np.ascontiguousarray(blockers.T), up, np.float32(cell))
        light *= np.float32(0.25) + np.float32(0.75) * sieve.unblocked(raised)
    return np.asarray(np.minimum(light, 1.5), dtype=np.float32)


def _chunks(count: int) -> list[slice]:
    """Return slices of so many rows that what is made of each stays in the processor's cache."""
    return [slice(begin, begin + CHUNK) for begin in range(0, count, CHUNK)]


class _Sieve:
    """What lies nearest to the sky in each cell of a grid square to a direction, of points (3, k)."""

    def __init__(self, blockers: Floats, towards: Floats, cell: np.float32) -> None:
        helper = np.eye(3, dtype=np.float32)[int(np.argmin(np.abs(towards)))]
        right = np.cross(helper, towards)
        self.right = (right / np.linalg.norm(right)).astype(np.float32)
        self.over = np.cross(towards, self.right).astype(np.float32)
        self.towards, self.cell = towards, cell
        u, v = (_along(way, blockers) for way in (self.right, self.over))
        # a border of one empty cell, where all that falls outside the grid is looked up
        self.u0, self.v0 = u.min() - cell, v.min() - cell
        self.wide, self.tall = int((u.max() - self.u0) / cell) + 2, int((v.max() - self.v0) / cell) + 2
        self.nearest = np.full(self.wide * self.tall, -np.inf, dtype=np.float32)
        for some in _chunks(len(u)):
            place = self._places(u[some], v[some])
            np.maximum.at(self.nearest, place, _along(towards, blockers[:, some]))

    def unblocked(self, points: Floats) -> Floats:
        """Return 1 where nothing lies between a point and the sky, 0 behind something, smooth between, (n,).

        ``points`` are (3, n): rows of x, y, z are several times quicker here.
        """
        u, v = _along(self.right, points), _along(self.over, points)
        ahead = self.nearest[self._places(u, v)]
        ahead -= _along(self.towards, points)
        ahead /= 2.0 * self.cell
        np.clip(ahead, 0.0, 1.0, out=ahead)
        return np.subtract(np.float32(1.0), ahead, out=ahead)

    def _places(self, u: Floats, v: Floats) -> NDArray[np.intp]:
        """Return the cells of points, those of the rim for what is outside; ``u`` and ``v`` are lost."""
        for along, begin, count in ((u, self.u0, self.wide), (v, self.v0, self.tall)):
            along -= begin
            along /= self.cell
            np.clip(along, 0.0, count - 0.5, out=along)
        place = u.astype(np.int32) * self.tall
        place += v.astype(np.int32)
        return place.astype(np.intp)  # what numpy counts by: others take it several times as long


def _along(way: Floats, rows: Floats) -> Floats:
    """Return how far points lie along a way, (n,); ``rows`` (3, n).

    Not by the matrix product: on three rows its threads wait for each other longer than they work.
    """
    found = way[0] * rows[0]
    for some in _chunks(len(found)):
        found[some] += way[1] * rows[1, some]
        found[some] += way[2] * rows[2, some]
    return np.asarray(found)
