"""Soft daylight reaching each vertex: how much of an uneven sky it sees past everything else.

Computed once in the scene's own space, so that it holds for every view, through glass, and while the window
turns. The scene is thrown as points onto one grid for each of a few dozen directions, and a vertex is lit
from there unless something lies in front of it: soft shadows and dark crevices, much cheaper than rays. Left
out: light that bounces from one thing to another, and the bending of light by water. Cells are about 1/220
of the scene wide, so shadows of things thinner than that are faint.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import partial

import numpy as np
from numpy.typing import NDArray

from layout3d.draw.mesh import nearest_points
from layout3d.draw.pieces import of_the_same
from layout3d.draw.sky import Floats, Light, Mesh, Surface, along, light_from, surface_points

__all__ = [
    "CONTACT",
    "GRID",
    "contact_shade",
    "daylight",
    "lamplight",
]

DIRECTIONS = 32
KEY = np.array([-0.40, -0.62, 0.68])  # towards the brightest part of the sky: over the viewer's left shoulder
GRID = 220  # cells along the longest side of the scene
CONTACT, CONTACT_SHADE = 0.035, 0.5  # m to which the shade of touching things reaches, and its depth
CONTACT_PITCH = 0.009  # of points over what others may lie close to, [m]
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


def daylight(
    surfaces: Sequence[Surface], throwers: Sequence[Mesh], *, cell: float, whose: str | None = None
) -> list[Floats]:
    """Return the light at surfaces' points, (n,) each: 1 on an open face turned to the bright sky.

    In a crevice 0.1 to 0.3 of it are left.

    Parameters
    ----------
    surfaces : points and normals, (n, 3) float each, [m] and unit vectors
    throwers : vertices (n, 3) float, [m], and faces (m, 3) int of all that throws shadow
    cell : width of the grid, [m]
    whose : names what is lit again and again; what it was last is kept, so that less of it is made anew.
        Arrays are then known as the very same ones, which nobody may change.
    """
    directions, brightness = _sky()

    def light(number: int) -> Light:
        towards, bright = directions[number], brightness[number]

        def on(_: Floats, normals: Floats, unblocked: Floats) -> Floats:
            facing = along(towards, normals)
            np.clip(facing, 0.0, None, out=facing)
            facing *= unblocked
            facing *= bright
            return facing

        return on

    ways = [(towards, light(number)) for number, towards in enumerate(directions)]
    sums = light_from(ways, surfaces, throwers, cell, "sky", whose)
    # what a face turned to the key would get under an open sky
    key = (KEY / np.linalg.norm(KEY)).astype(np.float32)
    open_sky = float((brightness * np.clip(directions @ key, 0.0, None)).sum())

    def with_bounce(normals: Floats, own: Floats) -> Floats:
        bounce = np.float32(0.10) + np.float32(0.07) * (1.0 - normals[:, 2])
        return np.asarray(own / np.float32(open_sky) + bounce, dtype=np.float32)

    both = [(normals, own) for (_, normals), own in zip(surfaces, sums, strict=True)]
    return [of_the_same("daylight", each, make=partial(with_bounce, *each)) for each in both]


def contact_shade(surface: Surface, others: Sequence[Mesh]) -> Floats:
    """Return what of the light gets to points close to other things, (n,): 1 from ``CONTACT`` on.

    It is the soft dark line where a stone meets the sand, finer than the cells of ``daylight``. What lies
    behind a face, as sand does before the other side of a thin wall, throws none on it.

    Parameters
    ----------
    surface, others : as ``daylight`` takes surfaces and what throws shadow; none of their arrays is changed
    """
    arrays = (*surface, *(array for mesh in others for array in mesh))
    return of_the_same("in contact", arrays, make=partial(_contact, *surface, others))


def _dark(points: Floats, _: Floats) -> Floats:
    return np.zeros(len(points), dtype=np.float32)


def _contact(points: Floats, normals: Floats, others: Sequence[Mesh]) -> Floats:
    near, towards = np.full(len(points), CONTACT), np.zeros((len(points), 3), dtype=np.float32)
    for mesh in others:
        which, ways = of_the_same("close to", (points, *mesh), make=partial(_close, points, mesh))
        distance = np.linalg.norm(ways, axis=1)
        nearer = distance < near[which]
        near[which[nearer]], towards[which[nearer]] = distance[nearer], ways[nearer]
    above = np.einsum("ij,ij->i", towards, normals)
    before = np.clip(1.0 + 2.0 * above / np.maximum(near, TOUCHING), 0.0, 1.0)
    return np.asarray(1.0 - CONTACT_SHADE * (1.0 - near / CONTACT) ** 2 * before, dtype=np.float32)


def _close(points: Floats, mesh: Mesh) -> tuple[NDArray[np.intp], Floats]:
    """Return which points may be within ``CONTACT`` of a surface, (k,), and the ways to it from there."""
    others = of_the_same("over", mesh, make=lambda: surface_points(*mesh, CONTACT_PITCH))
    nothing = np.zeros(0, dtype=np.intp), np.zeros((0, 3), dtype=np.float32)
    if not len(points) or not len(others):
        return nothing
    # of a wide bed, once for all that lies on it
    box = of_the_same("box", (points,), make=lambda: (points.min(axis=0), points.max(axis=0)))
    others = others[_within(others, box[0] - CONTACT, box[1] + CONTACT)]
    if not len(others):
        return nothing
    low, high = others.min(axis=0) - CONTACT, others.max(axis=0) + CONTACT
    inside = _within(points, low, high)
    # where there is any of them in a cube of that side or in one beside it
    held = np.zeros(((high - low) / CONTACT).astype(np.intp) + 3, dtype=bool)
    held[tuple(((others - low) / CONTACT).astype(np.intp).T + 1)] = True
    for axis in range(3):
        held |= np.roll(held, 1, axis=axis) | np.roll(held, -1, axis=axis)
    inside = inside[held[tuple(((points[inside] - low) / CONTACT).astype(np.intp).T + 1)]]
    return (inside, nearest_points(points[inside], others) - points[inside]) if len(inside) else nothing


def _within(points: Floats, low: Floats, high: Floats) -> NDArray[np.intp]:
    """Return which points lie in a box: of a wide bed only those in its strip along x are looked at."""
    order, x = of_the_same("along x", (points,), make=partial(_along_x, points))
    some = order[slice(*np.searchsorted(x, (low[0], high[0])))]
    rows = points[some]
    return np.asarray(some[((rows > low) & (rows < high)).all(axis=1)])


def _along_x(points: Floats) -> tuple[NDArray[np.intp], Floats]:
    order = np.argsort(points[:, 0], kind="stable")
    return order, points[order, 0]


def lamplight(
    surfaces: Sequence[Surface],
    throwers: Sequence[Mesh],
    lamps: Floats,
    *,
    cell: float,
    whose: str | None = None,
) -> list[Floats]:
    """Return the light that lamps throw on surfaces' points, (n,) each: about 1 half a metre below one.

    Parameters
    ----------
    lamps : (k, 3) points that shine downwards, evenly all round, [m]; k may be 0
    surfaces, throwers, cell, whose : as ``daylight`` takes them

    Notes
    -----
    It falls off with the square of the distance, and with the cosines at both ends. What stands in its way is
    looked for straight above a point: lamps hang over what they light.
    """
    if not len(lamps):
        return [of_the_same("no lamp", each[:1], make=partial(_dark, *each)) for each in surfaces]

    def on(points: Floats, normals: Floats, unblocked: Floats) -> Floats:
        light = np.zeros(points.shape[1], dtype=np.float32)
        for lamp in lamps:
            x, y, z = lamp[:, None] - points
            square = np.maximum(x * x + y * y + z * z, np.float32(NEAREST_LAMP**2))
            facing = x * normals[0] + y * normals[1] + z * normals[2]
            light += np.clip(facing, 0.0, None) * np.clip(z, 0.0, None) / square**2
        light *= np.float32(LAMP_REACH**2 / 3.0)  # of three points a lamp
        light *= np.float32(0.25) + np.float32(0.75) * unblocked
        return np.asarray(np.minimum(light, 1.5), dtype=np.float32)

    up = np.array([0.0, 0.0, 1.0], dtype=np.float32)
    return light_from([(up, on)], surfaces, throwers, cell, f"lamps {lamps.tolist()}", whose)
