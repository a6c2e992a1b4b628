"""The bed of sand as rules need it: its height at places of the floor, and its height along a pane."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from layout3d.model.model import Model
from layout3d.parts.base import Built, Part
from layout3d.parts.tank_data import Wall
from layout3d.solid.placement import Array

__all__ = ["Ground", "TankOnly", "bed_height", "lowest_bed"]

STEP = 0.01
"""A bed is looked at every so far, [m]; finer than sand keeps a shape."""


class TankOnly:
    """All that a bed asks of its site to tell a height: the built tank."""

    def __init__(self, model: Model) -> None:
        self._tank = model.built[model.tank_name]

    def tank(self) -> Built[Part, object]:
        """Return the tank, built."""
        return self._tank


def bed_height(model: Model) -> Callable[[Array, Array], Array]:
    """Return the height of the ground over the tank's floor at x, y (k,), (k,) [m]; 0 where no bed lies."""
    site: Any = TankOnly(model)
    surfaces = [bed.surface(site) for bed in model.beds]

    def height(x: Array, y: Array) -> Array:
        highest = np.zeros(len(x))
        for surface in surfaces:
            highest = np.fmax(highest, surface(x, y))  # fmax passes over NaN, where a bed doesn't reach
        return highest

    return height


class Ground:
    """The beds of a model as they are drawn, before they are cut; the tank's floor where none lies."""

    def __init__(self, model: Model) -> None:
        site: Any = TankOnly(model)
        self._grids = [bed.grid(site) for bed in model.beds]
        self.highest = max((float(heights.max()) for _, _, heights in self._grids), default=0.0)

    def at(self, x: Array, y: Array) -> Array:
        """Return its height at x, y (k,), (k,) over the tank's floor, [m]: between grid points bilinear."""
        highest = np.zeros(len(x))
        for across, deep, heights in self._grids:
            i, s = _between(across, x)
            k, t = _between(deep, y)
            near = heights[i, k] * (1 - s) + heights[i + 1, k] * s
            far = heights[i, k + 1] * (1 - s) + heights[i + 1, k + 1] * s
            there = (across[0] <= x) & (x <= across[-1]) & (deep[0] <= y) & (y <= deep[-1])
            highest = np.where(there, np.maximum(highest, near * (1 - t) + far * t), highest)
        return highest


def _between(marks: Array, places: Array) -> tuple[NDArray[np.intp], Array]:
    """Return of evenly spaced marks the one before each place, and how far it is on to the next, [-]."""
    steps = (places - marks[0]) * ((len(marks) - 1) / (marks[-1] - marks[0]))
    before = np.clip(steps.astype(np.intp), 0, len(marks) - 2)
    return before, np.clip(steps - before, 0.0, 1.0)


def lowest_bed(model: Model, bounds: Array, *, near: Wall) -> float:
    """Return the least height of the ground in front of a pane over the width of something, [m].

    Parameters
    ----------
    bounds : (2, 3) of that thing, [m]
    near : the pane; the ground is looked at along its foot
    """
    corners = np.array([[x, y, 0.0] for x in bounds[:, 0] for y in bounds[:, 1]])
    along = near.local(corners)[:, 0]
    low, high = (float(np.clip(v, 0.0, near.length)) for v in (along.min(), along.max()))
    count = max(2, int(np.ceil((high - low) / STEP)) + 1)
    feet = np.array([near.at(float(u), 0.0, 1e-6) for u in np.linspace(low, high, count)])
    return float(bed_height(model)(feet[:, 0], feet[:, 1]).min())
