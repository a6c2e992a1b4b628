"""Heights of a sculpted background over its panel: strata, crevices, boulders, roots, or from a grey image.

A relief is a height for each place of the panel, so nothing hangs over. Fields are sampled at
positions, not by index: a finer pitch shows the same surface in more detail.
"""

from __future__ import annotations

import math

import numpy as np

from layout3d.parts.forms.mesh import require, require_one_of
from layout3d.parts.forms.noise import Floats, Noise, draws, smooth_step

__all__ = ["RELIEF_FORMS", "Relief", "panel_grid", "relief"]

RELIEF_FORMS = ("strata", "crevices", "boulders", "roots")
MOST_PLACES = 4_000_000  # grid places; past that a panel is finer than anything it could be cut or drawn from

Relief = tuple[Floats, Floats, Floats]


def panel_grid(width: float, height: float, pitch: float) -> tuple[Floats, Floats]:
    """Return the places along a panel, both ends included, no farther apart than ``pitch``.

    Parameters
    ----------
    width, height : [m], 0.05 to 20
    pitch : [m], 0.0005 to a quarter of the shorter side

    Returns
    -------
    x : (nx,) float, z : (nz,) float, [m]

    Raises
    ------
    ValueError : a value outside the limits, or more than 4,000,000 places.
    """
    wide = require("width", width, 0.05, 20.0, "m")
    tall = require("height", height, 0.05, 20.0, "m")
    step = require("pitch", pitch, 0.0005, min(wide, tall) / 4.0, "m")
    nx, nz = math.ceil(wide / step - 1e-9) + 1, math.ceil(tall / step - 1e-9) + 1
    if nx * nz > MOST_PLACES:
        raise ValueError(f"pitch must give at most {MOST_PLACES} places, {pitch!r} m gives {nx * nz}")
    return np.linspace(0.0, wide, nx), np.linspace(0.0, tall, nz)


def relief(seed: int, *, form: str, width: float, height: float, depth: float, pitch: float) -> Relief:
    """Make a background relief; the same seed gives the same relief at any pitch.

    Parameters
    ----------
    seed : whole number, 0 or more
    form : 'strata' (tilted beds with broken ledges), 'crevices' (masses of rock parted by deep
        clefts), 'boulders' (rounded stones packed in mortar) or 'roots' (roots hanging down a bank)
    width, height : of the panel, [m], 0.05 to 20
    depth : from the panel to the foremost point, at most, [m], 0.005 to 2
    pitch : of the grid, [m]

    Returns
    -------
    x : (nx,) float, z : (nz,) float, [m]
    y : (nx, nz) float, heights over the panel, [m], in [0, depth]

    Raises
    ------
    ValueError : an unknown form, or a value outside the limits above.
    """
    require_one_of("form", form, RELIEF_FORMS)
    x, z = panel_grid(width, height, pitch)
    deep = require("depth", depth, 0.005, 2.0, "m")
    make = {"strata": _strata, "crevices": _crevices, "boulders": _boulders, "roots": _roots}[form]
    share = make(seed, x, z, deep)
    return x, z, np.clip(share, 0.0, 1.0) * deep


def _plane(x: Floats, z: Floats, wave: float, layer: float = 0.0) -> Floats:
    """Return points of the panel as noise cells of wavelength ``wave``, (nx, nz, 3)."""
    return np.stack(
        [
            np.broadcast_to(a, (len(x), len(z)))
            for a in (x[:, None] / wave, z[None, :] / wave, np.array([[layer]]))
        ],
        axis=-1,
    )


def _strata(seed: int, x: Floats, z: Floats, depth: float) -> Floats:
    rng, noise = draws(seed, 31), Noise(seed, 32)
    tilt = (0.10 + 0.16 * rng.random()) * (1.0 if rng.random() < 0.5 else -1.0)
    tall = float(z[-1])
    bed = float(np.clip(0.55 * depth + 0.035, 0.03, 0.14))
    across = z[None, :] * math.cos(tilt) + x[:, None] * math.sin(tilt)
    across = (
        across
        + 0.35 * bed * noise.fractal(_plane(x, z, 0.6), 2)
        + 0.04 * bed * noise.fractal(_plane(x, z, 0.05), 3)
    )
    reach = tall + float(x[-1]) * abs(math.sin(tilt)) + 4.0 * bed
    low = min(0.0, float(x[-1]) * math.sin(tilt)) - 2.0 * bed
    count = int(reach / bed * 1.6) + 4
    thick = bed * (0.35 + 1.3 * rng.random(count) ** 1.6)
    edges = low + np.concatenate([[0.0], np.cumsum(thick)])
    push = rng.random(count)
    shift = 50.0 * rng.random(count)
    number = np.clip(np.searchsorted(edges, across.ravel()) - 1, 0, count - 1).reshape(across.shape)
    part = (across - edges[number]) / thick[number]
    # Each bed is broken off along joints: blocks of its own width stand more or less far out.
    block = np.stack(
        [
            np.broadcast_to(x[:, None] / (1.9 * bed), across.shape) + shift[number],
            number * 7.3 + 0.5,
            np.full(across.shape, 0.5),
        ],
        axis=-1,
    )
    ragged = 0.22 * noise.fractal(_plane(x, z, 0.5 * bed, 9.0), 2)
    block[..., 0] += ragged
    nearest, second, value = noise.cells(block * np.array([1.0, 1.0, 1.0]), jitter=0.9)
    joint = smooth_step(0.0, 0.22, second - nearest)
    mass = 0.5 + 0.42 * noise.fractal(_plane(x, z, 0.55, 5.0), 3)
    out = 0.30 * push[number] + 0.34 * value + 0.42 * mass
    ledge = (
        1.0
        - 0.30 * np.clip(1.0 - part / 0.16, 0.0, 1.0) ** 1.5
        - 0.16 * np.clip((part - 0.72) / 0.28, 0.0, 1.0) ** 2
    )
    leaves = 0.03 * noise.fractal(
        np.stack([_plane(x, z, 0.25)[..., 0], across / (0.10 * bed), np.full(across.shape, 2.5)], axis=-1), 2
    )
    rough = 0.05 * noise.fractal(_plane(x, z, 0.06, 3.0), 4, gain=0.6)
    return 0.08 + 0.92 * out * ledge * (0.82 + 0.18 * joint) + leaves + rough


