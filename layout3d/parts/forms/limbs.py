"""Skeletons of driftwood: crooked middle lines with a radius along them, forked. No surface: see ``wood``."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from layout3d.parts.forms.mesh import bearing, unit
from layout3d.parts.forms.noise import Floats, smooth_step

__all__ = ["Limb", "branch_limbs", "laid_down", "log_limbs", "root_limbs"]

TIGHTEST = 2.0  # radius of the tightest bend over the limb's own: the swept tube must not fold


@dataclass(frozen=True, slots=True, kw_only=True)
class Limb:
    """One limb: middle line (k, 3), radius along it (k,), whether its ends are torn off, and its parent.

    ``hollow`` is how deep its torn end is rotted out, over the radius there, [-].
    """

    line: Floats
    radius: Floats
    broken_start: bool = False
    broken_end: bool = False
    hollow: float = 0.0
    number: int = 0
    parent: int = -1

    @property
    def area(self) -> float:
        """Area of the round limb, [m²], ends left out."""
        steps = np.sqrt(np.sum(np.diff(self.line, axis=0) ** 2, axis=1))
        return float(np.sum(steps * np.pi * (self.radius[1:] + self.radius[:-1])))


def _walk(
    rng: np.random.Generator,
    start: Floats,
    heading: Floats,
    length: float,
    radius: float,
    crooked: float,
    *,
    kinks: int = 0,
    pull: Floats | None = None,
    points: int = 56,
) -> Floats:
    """Walk from ``start``: the heading sways and kinks, never in a bend tighter than ``TIGHTEST`` radii.

    ``crooked`` 1 sways by about half a right angle to either side; ``pull`` bends the whole limb.
    """
    step = length / (points - 1)
    waves = [
        (0.5 + 0.9 * rng.random(), *(6.283 * rng.random(2)), *(0.5 + 0.5 * rng.random(2))) for _ in range(3)
    ]
    bends = [
        (0.28 + 0.6 * rng.random(), 6.283 * rng.random(), 0.4 + 0.4 * rng.random()) for _ in range(kinks)
    ]
    reach = float(np.clip(1.6 * TIGHTEST * radius / length, 0.03, 0.2))
    tightest = 1.0 / (TIGHTEST * radius)
    # in plain floats: arrays of three figures take ten times as long
    here, ahead = start.tolist(), unit(heading).tolist()
    side = unit(np.cross(ahead, np.array([0.31, 0.27, 0.91]))).tolist()
    pulled = [0.0, 0.0, 0.0] if pull is None else (pull / length).tolist()
    line = [here]
    for k in range(points - 1):
        t = k / (points - 1)
        off = _dot(side, ahead)
        side = _unit([one - off * way for one, way in zip(side, ahead, strict=True)])
        (x, y, z), (p, q, r) = ahead, side
        over = [y * r - z * q, z * p - x * r, x * q - y * p]
        turn = [0.0, 0.0, 0.0]
        for octave, (pitch, phase, other, strong, weak) in enumerate(waves):
            angle = 6.283 * pitch * 2.0**octave * t
            amount = 0.8 * 6.283 * pitch * 0.62**octave
            along, across = strong * math.sin(angle + phase), weak * math.sin(angle + other)
            turn = [a + amount * (along * b + across * c) for a, b, c in zip(turn, side, over, strict=True)]
        for at, way, amount in bends:
            rate = amount * math.exp(-(((t - at) / reach) ** 2)) / (1.77 * reach)
            along, across = math.cos(way), math.sin(way)
            turn = [a + rate * (along * b + across * c) for a, b, c in zip(turn, side, over, strict=True)]
        turn = [one * (crooked / length) + more for one, more in zip(turn, pulled, strict=True)]
        size = math.sqrt(_dot(turn, turn))
        if size > tightest:
            turn = [one * (tightest / size) for one in turn]
        ahead = _unit([one + more * step for one, more in zip(ahead, turn, strict=True)])
        here = [one + way * step for one, way in zip(here, ahead, strict=True)]
        line.append(here)
    return np.array(line)


def _dot(one: list[float], other: list[float]) -> float:
    (x, y, z), (p, q, r) = one, other
    return x * p + y * q + z * r


def _unit(vector: list[float]) -> list[float]:
    length = math.sqrt(_dot(vector, vector))
    return [one / length for one in vector]


def _tapered(radius: float, loss: float, points: int, *, power: float = 1.0) -> Floats:
    return radius * (1.0 - loss * np.linspace(0.0, 1.0, points) ** power)


def _offshoot(
    rng: np.random.Generator,
    limbs: list[Limb],
    parent: Limb,
    at: float,
    *,
    reach: float,
    share: float,
    lean: float,
    around: float,
    crooked: float,
    loss: float,
    broken: bool = False,
    kinks: int = 0,
) -> Limb:
    """Add a limb that starts on the parent's middle line at ``at`` (0 to 1), leaning off its heading."""
    k = min(int(at * (len(parent.line) - 1)), len(parent.line) - 2)
    ahead = unit(parent.line[k + 1] - parent.line[k])
    side = unit(np.cross(ahead, np.array([0.02, 0.05, 1.0])))
    out = math.cos(around) * side + math.sin(around) * np.cross(side, ahead)
    way = math.cos(lean) * ahead + math.sin(lean) * out
    own = share * float(parent.radius[k])
    pull = 0.35 * (rng.random() - 0.4) * ahead + 0.25 * out
    line = _walk(rng, parent.line[k], way, reach, own, crooked, kinks=kinks, pull=pull)
    s = np.linspace(0.0, reach, len(line))
    surface = 0.9 * float(parent.radius[k]) / max(math.sin(lean), 0.4)  # where it comes out of the parent
    flare = 1.0 + 0.5 * np.exp(-np.maximum(s - surface, 0.0) / (0.8 * own))
    radius = np.minimum(_tapered(own, loss, len(line), power=0.8) * flare, 0.86 * float(parent.radius[k]))
    limb = Limb(line=line, radius=radius, broken_end=broken, number=len(limbs), parent=parent.number)
    limbs.append(limb)
    return limb


