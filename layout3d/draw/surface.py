"""Colours of natural surfaces, vertex by vertex: grain of stone, wood, sand and leaf. No images, no light.

Each function takes points in the body's own axes, so that the grain moves with the body.
"""

from __future__ import annotations

import zlib
from functools import lru_cache
from typing import cast

import numpy as np
from numpy.typing import NDArray

from layout3d.draw.style import Finish
from layout3d.parts.forms.noise import Noise

__all__ = ["colours"]

Floats = NDArray[np.float64]

_MOSS = np.array([0.40, 0.46, 0.25])


def colours(
    finish: Finish, name: str, points: Floats, normals: Floats, hollow: Floats, height: Floats
) -> Floats:
    """Return surface colours without light, (n, 3) in 0 … 1.

    Parameters
    ----------
    finish : the look
    name : of the part; two parts of one finish differ a little
    points, normals : (n, 3) float, own axes, [m]
    hollow : (n,) float, -1 on ridges to 1 in hollows
    height : (n,) float, upward part of the normal in the scene, -1 … 1
    """
    base, second = np.array(finish.colour), np.array(finish.second)
    seed = zlib.crc32(name.encode())
    noise = _noise(seed)
    if finish.grain == "stone":
        mix, shade = _stone(noise, points, hollow)
    elif finish.grain == "wood":
        mix, shade = _wood(noise, points, hollow)
    elif finish.grain == "sand":
        mix, shade = _sand(noise, points, height)
    elif finish.grain == "leaf":
        mix, shade = _leaf(noise, points)
        base, second = _own_green(base, second, seed)
    else:
        mix, shade = np.zeros(len(points)), np.ones(len(points))
    mix = np.clip(0.5 + (mix - 0.5) * finish.contrast, 0.0, 1.0) if finish.grain != "plain" else mix
    shade = 1.0 + (shade - 1.0) * finish.contrast
    colour = (base + (second - base) * mix[:, None]) * shade[:, None]
    if finish.moss > 0.0:
        patches = noise.fractal(points / 0.09 + 7.0, 2)
        share = np.clip((height - 0.25) * 1.3, 0.0, 1.0) * np.clip(0.45 + 0.9 * patches, 0.0, 1.0)
        colour += (_MOSS * shade[:, None] - colour) * (share * finish.moss * 0.7)[:, None]
    return cast(Floats, np.clip(colour, 0.0, 1.0))


@lru_cache(maxsize=64)
def _noise(seed: int) -> Noise:
    """Return the noise of a part, which all of its bodies have in common."""
    return Noise(seed)


def _stone(noise: Noise, points: Floats, hollow: Floats) -> tuple[Floats, Floats]:
    wide = noise.fractal(points / 0.16, 3)
    fine = noise.gradient(points / 0.018)
    mix = np.clip(0.5 + 0.55 * wide + 0.18 * fine + 0.35 * hollow, 0.0, 1.0)
    shade = 1.0 + 0.07 * fine - 0.30 * np.clip(hollow, 0.0, 1.0) + 0.16 * np.clip(-hollow, 0.0, 1.0)
    return mix, shade


def _wood(noise: Noise, points: Floats, hollow: Floats) -> tuple[Floats, Floats]:
    if len(points) < 4:
        return np.zeros(len(points)), np.ones(len(points))
    centred = points - points.mean(axis=0)
    # grain runs along the piece's longest direction
    _, axes = np.linalg.eigh(centred.T @ centred)
    along = centred @ axes[:, ::-1]
    stretched = along / np.array([0.16, 0.012, 0.012])
    streak = noise.fractal(stretched, 2)
    wide = noise.gradient(along / np.array([0.30, 0.08, 0.08]) + 11.0)
    mix = np.clip(0.45 + 0.5 * streak + 0.35 * wide + 0.35 * hollow, 0.0, 1.0)
    shade = 1.0 + 0.08 * streak - 0.35 * np.clip(hollow, 0.0, 1.0) + 0.18 * np.clip(-hollow, 0.0, 1.0)
    return mix, shade


def _sand(noise: Noise, points: Floats, height: Floats) -> tuple[Floats, Floats]:
    wide = noise.fractal(points / 0.22, 2)
    fine = noise.gradient(points / 0.011)
    mix = np.clip(0.35 + 0.35 * wide + 0.45 * fine + 0.4 * (1.0 - np.abs(height)), 0.0, 1.0)
    return mix, 1.0 + 0.06 * fine


def _leaf(noise: Noise, points: Floats) -> tuple[Floats, Floats]:
    low, high = points.min(axis=0), points.max(axis=0)
    size = np.maximum(high - low, 1e-6)
    middle = (low + high) / 2.0
    out = np.linalg.norm((points - middle)[:, :2], axis=1) / np.linalg.norm(size[:2] / 2.0)
    rise = (points[:, 2] - low[2]) / size[2]
    young = np.clip(0.35 * out + 0.65 * rise, 0.0, 1.0)
    patch = noise.gradient(points / (0.25 * float(size.max())))
    mix = np.clip(1.0 - young + 0.3 * patch, 0.0, 1.0)
    return mix, 0.92 + 0.22 * young


def _own_green(base: Floats, second: Floats, seed: int) -> tuple[Floats, Floats]:
    """Shift a plant's green a little its own way: yellower or bluer, lighter or darker."""
    warm = ((seed & 0xFF) / 255.0 - 0.5) * 0.16
    light = (((seed >> 8) & 0xFF) / 255.0 - 0.5) * 0.22
    shift = np.array([warm, warm * 0.15, -warm * 0.6])
    return np.clip(base * (1.0 + light) + shift, 0.0, 1.0), np.clip(second * (1.0 + light) + shift, 0.0, 1.0)
