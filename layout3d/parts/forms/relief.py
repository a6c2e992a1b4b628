"""Heights of a sculpted background over its panel: strata, crevices, boulders, roots, or from a grey image.

A relief is a height for each place of the panel, so nothing hangs over. Fields are sampled at
positions, not by index: a finer pitch shows the same surface in more detail.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from layout3d.parts.forms.mesh import require, require_one_of
from layout3d.parts.forms.noise import Floats, Noise, coordinates, draws, smooth_step

__all__ = ["RELIEF_FORMS", "Relief", "panel_grid", "relief"]

RELIEF_FORMS = ("strata", "crevices", "boulders", "roots")
MOST_PLACES = 4_000_000  # grid places; past that a panel is finer than anything it could be cut or drawn from
_EASED = 0.8  # share of the depth above which heights are eased in

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
    # Eased in below the full depth, so that nothing is planed off flat.
    share = np.where(
        share > _EASED, _EASED + (1.0 - _EASED) * np.tanh((share - _EASED) / (1.0 - _EASED)), share
    )
    made = x, z, np.clip(share, 0.0, 1.0) * deep
    for array in made:
        array.flags.writeable = False
    return made


def _plane(x: Floats, z: Floats, wave: float, layer: float = 0.0) -> Floats:
    """Return points of the panel as noise cells of wavelength ``wave``, (nx, nz, 3)."""
    return coordinates(x[:, None] / wave, z[None, :] / wave, layer)


def _strata(seed: int, x: Floats, z: Floats, depth: float) -> Floats:
    rng, noise = draws(seed, 31), Noise(seed, 32)
    tilt = (0.10 + 0.16 * rng.random()) * (1.0 if rng.random() < 0.5 else -1.0)
    wide, tall = float(x[-1]), float(z[-1])
    bed = float(np.clip(0.45 * depth + 0.025, 0.02, 0.12))
    folded = 0.5 * bed * noise.fractal(_plane(x, z, 0.7), 2)
    ragged = 0.20 * bed * noise.fractal(_plane(x, z, 1.6 * bed, 11.0), 4, gain=0.6)
    across = z[None, :] * math.cos(tilt) + x[:, None] * math.sin(tilt) + folded + ragged
    low = min(0.0, wide * math.sin(tilt)) - 2.0 * bed
    count = int((tall + wide * abs(math.sin(tilt)) + 4.0 * bed) / bed * 1.7) + 6
    # Some massive beds, and between them packets of thin ones.
    thick = bed * (0.24 + 1.9 * rng.random(count) ** 2.4)
    edges = low + np.concatenate([[0.0], np.cumsum(thick)])
    push, shift = rng.random(count), 50.0 * rng.random(count)
    number = np.clip(np.searchsorted(edges, across.ravel()) - 1, 1, count - 2).reshape(across.shape)
    mass = 0.42 * noise.fractal(_plane(x, z, 0.5, 5.0), 3) - 0.16 * (z[None, :] / tall - 0.5)

    def stand(which: NDArray[np.int64]) -> Floats:
        """How far the beds ``which`` stand out: broken back along joints, some blocks farther than others."""
        along = x[:, None] / (2.6 * bed) + shift[which] + 1.8 * ragged / bed
        block = coordinates(along, which * 7.3 + 0.5, 0.5)
        nearest, second, value = noise.cells(block, jitter=0.95, flat=True)
        joint = np.clip((second - nearest) / 0.22, 0.0, 1.0)
        drift = noise.fractal(coordinates(0.35 * along, block[..., 1], 9.5), 2)
        crack = np.where(value > 0.45, 0.10 * (1.0 - joint) ** 2, 0.0)
        return 0.46 + 0.30 * (push[which] - 0.5) + 0.26 * (value - 0.5) + 0.24 * drift + mass - crack

    # Where one bed meets the next the face slopes from one to the other over a few millimetres.
    own = thick[number]
    part = np.clip((across - edges[number]) / own, 0.0, 1.0)
    neighbour = np.where(part > 0.5, number + 1, number - 1)
    away = np.minimum(part, 1.0 - part) * own
    mix = 0.5 * (1.0 - smooth_step(0.0, 0.006, away))
    out = (1.0 - mix) * stand(number) + mix * stand(neighbour)
    # The upper edge of a bed weathers round, its foot is cut back; of thin beds more than of thick.
    soft = np.clip(0.012 / own, 0.06, 0.5)
    top = np.clip((part - (1.0 - 1.5 * soft)) / (1.5 * soft), 0.0, 1.0)
    foot = np.clip(1.0 - part / soft, 0.0, 1.0)
    ledge = 0.20 * top**2 + 0.24 * foot**1.4
    face = 0.13 * noise.scars(_plane(x, z, 1.1 * bed, 21.5), flat=True)
    thin = coordinates(x[:, None] / 0.2, across / (0.13 * bed), 2.5)
    rough = 0.035 * noise.fractal(thin, 2) + 0.05 * noise.fractal(_plane(x, z, 0.05, 3.0), 4, gain=0.6)
    return out * (1.0 - ledge) + face + rough


def _crevices(seed: int, x: Floats, z: Floats, depth: float) -> Floats:
    rng, noise = draws(seed, 33), Noise(seed, 34)
    wide = float(np.clip(1.5 * depth + 0.07, 0.08, 0.30))
    lean = 0.22 * (rng.random() - 0.5)
    sway = 0.50 * wide * noise.fractal(_plane(x, z, 0.40), 4, gain=0.55)
    along = (x[:, None] + lean * z[None, :] + sway) / wide
    # Cells stretched upward: masses that run most of the height, parted by clefts.
    cell = coordinates(along, z[None, :] / (4.2 * wide), 0.5)
    nearest, second, value = noise.cells(cell, jitter=0.85, flat=True)
    gap = second - nearest
    width = 0.20 + 0.12 * noise.fractal(_plane(x, z, 0.3, 6.0), 2)
    cleft = smooth_step(0.0, 1.0, gap / width)
    shoulder = 1.0 - 0.5 * np.clip(1.0 - gap / 0.8, 0.0, 1.0) ** 1.5
    # Broken faces in three sizes, longer up the mass than across it.
    bent = 0.30 * noise.vector(_plane(x, z, 0.9 * wide, 4.0), 3)
    tilt = rng.random() - 0.5

    def broken(size: float, tall_by: float, layer: float) -> Floats:
        up, over = z[None, :] - tilt * x[:, None], x[:, None] + tilt * z[None, :]
        at = coordinates(over / size, up / (tall_by * size), layer)
        return noise.scars(at + bent * np.array([1.0, 1.0, 0.0]), flat=True)

    patch = smooth_step(-0.15, 0.35, noise.fractal(_plane(x, z, 0.8 * wide, 9.0), 2))
    face = 0.55 * broken(0.85 * wide, 2.6, 0.5) + 0.16 * broken(0.36 * wide, 2.0, 3.5) * patch
    face = face + 0.06 * broken(0.13 * wide, 1.4, 6.5) * (1.0 - patch)
    strands = coordinates(along * 6.0, z[None, :] / 0.35, 1.5)
    face = face + 0.07 * noise.fractal(strands, 3, ridged=True) * (1.0 - 0.6 * patch)
    mass = 0.44 + 0.30 * value + 0.24 * noise.fractal(_plane(x, z, 0.45, 7.0), 2)
    rough = 0.045 * noise.fractal(_plane(x, z, 0.05, 2.0), 4, gain=0.6)
    return 0.03 + cleft * (0.06 + (mass + face) * shoulder + rough) + 0.3 * rough * (1.0 - cleft)


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
        dome = np.maximum(1.0 - square, 0.0) ** 0.5
        tilt = 0.16 * ((face_x - 0.5) * dx + (face_z - 0.5) * dz)
        top = 0.30 + 0.55 * (r / biggest) ** 0.6 * (0.75 + 0.35 * stand)
        out[window] = np.maximum(out[window], np.where(square < 1.0, 0.04 + top * dome * (0.92 + tilt), 0.0))
    lumps = 0.045 * noise.fractal(_plane(x, z, 0.09, 1.0), 4, gain=0.5)
    return out * (0.97 + lumps) + 0.4 * lumps * (out > 0.16)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Root:
    """One root of the relief: where it starts, its thickness there, how far it stands out and hangs down."""

    x: float
    z: float
    radius: float
    front: float
    hang: float
    drift: float
    number: int

    def middle(self, noise: Noise, z: Floats) -> Floats:
        """Return where its middle line is at heights ``z``, [m]."""

        def sway(height: Floats) -> Floats:
            return 0.085 * noise.fractal(
                coordinates(3.1 * self.number + 0.37, height / 0.21, 0.5), 3, gain=0.45
            )

        return self.x + sway(z) - sway(np.array([self.z])) + self.drift * (self.z - z)


def _roots(seed: int, x: Floats, z: Floats, depth: float) -> Floats:
    rng, noise = draws(seed, 37), Noise(seed, 38)
    wide, tall = float(x[-1]), float(z[-1])
    thick = float(np.clip(0.42 * depth + 0.008, 0.006, 0.05))
    bank = 0.17 + 0.15 * noise.fractal(_plane(x, z, 0.25), 4, gain=0.55)
    bank = bank + 0.05 * noise.fractal(_plane(x, z, 0.03, 4.0), 3)
    bank = bank + 0.06 * noise.scars(_plane(x, z, 0.07, 6.5), flat=True)
    out = np.maximum(bank, 0.0)
    count = max(6, round(wide / (1.9 * thick)))
    roots = []
    for k in range(count):
        u, v, w, q, d = rng.random(5).tolist()
        root = _Root(
            x=(k + 0.1 + 0.8 * u) / count * wide,
            z=1.02 * tall,
            radius=thick * (0.22 + 0.85 * v**2.2),
            front=0.28 * q,
            hang=(0.25 + 0.85 * w) * tall,
            drift=0.2 * (d - 0.5),
            number=k,
        )
        roots.append(root)
    for root in roots:  # grows while it runs: each root may fork, down to rootlets
        _draw_root(root, noise, x, z, thick, out)
        if root.radius < 0.24 * thick or len(roots) >= 8 * count:
            continue
        fork = rng.random()
        for way in (-1.0, 1.0) if fork < 0.6 else (1.0,) if fork < 0.8 else (-1.0,):
            at = root.z - root.hang * (0.2 + 0.5 * rng.random())
            rootlet = _Root(
                x=float(root.middle(noise, np.array([at]))[0]) + 0.2 * way * root.radius,
                z=at,
                radius=(0.45 + 0.2 * rng.random()) * root.radius,
                front=0.7 * root.front,
                hang=root.hang * (0.4 + 0.5 * rng.random()),
                drift=root.drift + way * (0.08 + 0.22 * rng.random()),
                number=len(roots),
            )
            roots.append(rootlet)
    return out


def _draw_root(root: _Root, noise: Noise, x: Floats, z: Floats, thick: float, out: Floats) -> None:
    """Raise ``out`` (nx, nz) to the root's surface where that stands farther out."""
    end = root.z - root.hang
    k0, k1 = (int(k) for k in np.searchsorted(z, [end - root.radius, root.z + root.radius]))
    height = z[k0:k1]
    if len(height) == 0:
        return
    middle = root.middle(noise, height)
    reach = 1.6 * root.radius
    i0, i1 = (int(i) for i in np.searchsorted(x, [np.min(middle) - reach, np.max(middle) + reach]))
    slope = (root.middle(noise, height + 1e-4) - root.middle(noise, height - 1e-4)) / 2e-4
    t = np.clip((root.z - height) / root.hang, 0.0, 1.0)
    ends = np.clip(np.minimum(height - end, root.z - height) / root.radius + 1.0, 0.0, 1.0)
    knots = coordinates(root.number + 0.5, height / (5.0 * root.radius), 8.5)
    own = root.radius * (1.0 - 0.7 * t) * np.sqrt(ends) * (1.0 + 0.30 * noise.fractal(knots, 2))
    own = np.maximum(own, 0.0028 * np.sqrt(ends))  # thinner is lost between places of a usual grid
    off = (x[i0:i1, None] - middle[None, :]) / np.sqrt(1.0 + slope[None, :] ** 2)
    dome = np.sqrt(np.maximum(1.0 - (off / np.maximum(own[None, :], 1e-6)) ** 2, 0.0))
    bark = noise.fractal(coordinates(off / (0.22 * thick) + root.number, height[None, :] / 0.10, 0.5), 2)
    stand = 0.14 + (0.10 + root.front + 0.62 * own[None, :] / thick) * dome * (1.0 + 0.08 * bark)
    window = (slice(i0, i1), slice(k0, k1))
    out[window] = np.maximum(out[window], np.where(dome > 0.0, stand, 0.0))
