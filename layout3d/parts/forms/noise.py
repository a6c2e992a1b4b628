"""Seeded gradient and cell noise in space, vectorised. No images, no time axis, no tiling.

Everything is drawn from ``numpy.random.PCG64`` by ``random()`` alone, the one draw whose stream
has not changed between releases; orders come from a stable sort of such draws. Sums run over a
fixed number of terms in a fixed order, so a result does not hang on threads.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import cast

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = ["Floats", "Noise", "coordinates", "draws", "smooth_step"]

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

_TABLE = 256  # entries of the permutation; the lattice repeats after so many cells
_SCALE = 1.55  # brings gradient noise with unit gradients to about [-1, 1]; found by sampling
_CHUNK = 8192  # points that are looked at together: what is made of them stays in the processor's cache
_TURN = np.array(
    [[0.36, 0.48, -0.80], [-0.80, 0.60, 0.0], [0.48, 0.64, 0.60]]
)  # a rotation of Pythagorean rows


def draws(seed: int, stream: int = 0) -> np.random.Generator:
    """Return the generator of random draws of a seed; ``stream`` parts independent uses of one seed.

    Raises
    ------
    ValueError : a seed that is not a whole number of 0 or more, below 2**63.
    """
    if isinstance(seed, bool) or not isinstance(seed, (int, np.integer)) or not 0 <= seed < 2**63:
        raise ValueError(f"seed must be a whole number from 0 to 2**63 - 1, got {seed!r}")
    return np.random.Generator(np.random.PCG64([int(seed), stream]))


def coordinates(x: ArrayLike, y: ArrayLike, z: ArrayLike) -> Floats:
    """Return points (..., 3) of coordinates that broadcast against each other."""
    return cast(Floats, np.stack(np.broadcast_arrays(x, y, z), axis=-1))


def smooth_step(low: float, high: float, value: Floats) -> Floats:
    """Rise smoothly from 0 at ``low`` to 1 at ``high`` (falls if ``low`` is above ``high``)."""
    t = np.clip((value - low) / (high - low), 0.0, 1.0)
    return t * t * (3.0 - 2.0 * t)


class Noise:
    """Noise fields of one seed, sampled at points: the same point gives the same value on any grid.

    Notes
    -----
    Gradient noise on the unit lattice with the quintic fade of Perlin 2002, "Improving noise", ACM
    Trans. Graphics 21(3), 681-682; cell noise after Worley 1996, "A cellular texture basis function",
    SIGGRAPH '96, 291-294. Points are in lattice cells: divide metres by the wanted wavelength first.
    """

    __slots__ = ("_gradients", "_jitter", "_order")

    def __init__(self, seed: int, stream: int = 0) -> None:
        rng = draws(seed, stream)
        order = np.argsort(rng.random(_TABLE), kind="stable")
        self._order: Ints = np.concatenate([order, order, order]).astype(np.int64)
        rise = 2.0 * rng.random(_TABLE) - 1.0
        angle = 2.0 * np.pi * rng.random(_TABLE)
        flat = np.sqrt(1.0 - rise * rise)
        self._gradients: Floats = np.stack([flat * np.cos(angle), flat * np.sin(angle), rise], axis=1)
        self._jitter: Floats = rng.random((_TABLE, 4))

    def _hash(self, ix: Ints, iy: Ints, iz: Ints) -> Ints:
        order = self._order
        return cast(Ints, order[order[order[ix & 255] + (iy & 255)] + (iz & 255)])

    def gradient(self, points: Floats) -> Floats:
        """Return gradient noise, about [-1, 1], zero on the lattice.

        Parameters
        ----------
        points : (..., 3) float, [cells]

        Returns
        -------
        (...) float; an empty input gives an empty result.
        """
        rows = points.reshape(-1, 3)
        values = np.zeros(len(rows))
        ways = np.ascontiguousarray(self._gradients[self._order].T)
        for begin in range(0, len(rows), _CHUNK):
            some = slice(begin, begin + _CHUNK)
            values[some] = self._gradient(np.ascontiguousarray(rows[some].T), ways)
        return cast(Floats, values.reshape(points.shape[:-1]))

    def _gradient(self, points: Floats, ways: Floats) -> Floats:
        """Return gradient noise at points (3, n); ``ways`` (3, k) are the gradients in the table's order."""
        base = np.floor(points)
        part = points - base
        cell = base.astype(np.int64)
        fade = part * part * part * (part * (part * 6.0 - 15.0) + 10.0)
        (x, y, z), (fx, fy, fz) = part, fade
        order = self._order
        along_x = (order[cell[0] & 255], order[(cell[0] + 1) & 255])
        iy, iz = cell[1] & 255, cell[2] & 255
        total = np.zeros(len(x))
        for dx in (0, 1):
            weight_x = fx if dx else 1.0 - fx
            for dy in (0, 1):
                weight_xy = weight_x * (fy if dy else 1.0 - fy)
                along_y = order[along_x[dx] + ((iy + dy) & 255)]
                for dz in (0, 1):
                    at = along_y + ((iz + dz) & 255)
                    dot = ways[0][at] * (x - dx) + ways[1][at] * (y - dy) + ways[2][at] * (z - dz)
                    total = total + weight_xy * (fz if dz else 1.0 - fz) * dot
        return total * _SCALE

    def fractal(self, points: Floats, octaves: int, *, gain: float = 0.5, ridged: bool = False) -> Floats:
        """Sum octaves of gradient noise, each twice as fine and ``gain`` times as strong as the last.

        Each octave is turned and shifted against the one before, so that the lattice does not show.
        ``ridged`` folds each octave into sharp crests, still about [-1, 1]. ``octaves`` 0 gives zeros.
        """
        total = np.zeros(points.shape[:-1])
        strength, sum_of_strengths = 1.0, 0.0
        here = points
        for octave in range(octaves):
            value = self.gradient(here)
            total = total + strength * (1.0 - 2.0 * np.abs(value) if ridged else value)
            sum_of_strengths += strength
            strength *= gain
            x, y, z = here[..., 0], here[..., 1], here[..., 2]
            turned = [row[0] * x + row[1] * y + row[2] * z for row in _TURN]
            here = 2.03 * np.stack(turned, axis=-1) + (17.31 + octave)
        return total / sum_of_strengths if octaves else total

    def vector(self, points: Floats, octaves: int, *, gain: float = 0.5) -> Floats:
        """Return three independent fractal fields as vectors, (..., 3) float."""
        shifts = ((0.0, 0.0, 0.0), (41.7, 11.3, 73.9), (19.1, 87.7, 31.3))
        return np.stack([self.fractal(points + np.array(s), octaves, gain=gain) for s in shifts], axis=-1)

    def cells(
        self, points: Floats, *, jitter: float = 1.0, flat: bool = False
    ) -> tuple[Floats, Floats, Floats]:
        """Return distances to the nearest and second nearest cell point, and the nearest's own number.

        Parameters
        ----------
        points : (..., 3) float, [cells]
        jitter : how far cell points stray from the middle of their cell, 0 to 1
        flat : whether only the layer of cells around each point counts, its third coordinate left out;
            for panels, three times as fast

        Returns
        -------
        nearest, second : (...) float, [cells]
        number : (...) float in [0, 1), the same for all points of one cell
        """
        nearest = np.full(points.shape[:-1], np.inf)
        second = np.full(points.shape[:-1], np.inf)
        number = np.zeros(points.shape[:-1])
        for x, y, z, own in self._around(points, jitter, flat):
            distance = x * x + y * y + z * z
            value = self._jitter[own, 3]
            closer = distance < nearest
            second = np.where(closer, nearest, np.minimum(second, distance))
            number = np.where(closer, value, number)
            nearest = np.where(closer, distance, nearest)
        return np.sqrt(nearest), np.sqrt(second), number

    def scars(self, points: Floats, *, flat: bool = False) -> Floats:
        """Return scooped faces that meet in sharp ridges, as flakes broken off leave them; about [-0.5, 0.5].

        The lowest of shallow bowls, one in each cell, each tilted its own way.
        """
        lowest = np.full(points.shape[:-1], np.inf)
        for x, y, z, own in self._around(points, 0.85, flat):
            tilt = self._gradients[own]
            lean = 0.55 * (tilt[..., 0] * x + tilt[..., 1] * y + tilt[..., 2] * z)
            lowest = np.minimum(lowest, 1.5 * (x * x + y * y + z * z) + lean + 0.35 * self._jitter[own, 3])
        return lowest - 0.32

    def _around(
        self, points: Floats, jitter: float, flat: bool
    ) -> Iterator[tuple[Floats, Floats, Floats, Ints]]:
        """Yield, for each cell around the points, the way to its point and its hash."""
        base = np.floor(points).astype(np.int64)
        gap = 0.5 - 0.5 * jitter
        for dx in (-1, 0, 1):
            for dy in (-1, 0, 1):
                for dz in (0,) if flat else (-1, 0, 1):
                    ix, iy, iz = base[..., 0] + dx, base[..., 1] + dy, base[..., 2] + dz
                    own = self._hash(ix, iy, iz)
                    part = self._jitter[own]
                    x = ix + gap + jitter * part[..., 0] - points[..., 0]
                    y = iy + gap + jitter * part[..., 1] - points[..., 1]
                    z = np.zeros_like(x) if flat else iz + gap + jitter * part[..., 2] - points[..., 2]
                    yield x, y, z, own
