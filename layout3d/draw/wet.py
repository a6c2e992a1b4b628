"""Where the water of drip holes runs: darker rock below them, and the rivulets on it. For the eye only.

It is drawn as running straight down the face of the wall, with a little wander: its way over ledges is not
computed.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from layout3d.draw.pieces import WATER_NAME, Lines, lines_of
from layout3d.draw.style import WATER
from layout3d.parts.forms.noise import Noise

if TYPE_CHECKING:
    from layout3d.model.model import Model

__all__ = ["Drips", "drips_of", "rivulets", "wetness"]

Floats = NDArray[np.float64]

DEEPEST = 0.22  # so far in front of its pipe a wall's face still gets the water of a hole, [m]
BEHIND = 0.02  # and so far behind, [m]
NARROWEST, SPREADS = 0.007, 0.026  # half width of a wet streak, [m], and what it gains over sqrt(1 m)
WANDER, WAVE = 0.006, 0.14  # sideways, and over which fall, [m]
ASIDE = 0.1  # so far aside of its hole no water gets, [m]
STEP = 0.012  # of a rivulet's line, [m]
LIFT = 0.002  # over the wall, [m]


@dataclass(frozen=True, slots=True, kw_only=True)
class Drips:
    """Drip holes: ``at`` (k, 3), and level unit vectors ``along`` the pipe and ``out`` towards the tank."""

    at: Floats
    along: Floats
    out: Floats


def drips_of(model: Model) -> Drips:
    """Return the holes of all drip bars over the tank's waterline, (k, 3) each; k may be 0."""
    middle = np.append(np.array(model.tank.plan).mean(axis=0), 0.0)
    rows = []
    for built in model.runs:
        for element in built.data.elements:
            along = np.subtract(element.path[-1], element.path[0]) * [1.0, 1.0, 0.0]
            length = float(np.linalg.norm(along))
            for hole in element.holes if length > 1e-6 else ():
                if hole.at[2] <= model.waterline:
                    continue
                out = np.array([-along[1], along[0], 0.0]) / length
                side = 1.0 if float(out @ (middle - hole.at)) >= 0.0 else -1.0
                rows.append((hole.at, along / length, out * side))
    found = np.array(rows, dtype=np.float64).reshape(-1, 3, 3)
    return Drips(at=found[:, 0], along=found[:, 1], out=found[:, 2])


def wetness(drips: Drips, points: Floats, normals: Floats, waterline: float) -> Floats:
    """Return how wet points of a wall's face are, (n,): 0 dry, towards 1 where water runs.

    Parameters
    ----------
    points, normals : (n, 3) of the wall, [m] and unit vectors
    """
    dry = np.ones(len(points))
    near_to = _Near(points)
    for number, (at, along, out) in enumerate(zip(drips.at, drips.along, drips.out, strict=True)):
        some = near_to.rows(at)
        near = points[some] - at
        ahead, fall, aside = near @ out, -near[:, 2], near @ along
        reached = (ahead > -BEHIND) & (ahead < DEEPEST) & (fall > 0.0) & (points[some, 2] > waterline)
        reached &= (np.abs(aside) < ASIDE) & (normals[some] @ out > -0.2)
        drop = fall[reached]
        wide = NARROWEST + SPREADS * np.sqrt(drop)
        off = (aside[reached] - _wander(number, drop)) / wide
        dry[some[reached]] *= 1.0 - 0.75 * np.exp(-(off**2)) / (1.0 + 0.4 * drop)
    return 1.0 - dry


def rivulets(drips: Drips, walls: Iterable[tuple[Floats, Floats]], waterline: float) -> list[Lines]:
    """Return the lines of water down walls, each given as points and normals, (n, 3); or no lines."""
    given = [(points, normals) for points, normals in walls if len(points)]
    if not given or not len(drips.at):
        return []
    points, normals = (np.concatenate(both) for both in zip(*given, strict=True))
    found, near_to = [], _Near(points)
    for number, (at, along, out) in enumerate(zip(drips.at, drips.along, drips.out, strict=True)):
        some = near_to.rows(at)
        near = points[some] - at
        ahead, fall, aside = near @ out, -near[:, 2], near @ along
        face = (
            (np.abs(aside) < 0.03)
            & (ahead > -BEHIND)
            & (ahead < DEEPEST)
            & (normals[some] @ out > 0.0)
            & (fall > 0.0)
        )
        levels = np.arange(STEP, at[2] - waterline, STEP)
        if face.sum() < 8 or not len(levels):
            continue
        # the foremost of the wall in each level, smooth over a few of them
        row = np.clip((fall[face] / STEP).astype(int), 0, len(levels))
        front = np.full(len(levels) + 1, -np.inf)
        np.maximum.at(front, row, ahead[face])
        known = np.flatnonzero(np.isfinite(front))
        depth = np.interp(np.arange(1, len(levels) + 1), known, front[known]) + LIFT
        path = at + along * _wander(number, levels)[:, None] + out * depth[:, None]
        path[:, 2] = at[2] - levels
        found.append(np.stack([path[:-1], path[1:]], axis=1))
    return [lines_of(WATER_NAME, np.concatenate(found), WATER.runs, 1.7, 0.4)] if found else []


class _Near:
    """Points (n, 3) in their order along x: of many holes each looks at few of them."""

    def __init__(self, points: Floats) -> None:
        self._order = np.argsort(points[:, 0], kind="stable")
        self._x = points[self._order, 0]

    def rows(self, at: Floats) -> NDArray[np.intp]:
        """Return which points may get water of a hole, in their own order, (k,)."""
        reach = math.hypot(ASIDE, DEEPEST)
        low, high = np.searchsorted(self._x, (at[0] - reach, at[0] + reach))
        return np.sort(self._order[low:high])


def _wander(number: int, fall: Floats) -> Floats:
    """Return how far aside the water of a hole runs, by how far it has fallen, [m]."""
    where = np.column_stack([fall / WAVE, np.full(len(fall), 3.7 * number), np.zeros(len(fall))])
    return np.asarray(WANDER * _noise().gradient(where) * np.minimum(fall / 0.05, 1.0))


@cache
def _noise() -> Noise:
    return Noise(11)