def _crevices(seed: int, x: Floats, z: Floats, depth: float) -> Floats:
    rng, noise = draws(seed, 33), Noise(seed, 34)
    wide = float(np.clip(1.5 * depth + 0.07, 0.08, 0.30))
    lean = 0.22 * (rng.random() - 0.5)
    sway = 0.55 * wide * noise.fractal(_plane(x, z, 0.38), 3, gain=0.5)
    along = (x[:, None] + lean * z[None, :] + sway) / wide
    # Cells stretched upward: masses that run most of the height, parted by clefts.
    points = np.stack(
        [along, np.broadcast_to(z[None, :] / (4.2 * wide), along.shape), np.full(along.shape, 0.5)], axis=-1
    )
    nearest, second, value = noise.cells(points, jitter=0.85)
    gap = second - nearest
    cleft = smooth_step(0.0, 0.34, gap)
    round_off = smooth_step(0.02, 0.95, gap) ** 0.6
    facets, _, tone = noise.cells(
        _plane(x, z, 0.55 * wide, 4.0) + 0.25 * noise.vector(_plane(x, z, 0.12), 2), jitter=1.0
    )
    broken = 0.20 * (tone - 0.5) - 0.10 * facets
    mass = 0.46 + 0.34 * value + 0.22 * noise.fractal(_plane(x, z, 0.45, 7.0), 2)
    rough = 0.06 * noise.fractal(_plane(x, z, 0.07, 2.0), 4, gain=0.58)
    drag = noise.fractal(
        np.stack(
            [along * 5.0, np.broadcast_to(z[None, :] / 0.30, along.shape), np.full(along.shape, 1.5)], axis=-1
        ),
        3,
    )
    return cleft * (0.10 + (mass + broken) * (0.62 + 0.38 * round_off) + rough + 0.06 * drag) + 0.03


def _boulders(seed: int, x: Floats, z: Floats, depth: float) -> Floats:
    rng, noise = draws(seed, 35), Noise(seed, 36)
    wide, tall = float(x[-1]), float(z[-1])
    biggest = float(np.clip(0.75 * depth + 0.05, 0.03, 0.18))
    stones: list[tuple[float, float, float]] = []
    # Big stones first, then smaller ones into the gaps; a stone may press a little into its neighbours.
    for radius, tries in ((1.0, 60), (0.72, 160), (0.5, 320), (0.34, 500), (0.22, 600)):
        own = radius * biggest
        area = (wide + 2 * own) * (tall + 2 * own) / (own * own)
        for _ in range(min(int(tries * min(area / 60.0, 4.0)) + 8, 2400)):
            u, v, w = rng.random(3).tolist()
            r = own * (0.85 + 0.3 * w)
            px, pz = -0.6 * r + u * (wide + 1.2 * r), -0.6 * r + v * (tall + 1.2 * r)
            if all((px - sx) ** 2 + (pz - sz) ** 2 > (0.86 * (r + sr)) ** 2 for sx, sz, sr in stones):
                stones.append((px, pz, r))
    warp = noise.vector(_plane(x, z, 0.9 * biggest), 2)
    ground_x = x[:, None] + 0.16 * biggest * warp[..., 0]
    ground_z = z[None, :] + 0.16 * biggest * warp[..., 1]
    mortar = 0.10 + 0.05 * noise.fractal(_plane(x, z, 0.03, 8.0), 3)
    out = mortar
    for px, pz, r in stones:
        turn, stretch, stand, face_x, face_z = rng.random(5).tolist()
        i0, i1 = np.searchsorted(x, [px - 1.9 * r, px + 1.9 * r]).tolist()
        k0, k1 = np.searchsorted(z, [pz - 1.9 * r, pz + 1.9 * r]).tolist()
        if i0 == i1 or k0 == k1:
            continue
        window = (slice(i0, i1), slice(k0, k1))
        dx, dz = (ground_x[window] - px) / r, (ground_z[window] - pz) / r
        c, s, long = math.cos(np.pi * turn), math.sin(np.pi * turn), 1.0 + 0.22 * stretch
        a, b = (c * dx + s * dz) / (1.10 * long), (c * dz - s * dx) * long / 1.10
        square = np.abs(a) ** 2.4 + np.abs(b) ** 2.4
        dome = np.maximum(1.0 - square, 0.0) ** 0.46
        tilt = 0.16 * ((face_x - 0.5) * dx + (face_z - 0.5) * dz)
        top = 0.30 + 0.55 * (r / biggest) ** 0.6 * (0.75 + 0.35 * stand)
        out[window] = np.maximum(out[window], np.where(square < 1.0, 0.04 + top * dome * (0.92 + tilt), 0.0))
    lumps = 0.045 * noise.fractal(_plane(x, z, 0.09, 1.0), 4, gain=0.5)
    return out * (0.97 + lumps) + 0.4 * lumps * (out > 0.16)