def log_limbs(
    rng: np.random.Generator, length: float, radius: float, count: int, crooked: float, loss: float
) -> list[Limb]:
    """Grow a stout stem torn off at both ends, with stubs and a few longer limbs."""
    way = np.array([1.0, 0.15 * (rng.random() - 0.5), 0.10 * (rng.random() - 0.5)])
    run = length - 1.2 * radius
    line = _walk(rng, np.zeros(3), way, run, radius, 0.55 * crooked, kinks=1, points=72)
    swell = 1.0 + 0.10 * np.sin(np.linspace(0.0, 9.0, 72) + 6.283 * rng.random())
    radii = _tapered(radius, loss, 72) * swell
    trunk = Limb(line=line, radius=radii, broken_start=True, broken_end=True)
    limbs = [trunk]
    for k in range(count):
        at = 0.12 + 0.76 * (k + rng.random()) / count
        stub = rng.random() < 0.5
        local = float(radii[int(at * 71)])
        wish = rng.random()
        reach = (1.7 + 0.9 * wish) * local if stub else max(length * (0.26 + 0.26 * wish), 2.6 * local)
        limb = _offshoot(
            rng,
            limbs,
            trunk,
            at,
            reach=reach,
            share=0.36 + 0.24 * rng.random(),
            lean=0.65 + 0.5 * rng.random(),
            around=0.5 + 2.4 * k + 0.9 * rng.random(),
            crooked=0.9 * crooked,
            loss=0.25 if stub else max(loss, 0.62),
            broken=stub,
            kinks=0 if stub else 2,
        )
        if not stub:
            _offshoot(
                rng,
                limbs,
                limb,
                0.5 + 0.2 * rng.random(),
                reach=reach * (0.3 + 0.25 * rng.random()),
                share=0.62,
                lean=0.5 + 0.5 * rng.random(),
                around=6.283 * rng.random(),
                crooked=0.7 * crooked,
                loss=max(loss, 0.6),
            )
    return limbs


def branch_limbs(
    rng: np.random.Generator, length: float, radius: float, count: int, crooked: float, loss: float
) -> list[Limb]:
    """Grow a slender, sinuous stem forked twice, its limbs lying mostly to the sides."""
    way = np.array([1.0, 0.3 * (rng.random() - 0.5), 0.25 * (rng.random() - 0.3)])
    line = _walk(rng, np.zeros(3), way, 1.1 * length, radius, 0.6 * crooked, kinks=3, points=84)
    stem = Limb(line=line, radius=_tapered(radius, max(loss, 0.5), 84), broken_start=True)
    limbs = [stem]
    for k in range(count):
        at = 0.13 + 0.72 * (k + rng.random()) / count
        limb = _offshoot(
            rng,
            limbs,
            stem,
            at,
            reach=length * (0.62 - 0.36 * at) * (0.7 + 0.6 * rng.random()),
            share=0.58 + 0.2 * rng.random(),
            lean=0.5 + 0.5 * rng.random(),
            around=(0.35 if k % 2 else 3.5) + 1.5 * (rng.random() - 0.4),
            crooked=0.9 * crooked,
            loss=max(loss, 0.75),
            kinks=2,
        )
        for fork in range(1 + int(rng.random() * 1.8)):
            _offshoot(
                rng,
                limbs,
                limb,
                0.34 + 0.26 * fork + 0.2 * rng.random(),
                reach=length * (0.24 - 0.12 * at) * (0.6 + 0.7 * rng.random()),
                share=0.66,
                lean=0.5 + 0.5 * rng.random(),
                around=6.283 * rng.random(),
                crooked=0.8 * crooked,
                loss=max(loss, 0.72),
                broken=rng.random() < 0.25,
            )
    return limbs


