"""Heights of a sculpted bed of sand or gravel over the floor. No slip, no scour: see ``greatest_slope``."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import cast

import numpy as np
from numpy.typing import ArrayLike, NDArray

from layout3d.keep import remembered
from layout3d.parts.forms.mesh import require
from layout3d.parts.forms.noise import Floats, Noise

__all__ = ["BedHeight", "cell_slopes", "sculpted_bed", "slope_bed"]

BedHeight = Callable[[ArrayLike, ArrayLike], NDArray[np.float64]]

MOST_POINTS = 400  # the solve is dense; more points than this is a height image, not a list
DEEPEST = 3.0  # [m], deeper than any display tank
RIPPLE = 0.08  # wavelength of the broadest ripples, [m]
CLOSEST = 1e-4  # two given points nearer than this in plan, [m], contradict each other
_CHUNK = 20_000  # places evaluated at a time, so that memory stays small


def sculpted_bed(points: Sequence[Sequence[float]], *, roughness: float = 0.0, seed: int = 0) -> BedHeight:
    """Return a smooth bed through given depths, as a function of plan positions.

    Parameters
    ----------
    points : (k, 3) of x, y, depth, [m]; 1 to 400, depth 0 to 3, no two at one place
    roughness : height of the ripples as a share of the greatest given depth, 0 to 1; they die away
        towards the given points
    seed : of the ripples

    Returns
    -------
    function of x, y (any shapes that broadcast, [m]) giving heights over the floor, [m], from 0 to the
    greatest given depth and a tenth more

    Raises
    ------
    ValueError : no points, too many, two at one place, or a value outside the limits above.

    Notes
    -----
    It passes through each point. One point, or equal depths, gives a level bed. Between and beyond
    the points it may swing a little past the given depths; it is cut off at those limits.

    Sources
    -------
    Multiquadric interpolation: Hardy 1971, "Multiquadric equations of topography and other irregular
    surfaces", J. Geophys. Res. 76(8), 1905-1915.
    """
    given = np.array([tuple(p) for p in points], dtype=np.float64)
    if given.ndim != 2 or given.shape[1] != 3 or not 1 <= len(given) <= MOST_POINTS:
        raise ValueError(f"depths must be 1 to {MOST_POINTS} of (x, y, depth) in m, got shape {given.shape}")
    if not np.all(np.isfinite(given)) or float(np.max(np.abs(given[:, :2]))) > 100.0:
        raise ValueError("depths must be finite and within 100 m of the origin")
    for k, depth in enumerate(given[:, 2]):
        require(f"depths[{k + 1}]", float(depth), 0.0, DEEPEST, "m")
    rough = require("roughness", roughness, 0.0, 1.0)
    deepest = float(np.max(given[:, 2]))
    ceiling, wave = 1.1 * deepest, RIPPLE
    place, depth = given[:, :2], given[:, 2]
    apart = np.sqrt(np.sum((place[:, None] - place[None]) ** 2, axis=2))
    np.fill_diagonal(apart, np.inf)
    spacing = 1.0
    if len(given) > 1:
        if float(np.min(apart)) < CLOSEST:
            a, b = divmod(int(np.argmin(apart)), len(given))
            raise ValueError(
                f"depths[{a + 1}] and depths[{b + 1}] must be at least {CLOSEST} m apart in plan, "
                f"got {apart[a, b]:.2g} m"
            )
        spacing = float(np.mean(np.min(apart, axis=1)))
    np.fill_diagonal(apart, 0.0)
    bend = 0.5 * spacing  # how round the surface is over a point
    level = float(np.mean(depth))
    weights = _weights(apart, depth - level, bend)
    offset = level + weights[-1]
    noise = Noise(seed, 21)

    def height(x: ArrayLike, y: ArrayLike) -> NDArray[np.float64]:
        return remembered(
            "heights of a bed",
            *(given, rough, seed, np.asarray(x, dtype=np.float64), np.asarray(y, dtype=np.float64)),
            make=lambda: computed(x, y),
            size=lambda heights: heights.nbytes,
        )

    def computed(x: ArrayLike, y: ArrayLike) -> NDArray[np.float64]:
        wide, far = np.broadcast_arrays(np.asarray(x, dtype=np.float64), np.asarray(y, dtype=np.float64))
        flat = np.stack([wide.ravel(), far.ravel()], axis=1)
        out = np.zeros(len(flat))
        for start in range(0, len(flat), _CHUNK):
            here = flat[start : start + _CHUNK]
            square = np.sum((here[:, None] - place[None]) ** 2, axis=2)
            value = offset - np.sum(np.sqrt(square + bend * bend) * weights[:-1], axis=1)
            if rough > 0.0:
                near = np.min(square, axis=1)
                at = np.concatenate([here / wave, np.full((len(here), 1), 0.5)], axis=1)
                fade = 1.0 - np.exp(-near / (0.35 * wave) ** 2)
                value = value + 0.5 * rough * deepest * fade * noise.fractal(at, 3, gain=0.4)
            out[start : start + _CHUNK] = value
        heights = cast(Floats, np.clip(out, 0.0, ceiling).reshape(wide.shape))
        heights.flags.writeable = False
        return heights

    return height


def slope_bed(front_depth: float, back_depth: float, *, reach: float) -> BedHeight:
    """Return an even slope from the front glass (y = 0) to the back (y = ``reach``), level beyond both.

    Parameters
    ----------
    front_depth, back_depth : [m], 0 to 3
    reach : inside of the tank from front to back, [m], 0.01 to 20
    """
    front = require("front_depth", front_depth, 0.0, DEEPEST, "m")
    back = require("back_depth", back_depth, 0.0, DEEPEST, "m")
    run = require("reach", reach, 0.01, 20.0, "m")

    def height(x: ArrayLike, y: ArrayLike) -> NDArray[np.float64]:
        _, far = np.broadcast_arrays(np.asarray(x, dtype=np.float64), np.asarray(y, dtype=np.float64))
        return front + (back - front) * np.clip(far / run, 0.0, 1.0)

    return height


def cell_slopes(x: ArrayLike, y: ArrayLike, heights: ArrayLike) -> NDArray[np.float64]:
    """Return the steepest slope in each cell of a gridded bed, (nx - 1, ny - 1), [degrees] from level.

    Parameters
    ----------
    x : (nx,) float, rising, [m];  y : (ny,) float, rising, [m];  heights : (nx, ny) float, [m]

    Returns
    -------
    0 to 90; over the four triangles round the middle of each cell, the way a height field is drawn and
    measured.

    Raises
    ------
    ValueError : fewer than two places along a side, places that do not rise, or shapes that differ.
    """
    wide, far, z = (np.asarray(a, dtype=np.float64) for a in (x, y, heights))
    if wide.ndim != 1 or far.ndim != 1 or min(len(wide), len(far)) < 2 or z.shape != (len(wide), len(far)):
        raise ValueError(
            f"heights must be (nx, ny) with nx, ny at least 2, got {wide.shape}, {far.shape}, {z.shape}"
        )
    if np.any(np.diff(wide) <= 0.0) or np.any(np.diff(far) <= 0.0):
        raise ValueError("x and y must rise")
    along = np.diff(z, axis=0) / np.diff(wide)[:, None]
    across = np.diff(z, axis=1) / np.diff(far)[None, :]
    front, back, left, right = along[:, :-1], along[:, 1:], across[:-1, :], across[1:, :]
    rises = [
        *((side, (left + right) / 2.0) for side in (front, back)),
        *(((front + back) / 2.0, side) for side in (left, right)),
    ]
    steepest = np.max([along_x**2 + along_y**2 for along_x, along_y in rises], axis=0)
    return cast(Floats, np.degrees(np.arctan(np.sqrt(steepest))))


def _weights(apart: Floats, rise: Floats, bend: float) -> Floats:
    """Solve for the share of each point and a constant, with shares that sum to 0."""
    n = len(rise)
    matrix = np.ones((n + 1, n + 1))
    matrix[:n, :n] = -np.sqrt(apart * apart + bend * bend)
    matrix[n, n] = 0.0
    return cast(Floats, np.linalg.solve(matrix, np.concatenate([rise, [0.0]])))
