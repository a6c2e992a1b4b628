"""How an upright flat pane bends under what presses on it: thin plate, small deflections, by Ritz's method.

The bottom edge and both sides are held without a clamp, as silicone holds them; the top is free, but for a
strip of glass along it and braces across the tank. Left out: holes, the give of seams, membrane action (which
helps past a deflection of half the thickness), and what a slab that is bonded to the pane bears of it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.polynomial import Legendre

from layout3d.solid.placement import Array

__all__ = ["Bent", "Press", "Strip", "Tie", "bent"]

MODULUS = 70e9  # of glass, [Pa]. EN 572-1 (from memory)
POISSON = 0.22  # of glass, [-]. ASTM E1300 (from memory); EN 572-1 has 0.20
WAVES = 60  # half waves along the pane, at most, [-]
POWERS = 16  # polynomials up the pane, [-]
LOOKS = 121  # places along the pane and up it where stress is looked at, [-]


@dataclass(frozen=True, slots=True)
class Press:
    """What presses on the pane up to ``top`` [m]: 0 there, and downwards more by ``slope`` [Pa/m]."""

    top: float
    slope: float


@dataclass(frozen=True, slots=True)
class Strip:
    """A strip of glass along the pane, flat side up, ``at`` its height: ``width`` square to the pane; [m]."""

    at: float
    width: float
    thickness: float


@dataclass(frozen=True, slots=True)
class Tie:
    """A brace from ``start`` to ``end`` along the pane's top edge to a pane like it, ``length`` away; [m].

    Both panes bow, so that half of it stretches for each.
    """

    start: float
    end: float
    thickness: float
    length: float


@dataclass(frozen=True, slots=True)
class Bent:
    """A bent pane: its largest stress [Pa] and where it is, along and up [m]; so too its bow.

    ``strip_stress`` is the largest in the strip along it, 0 without one; ``asked`` is the pane's at the
    places that were asked for.
    """

    stress: float
    stress_at: tuple[float, float]
    deflection: float
    deflection_at: tuple[float, float]
    strip_stress: float
    asked: tuple[float, ...] = ()


def bent(
    length: float,
    height: float,
    thickness: float,
    presses: Sequence[Press],
    *,
    strip: Strip | None = None,
    ties: Sequence[Tie] = (),
    at: Sequence[tuple[float, float]] = (),
    modulus: float = MODULUS,
    poisson: float = POISSON,
) -> Bent:
    """Return how a pane bends.

    Parameters
    ----------
    length, height, thickness : of the pane between what holds it, [m]
    presses : what presses on it, added up
    at : places along and up it, [m], whose stress is wanted

    Returns
    -------
    Largest principal stress of bending, tension on one side of the pane, and largest deflection.

    Notes
    -----
    Sines along, polynomials up: energy of a thin plate, of the strip as a beam, and of braces as springs.

    Sources
    -------
    Timoshenko and Woinowsky-Krieger, Theory of Plates and Shells, 2nd ed., eq. 117 (energy; from memory).
    """
    # even ones only where something is askew
    waves = np.arange(1, WAVES + 1) if ties else np.arange(1, WAVES, 2)
    along = np.asarray(np.pi * waves / length, dtype=np.float64)
    plate = modulus * thickness**3 / (12.0 * (1.0 - poisson**2))
    powers = _Powers(height)
    points, weights = np.polynomial.legendre.leggauss(2 * POWERS)
    up = (points + 1.0) / 2.0 * height
    w, dw, ddw = (powers.at(up, order) for order in range(3))
    by = weights * height / 2.0
    flat, slope, curve, mixed = (
        np.einsum("p,pi,pj->ij", by, a, b) for a, b in ((w, w), (dw, dw), (ddw, ddw), (w, ddw))
    )
    a2 = (along**2)[:, None, None]
    stiff = plate * (
        a2**2 * flat + curve - poisson * a2 * (mixed + mixed.T) + 2.0 * (1.0 - poisson) * a2 * slope
    )
    if strip is not None:
        here = powers.at(np.array([strip.at]), 0)[0]
        stiff += modulus * strip.thickness * strip.width**3 / 12.0 * a2**2 * np.outer(here, here)
    stiff *= length / 2.0
    load = np.zeros((len(waves), POWERS))
    for press in presses:
        top = min(press.top, height)
        under = (points + 1.0) / 2.0 * top
        pressure = weights * top / 2.0 * press.slope * (press.top - under)
        load += np.outer((1.0 - np.cos(np.pi * waves)) / along, pressure @ powers.at(under, 0))
    found = np.linalg.solve(stiff, load[:, :, None])[:, :, 0]
    if ties:  # what they hold back is found from what one newton would, wave by wave
        top = powers.at(np.array([height]), 0)[0]
        gives = np.linalg.solve(stiff, np.broadcast_to(top[:, None], (len(waves), POWERS, 1)))[:, :, 0]
        springs = [2.0 * modulus * tie.thickness / tie.length * _products(along, tie) for tie in ties]
        held = np.sum(springs, axis=0)
        edge = np.linalg.solve(np.eye(len(waves)) + (gives @ top)[:, None] * held, found @ top)
        found = found - gives * (held @ edge)[:, None]
    field = _Field(found, along, powers, plate, thickness, poisson)
    x, y = np.linspace(0.0, length, LOOKS), np.linspace(0.0, height, LOOKS)
    stress, deflection = field.stress(x, y), np.abs(field.along(x, 0) @ field.up(y, 0))
    most, far = (np.unravel_index(each.argmax(), each.shape) for each in (stress, deflection))
    strip_stress = 0.0
    if strip is not None:
        curve = field.along(x, 2) @ field.up(np.array([strip.at]), 0)
        strip_stress = float(modulus * strip.width / 2.0 * np.abs(curve).max())
    return Bent(
        stress=float(stress[most]),
        stress_at=(float(x[most[0]]), float(y[most[1]])),
        deflection=float(deflection[far]),
        deflection_at=(float(x[far[0]]), float(y[far[1]])),
        strip_stress=strip_stress,
        asked=tuple(np.diagonal(field.stress(*np.array(at).reshape(-1, 2).T)).tolist()),
    )


class _Powers:
    """Polynomials up the pane that are 0 at its foot."""

    def __init__(self, height: float) -> None:
        foot = Legendre([0.5, 0.5], domain=[0.0, height])
        each = [foot * Legendre.basis(n, domain=[0.0, height]) for n in range(POWERS)]
        self._orders = (each, [one.deriv() for one in each], [one.deriv(2) for one in each])

    def at(self, up: Array, order: int) -> Array:
        """Return their values, or those of a derivative, (places, powers)."""
        return np.stack([one(up) for one in self._orders[order]], axis=1)


def _products(along: Array, tie: Tie) -> Array:
    """Return the integrals of products of two sines over a tie, (waves, waves), [m]."""
    start, end = tie.start, tie.end
    less, more = along[:, None] - along, along[:, None] + along

    def over(rate: Array) -> Array:
        middle, half = (start + end) / 2.0, (end - start) / 2.0
        return np.asarray(2.0 * half * np.cos(rate * middle) * np.sinc(rate * half / np.pi))

    return (over(less) - over(more)) / 2.0


@dataclass(frozen=True, slots=True)
class _Field:
    """The bent surface: shares ``found`` of sines along by polynomials up, (waves, powers)."""

    found: Array
    rates: Array
    powers: _Powers
    plate: float
    thickness: float
    poisson: float

    def along(self, x: Array, order: int) -> Array:
        """Return the sines at places along, or those of a derivative, (places, waves)."""
        angle = np.outer(x, self.rates) + order * np.pi / 2.0
        return np.asarray(np.sin(angle) * self.rates**order)

    def up(self, y: Array, order: int) -> Array:
        """Return each wave's height at places up, or that of a derivative, (waves, places)."""
        return np.asarray(self.found @ self.powers.at(y, order).T)

    def stress(self, x: Array, y: Array) -> Array:
        """Return the largest principal stress of bending at places along by places up, [Pa]."""
        across, upwards = self.along(x, 2) @ self.up(y, 0), self.along(x, 0) @ self.up(y, 2)
        twist = self.along(x, 1) @ self.up(y, 1)
        mean, apart = (1.0 + self.poisson) * (across + upwards), (1.0 - self.poisson) * (across - upwards)
        turned = np.hypot(apart, 2.0 * (1.0 - self.poisson) * twist)
        return np.asarray(3.0 * self.plate * (np.abs(mean) + turned) / self.thickness**2)
