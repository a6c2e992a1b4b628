"""The soft shadow that a scene throws on the ground it stands on."""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

from layout3d.draw.light import GRID, daylight
from layout3d.draw.pieces import WATER_NAME, Piece, surface_of
from layout3d.keep import remembered

__all__ = ["ground_shadow"]

PANE_SHADOW = 0.3  # of the shadow that an opaque thing in its place would throw
_SHEET = (151, 112)  # corners of the sheet, both one more than a multiple of
THINNED = 3
_UP = np.array([0.0, 0.0, 1.0], dtype=np.float32)


def ground_shadow(pieces: Iterable[Piece], bounds: NDArray[np.float64], whose: str) -> Piece:
    """Return the shadow on the ground: a sheet that is clear where it is fully lit.

    Parameters
    ----------
    pieces : what throws it, panes and cut faces too
    bounds : (2, 3) of all that is shown, [m]; the sheet lies just below
    whose : names what throws it again and again, as ``daylight`` takes it
    """
    dry = [piece for piece in pieces if piece.group != WATER_NAME]
    size = bounds[1] - bounds[0]
    cell = 3.0 * float(size.max()) / GRID
    reach = 0.55 * float(size.max())
    low, high = bounds[0, :2] - reach, bounds[1, :2] + reach
    nx, ny = _SHEET
    x, y = np.linspace(low[0], high[0], nx), np.linspace(low[1], high[1], ny)
    grid = np.stack(np.meshgrid(x, y, indexing="ij"), axis=-1).reshape(-1, 2)

    def sheet() -> tuple[NDArray[np.float32], NDArray[np.float32]]:
        points = np.column_stack([grid, np.full(len(grid), bounds[0, 2] - 0.0015)]).astype(np.float32)
        return points, np.tile(_UP, (len(points), 1))

    lit = remembered("ground", bounds, make=sheet)
    open_sky = _open_sky()

    def darkness(of: str, thrown: list[Piece]) -> NDArray[np.float64]:
        meshes = [(piece.points, piece.faces) for piece in thrown]
        (light,) = daylight([lit], meshes, cell=cell, whose=f"{whose} {of}")
        return np.clip(1.0 - light.astype(np.float64) / open_sky, 0.0, 1.0)

    dark = darkness("without panes", [piece for piece in dry if not piece.clear])
    # glass dims what lies under it, no more
    dark = np.maximum(dark, PANE_SHADOW * darkness("with panes", dry))
    dark = dark.reshape(nx, ny)
    for _ in range(4):  # the sky is a few dozen lamps, whose single shadows must not show far out
        for axis in (0, 1):
            around = np.pad(dark, [(2, 2) if side == axis else (0, 0) for side in (0, 1)], mode="edge")
            dark = sliding_window_view(around, 5, axis=axis).mean(axis=-1)
    # smooth as it is now, a corner in three tells it all
    grid, dark = (v.reshape(nx, ny, -1)[::THINNED, ::THINNED] for v in (grid, dark))
    nx, ny = dark.shape[:2]
    grid, dark = grid.reshape(-1, 2), dark.reshape(nx, ny)
    points = np.column_stack([grid, np.full(len(grid), bounds[0, 2] - 0.0015)]).astype(np.float32)
    # to nothing at the rim of the sheet
    edge = np.minimum(grid - low, high - grid).min(axis=1) / reach
    dark = dark.ravel() * np.clip(edge * 1.6, 0.0, 1.0)
    i = np.arange(nx - 1)[:, None] * ny + np.arange(ny - 1)[None, :]
    a, b, c, d = (v.ravel() for v in (i, i + ny, i + ny + 1, i + 1))
    faces = np.concatenate([np.stack([a, b, c], axis=1), np.stack([a, c, d], axis=1)]).astype(np.int32)
    colour = np.column_stack([np.tile([0.20, 0.19, 0.17], (len(points), 1)), 0.55 * dark])
    return surface_of("", points, _UP, faces, colour, clear=True, lighted=False)


@cache
def _open_sky() -> float:
    """Return the light on level ground under the open sky."""
    (light,) = daylight([(np.zeros((1, 3), dtype=np.float32), _UP[None])], [], cell=1.0)
    return float(light[0])
