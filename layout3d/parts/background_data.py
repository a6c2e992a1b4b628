"""What a built background tells the others: each slab's front surface over its panel, and what it hides."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from layout3d.keep import remembered
from layout3d.parts.tank_data import Panel
from layout3d.solid.primitives import heightfield
from layout3d.solid.shape import Solid

__all__ = ["BackgroundData", "Slab", "Window"]

Window: TypeAlias = tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]
"""Part of a slab's grid: its ``u``, ``v`` and ``front`` there."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Slab:
    """One slab on one panel. ``u`` (nu,), ``v`` (nv,) and ``front`` (nu, nv) are in the panel's axes, [m].

    ``front`` is the distance of the slab's front surface from the glass before anything is cut out of it;
    ``back`` that of its rear face (the bedding gap). ``bodies`` are the names of its pieces. ``openings`` are
    the rooms that its cut-outs take, in the file's order; ``channels`` those that are cut for a run, piece by
    piece, each with the run's name.
    """

    panel: Panel
    u: NDArray[np.float64]
    v: NDArray[np.float64]
    front: NDArray[np.float64]
    back: float
    bodies: tuple[str, ...]
    openings: tuple[Solid, ...] = ()
    channels: tuple[tuple[str, Solid], ...] = ()

    def covers(self, u: NDArray[np.float64], v: NDArray[np.float64]) -> NDArray[np.bool_]:
        """Tell for each (u, v) whether the slab stands there."""
        inside: NDArray[np.bool_] = (
            (u >= self.u[0]) & (u <= self.u[-1]) & (v >= self.v[0]) & (v <= self.v[-1])
        )
        return inside

    def holds(self, points: NDArray[np.float64]) -> NDArray[np.bool_]:
        """Tell for each point (n, 3) whether it lies between the glass and the slab's front surface."""
        u, v, depth = self.panel.local(points).T
        held: NDArray[np.bool_] = self.covers(u, v) & (depth > 0) & (depth < self.front_at(u, v))
        return held

    def behind(self, window: Window | None = None) -> Solid:
        """Return what lies between the glass and its front, of all of it or of a window."""
        u, v, front = window or (self.u, self.v, self.front)

        def make() -> Solid:
            return heightfield(u, v, front, min(0.0, float(front.min()))).solid(self.panel.placement())

        return remembered(
            "behind a slab", self.panel, u, v, front, make=make, size=lambda room: 100 * room.face_count
        )

    def front_at(self, u: NDArray[np.float64], v: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return the distance of the front surface from the glass at each (u, v), bilinear, [m]."""
        i = np.clip(np.searchsorted(self.u, u, side="right") - 1, 0, len(self.u) - 2)
        k = np.clip(np.searchsorted(self.v, v, side="right") - 1, 0, len(self.v) - 2)
        s = np.clip((u - self.u[i]) / (self.u[i + 1] - self.u[i]), 0.0, 1.0)
        t = np.clip((v - self.v[k]) / (self.v[k + 1] - self.v[k]), 0.0, 1.0)
        f = self.front
        low = f[i, k] * (1 - s) + f[i + 1, k] * s
        high = f[i, k + 1] * (1 - s) + f[i + 1, k + 1] * s
        result: NDArray[np.float64] = low * (1 - t) + high * t
        return result


@dataclass(frozen=True, slots=True, kw_only=True)
class BackgroundData:
    """A built background; ``hides`` names the parts it is foamed around or has a channel for.

    ``comes_out`` names the pieces of these that leave it on purpose.
    """

    slabs: tuple[Slab, ...]
    hides: tuple[str, ...]
    comes_out: tuple[str, ...] = ()