def _roots(seed: int, x: Floats, z: Floats, depth: float) -> Floats:
    rng, noise = draws(seed, 37), Noise(seed, 38)
    wide, tall = float(x[-1]), float(z[-1])
    thick = float(np.clip(0.42 * depth + 0.008, 0.006, 0.05))
    bank = (
        0.20
        + 0.16 * noise.fractal(_plane(x, z, 0.25), 4, gain=0.55)
        + 0.05 * noise.fractal(_plane(x, z, 0.025, 4.0), 3)
    )
    out = np.maximum(bank, 0.0)
    count = max(5, round(wide / (2.6 * thick)))
    paths: list[tuple[float, float, float, float, float]] = []
    for k in range(count):
        u, v, w, q, far = rng.random(5).tolist()
        paths.append(
            (
                (k + 0.2 + 0.6 * u) / count * wide,
                tall * 1.02,
                thick * (0.35 + 0.75 * v**1.5),
                0.3 * q,
                0.35 + 0.75 * w + 0 * far,
            )
        )
    index = 0
    while index < len(paths):
        start_x, start_z, radius, front, share = paths[index]
        end_z = start_z - share * tall
        drift = 0.5 * (rng.random() - 0.5)
        fork = rng.random()
        line_z = z[(z <= start_z + radius) & (z >= end_z - radius)]
        if len(line_z) > 1 and radius > 0.12 * thick:
            t = np.clip((start_z - line_z) / max(start_z - end_z, 1e-6), 0.0, 1.0)

            def middle(
                height: Floats, k: int = index, top: float = start_z, x0: float = start_x, d: float = drift
            ) -> Floats:
                at = np.stack(
                    [np.full_like(height, 3.1 * k + 0.37), height / 0.21, np.full_like(height, 0.5)], axis=-1
                )
                ref = np.array([[3.1 * k + 0.37, top / 0.21, 0.5]])
                sway = noise.fractal(at, 3, gain=0.45) - noise.fractal(ref, 3, gain=0.45)
                return x0 + 0.085 * sway + d * 0.35 * (top - height)

            here = middle(line_z)
            slope = (middle(line_z + 1e-4) - middle(line_z - 1e-4)) / 2e-4
            own = radius * (1.0 - 0.72 * t) * np.sqrt(np.clip((line_z - end_z + radius) / radius, 0.0, 1.0))
            off = (x[:, None] - here[None, :]) / np.sqrt(1.0 + slope[None, :] ** 2)
            round_part = 1.0 - (off / np.maximum(own[None, :], 1e-6)) ** 2
            bark = 1.0 + 0.10 * noise.fractal(
                np.stack(
                    [
                        off / (0.5 * thick),
                        np.broadcast_to(line_z[None, :] / 0.09, off.shape),
                        np.full(off.shape, index + 0.5),
                    ],
                    axis=-1,
                ),
                2,
            )
            stand = (
                0.22
                + front
                + 1.15 * (own[None, :] / thick) * 0.55 * np.sqrt(np.maximum(round_part, 0.0)) * bark
            )
            columns = np.searchsorted(z, line_z[0]), np.searchsorted(z, line_z[-1]) + 1
            window = (slice(None), slice(int(columns[0]), int(columns[1])))
            out[window] = np.maximum(out[window], np.where(round_part > 0.0, stand, 0.0))
            if radius > 0.3 * thick and len(paths) < 6 * count:
                for way in (-1.0, 1.0) if fork < 0.55 else (1.0 if fork < 0.8 else -1.0,):
                    at = start_z - share * tall * (0.25 + 0.45 * rng.random())
                    place = float(middle(np.array([at]))[0])
                    paths.append(
                        (
                            place + 0.2 * way * radius,
                            at,
                            0.55 * radius,
                            front * 0.8,
                            share * (0.4 + 0.5 * rng.random()),
                        )
                    )
        index += 1
    return out