def root_limbs(
    rng: np.random.Generator, length: float, radius: float, count: int, crooked: float, loss: float
) -> list[Limb]:
    """Grow a squat, hollow stump on roots that arch out, fork, cross each other and end torn or thin."""
    tall = max(0.20 * length, 2.0 * radius)
    way = np.array([0.5 * (rng.random() - 0.5), 0.5 * (rng.random() - 0.5), 1.0])
    line = _walk(rng, np.array([0.0, 0.0, -0.5 * radius]), way, tall, radius, 0.5 * crooked, points=44)
    t = np.linspace(0.0, 1.0, 44)
    shape = (0.80 + 0.35 * np.exp(-4.0 * t)) * (0.55 + 0.45 * smooth_step(0.0, 0.16, t))
    stump = Limb(line=line, radius=radius * shape, broken_end=True, hollow=0.9)
    limbs = [stump]
    for k in range(count):
        around = 6.283 * (k + 0.8 * (rng.random() - 0.5)) / count
        start = line[4] + np.array([0.0, 0.0, 0.5 * radius * rng.random()]) + 0.2 * radius * bearing(around)
        reach = 0.60 * length * (0.62 + 0.55 * rng.random())
        own = radius * (0.42 + 0.26 * rng.random())
        dip = np.array([0.0, 0.0, -0.9 - 0.5 * rng.random()])
        out = bearing(around, 0.15 + 0.45 * rng.random())
        path = _walk(rng, start, out, reach, 1.3 * own, 1.1 * crooked, kinks=3, pull=dip)
        s = np.linspace(0.0, reach, len(path))
        flare = 1.0 + 0.7 * np.exp(-np.maximum(s - 0.5 * radius, 0.0) / (0.8 * radius))
        torn = rng.random() < 0.4
        lost = min(loss, 0.45) if torn else max(loss, 0.72)
        shape = np.minimum(_tapered(own, lost, len(path), power=1.3) * flare, 0.9 * radius)
        limb = Limb(line=path, radius=shape, broken_end=torn, number=len(limbs), parent=0)
        limbs.append(limb)
        for fork in range(2):
            _offshoot(
                rng,
                limbs,
                limb,
                0.22 + 0.34 * fork + 0.2 * rng.random(),
                reach=reach * (0.62 - 0.2 * fork) * (0.6 + 0.5 * rng.random()),
                share=0.74,
                lean=0.45 + 0.45 * rng.random(),
                around=(0.0 if rng.random() < 0.5 else 3.1416) + 1.4 * (rng.random() - 0.5),
                crooked=1.0 * crooked,
                loss=max(loss, 0.7),
                broken=rng.random() < 0.3,
                kinks=2,
            )
    return limbs


def laid_down(limbs: list[Limb]) -> list[Limb]:
    """Turn the limbs so that the stem's ends lie along x and the whole lies as flat as it can."""
    stem = limbs[0].line
    ahead = unit(stem[-1] - stem[0])
    side = unit(np.cross(np.array([0.0, 0.0, 1.0]), ahead))
    axes = np.array([ahead, side, np.cross(ahead, side)])
    lines = [(limb.line[:, None, :] * axes).sum(axis=2) for limb in limbs]
    heaviest = np.concatenate([limb.radius for limb in limbs])[:, None]
    points = np.concatenate(lines)
    best, flattest = np.eye(3), math.inf
    for k in range(48):
        c, s = math.cos(k * np.pi / 24.0), math.sin(k * np.pi / 24.0)
        turn = np.array([[1.0, 0.0, 0.0], [0.0, c, -s], [0.0, s, c]])
        high = (points * turn[2]).sum(axis=1)
        # Of two ways up that are equally flat, the one with its weight low.
        weight = float(np.sum(high * heaviest[:, 0]) / np.sum(heaviest) - np.min(high))
        tall = float(np.ptp(high)) + 0.3 * weight
        if tall < flattest - 1e-9:
            best, flattest = turn, tall
    return [
        replace(limb, line=(line[:, None, :] * best).sum(axis=2))
        for limb, line in zip(limbs, lines, strict=True)
    ]
