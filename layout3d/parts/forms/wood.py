"""Seeded driftwood as one closed mesh: bent, forked, tapering limbs with grain. No hollows, no bark.

Each limb is a tube swept along its own crooked line, fine around and coarse along, so that the
weathered grooves follow the grain; the limbs are then united. Forks have a collar on the parent and
a flare on the branch, as grown ones do.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from layout3d.parts.forms.mesh import Mesh, lofted, require, require_one_of, united
from layout3d.parts.forms.noise import Floats, Noise, draws, smooth_step

__all__ = ["WOOD_FORMS", "driftwood"]

WOOD_FORMS = ("log", "root", "branch")


@dataclass(frozen=True, slots=True, kw_only=True)
class _Limb:
    """One limb: its middle line (k, 3), radius along it (k,), and how its two ends look."""

    line: Floats
    radius: Floats
    broken_start: bool
    broken_end: bool
    number: int


def driftwood(
    seed: int,
    *,
    length: float,
    thickness: float,
    branches: int = 4,
    twist: float = 0.5,
    taper: float = 0.5,
    form: str = "log",
    detail: int = 16_000,
) -> Mesh:
    """Make a piece of driftwood; the same seed gives the same piece.

    Parameters
    ----------
    seed : whole number, 0 or more
    length : longest side of the bounding box, [m], 0.05 to 4
    thickness : diameter of the main stem at its thick end, about, [m]; 1/60 to 1/2 of ``length``
    branches : limbs that leave the stem (roots of a root), 0 to 16
    twist : how crooked the limbs and how spiral the grain, 0 to 1
    taper : share of its thickness a limb loses to its tip, 0 to 0.95
    form : 'log' (stout, with stubs), 'root' (a stump on spreading roots), 'branch' (slender, forked twice)
    detail : about how many triangles, 2,000 to 200,000

    Returns
    -------
    vertices : (n, 3) float, [m]; lowest point at z = 0, the box centred on x = y = 0; a log or branch
        lies along x, a root stands
    faces : (m, 3) int, closed and turned outward, one piece

    Raises
    ------
    ValueError : an unknown form, or a value outside the limits above.
    """
    require_one_of("form", form, WOOD_FORMS)
    long = require("length", length, 0.05, 4.0, "m")
    thick = require("thickness", thickness, long / 60.0, long / 2.0, "m")
    if branches != int(branches):
        raise ValueError(f"branches must be a whole number, got {branches!r}")
    count = int(require("branches", branches, 0, 16))
    crooked = require("twist", twist, 0.0, 1.0)
    loss = require("taper", taper, 0.0, 0.95)
    triangles = require("detail", detail, 2000, 200_000, "triangles")
    rng = draws(seed, 11)
    grow = {"log": _log, "root": _root, "branch": _branch}[form]
    limbs = grow(rng, long, thick / 2.0, count, crooked, loss)
    surface = sum(_area(limb) for limb in limbs)
    step = math.sqrt(2.0 * surface / (_ALONG * triangles))
    noise = Noise(seed, 12)
    vertices, faces = united(
        [_swept(limb, limbs, noise, step=step, thick=thick, crooked=crooked) for limb in limbs],
        largest_only=True,
    )
    low, high = vertices.min(axis=0), vertices.max(axis=0)
    side = high - low
    part = (vertices - low) / side
    scaled = side * (long / side.max())
    scaled[int(np.argmax(side))] = long
    start = np.array([-scaled[0] / 2.0, -scaled[1] / 2.0, 0.0])
    return np.where(part == 1.0, start + scaled, start + part * scaled), faces


_ALONG = 2.6  # length of a facet along the grain over its width


def _area(limb: _Limb) -> float:
    steps = np.sqrt(np.sum(np.diff(limb.line, axis=0) ** 2, axis=1))
    return float(np.sum(steps * np.pi * (limb.radius[1:] + limb.radius[:-1])))


def _unit(vector: Floats) -> Floats:
    return vector / math.sqrt(float(np.sum(vector * vector)))


def _crooked_line(
    rng: np.random.Generator,
    start: Floats,
    heading: Floats,
    length: float,
    radius: float,
    crooked: float,
    *,
    pull: Floats | None = None,
    points: int = 48,
) -> Floats:
    """Walk from ``start``: the heading sways smoothly, never in a bend tighter than 2.2 radii."""
    step = length / (points - 1)
    waves = [
        (0.8 + 2.4 * rng.random(), 2.0 * np.pi * rng.random(2), 0.35 + 0.65 * rng.random(2)) for _ in range(3)
    ]
    tightest = 1.0 / max(2.2 * radius, 1e-6)
    here, ahead = start, _unit(heading)
    line = [here]
    for k in range(points - 1):
        t = k / (points - 1)
        side = _unit(np.cross(ahead, np.array([0.31, 0.27, 0.91])))
        over = np.cross(ahead, side)
        turn = np.zeros(3)
        for octave, (pitch, phase, strength) in enumerate(waves):
            angle = 2.0 * np.pi * pitch * (1.0 + octave) * t + phase
            turn = turn + (strength[0] * math.sin(angle[0]) * side + strength[1] * math.sin(angle[1]) * over)
        turn = turn * (crooked * 3.4 / length)
        if pull is not None:
            turn = turn + pull / length
        size = math.sqrt(float(np.sum(turn * turn)))
        if size > tightest:
            turn = turn * (tightest / size)
        ahead = _unit(ahead + turn * step)
        here = here + ahead * step
        line.append(here)
    return np.array(line)


def _tapered(radius: float, loss: float, points: int, *, power: float = 1.0) -> Floats:
    return radius * (1.0 - loss * np.linspace(0.0, 1.0, points) ** power)


def _offshoot(
    rng: np.random.Generator,
    parent: _Limb,
    at: float,
    *,
    reach: float,
    share: float,
    lean: float,
    around: float,
    crooked: float,
    loss: float,
    number: int,
    broken: bool,
) -> _Limb:
    """Start a limb on the parent's middle line at ``at`` (0 to 1), leaning away from its heading."""
    k = min(int(at * (len(parent.line) - 1)), len(parent.line) - 2)
    ahead = _unit(parent.line[k + 1] - parent.line[k])
    side = _unit(np.cross(ahead, np.array([0.02, 0.05, 1.0])))
    over = np.cross(side, ahead)
    out = math.cos(around) * side + math.sin(around) * over
    heading = math.cos(lean) * ahead + math.sin(lean) * out
    own = share * float(parent.radius[k])
    line = _crooked_line(
        rng, parent.line[k], heading, reach, own, crooked, pull=0.5 * (rng.random() - 0.3) * ahead
    )
    s = np.linspace(0.0, reach, len(line))
    surface = float(parent.radius[k]) / max(math.sin(lean), 0.4)
    flare = 1.0 + 0.55 * np.exp(-np.maximum(s - 0.8 * surface, 0.0) / (0.9 * own))
    radius = np.minimum(_tapered(own, loss, len(line), power=0.8) * flare, 0.86 * float(parent.radius[k]))
    return _Limb(line=line, radius=radius, broken_start=False, broken_end=broken, number=number)


def _log(
    rng: np.random.Generator, length: float, radius: float, count: int, crooked: float, loss: float
) -> list[_Limb]:
    heading = np.array([1.0, 0.15 * (rng.random() - 0.5), 0.10 * (rng.random() - 0.5)])
    line = _crooked_line(rng, np.zeros(3), heading, length - 1.4 * radius, radius, 0.45 * crooked, points=64)
    trunk = _Limb(line=line, radius=_tapered(radius, loss, 64), broken_start=True, broken_end=True, number=0)
    limbs = [trunk]
    for k in range(count):
        at = 0.10 + 0.8 * (k + rng.random()) / count
        stub = rng.random() < 0.45
        local = radius * (1.0 - loss * at)
        reach = (2.2 + 1.2 * rng.random()) * local if stub else length * (0.22 + 0.2 * rng.random())
        limbs.append(
            _offshoot(
                rng,
                trunk,
                at,
                reach=max(reach, 2.2 * local),
                share=0.34 + 0.22 * rng.random(),
                lean=0.7 + 0.5 * rng.random(),
                around=-0.3 + 2.4 * k + 0.9 * rng.random(),
                crooked=0.9 * crooked,
                loss=0.3 if stub else max(loss, 0.6),
                number=k + 1,
                broken=stub,
            )
        )
    return limbs


def _branch(
    rng: np.random.Generator, length: float, radius: float, count: int, crooked: float, loss: float
) -> list[_Limb]:
    heading = np.array([1.0, 0.2 * (rng.random() - 0.5), 0.15 * (rng.random() - 0.3)])
    line = _crooked_line(rng, np.zeros(3), heading, 1.04 * length, radius, 0.75 * crooked, points=72)
    stem = _Limb(
        line=line, radius=_tapered(radius, max(loss, 0.4), 72), broken_start=True, broken_end=False, number=0
    )
    limbs = [stem]
    for k in range(count):
        at = 0.15 + 0.72 * (k + rng.random()) / count
        limb = _offshoot(
            rng,
            stem,
            at,
            reach=length * (0.55 - 0.33 * at) * (0.75 + 0.5 * rng.random()),
            share=0.55 + 0.2 * rng.random(),
            lean=0.45 + 0.45 * rng.random(),
            around=(0.5 if k % 2 else 3.3) + 1.3 * (rng.random() - 0.4),
            crooked=1.1 * crooked,
            loss=max(loss, 0.72),
            number=2 * k + 1,
            broken=False,
        )
        limbs.append(limb)
        twig = _offshoot(
            rng,
            limb,
            0.40 + 0.25 * rng.random(),
            reach=length * (0.20 - 0.1 * at) * (0.8 + 0.5 * rng.random()),
            share=0.65,
            lean=0.5 + 0.4 * rng.random(),
            around=2.0 * np.pi * rng.random(),
            crooked=1.2 * crooked,
            loss=max(loss, 0.7),
            number=2 * k + 2,
            broken=rng.random() < 0.3,
        )
        limbs.append(twig)
    return limbs


def _root(
    rng: np.random.Generator, length: float, radius: float, count: int, crooked: float, loss: float
) -> list[_Limb]:
    tall = max(0.30 * length, 2.4 * radius)
    heading = np.array([0.25 * (rng.random() - 0.5), 0.25 * (rng.random() - 0.5), 1.0])
    line = _crooked_line(
        rng, np.array([0.0, 0.0, -0.4 * radius]), heading, tall, radius, 0.3 * crooked, points=40
    )
    t = np.linspace(0.0, 1.0, 40)
    stump = _Limb(
        line=line,
        radius=radius * (0.62 + 0.38 * np.exp(-3.0 * t)) * (0.55 + 0.45 * smooth_step(0.0, 0.12, t)),
        broken_start=False,
        broken_end=True,
        number=0,
    )
    limbs = [stump]
    for k in range(count):
        around = 2.0 * np.pi * (k + 0.6 * rng.random()) / count
        flat = np.array([math.cos(around), math.sin(around), 0.0])
        start = line[2] + np.array([0.0, 0.0, 0.55 * radius * rng.random()]) + 0.25 * radius * flat
        reach = 0.62 * length * (0.72 + 0.4 * rng.random())
        own = radius * (0.30 + 0.18 * rng.random())
        path = _crooked_line(
            rng,
            start,
            flat + np.array([0.0, 0.0, 0.25 * rng.random()]),
            reach,
            own,
            1.1 * crooked,
            pull=np.array([0.0, 0.0, -0.9]),
        )
        s = np.linspace(0.0, reach, len(path))
        shape = _tapered(own, max(loss, 0.75), len(path), power=0.7) * (
            1.0 + 0.75 * np.exp(-s / (0.8 * radius))
        )
        limb = _Limb(line=path, radius=shape, broken_start=False, broken_end=False, number=2 * k + 1)
        limbs.append(limb)
        limbs.append(
            _offshoot(
                rng,
                limb,
                0.30 + 0.3 * rng.random(),
                reach=reach * (0.35 + 0.2 * rng.random()),
                share=0.72,
                lean=0.45 + 0.4 * rng.random(),
                around=(0.0 if rng.random() < 0.5 else np.pi) + 0.8 * (rng.random() - 0.5),
                crooked=1.2 * crooked,
                loss=max(loss, 0.7),
                number=2 * k + 2,
                broken=False,
            )
        )
    return limbs


def _frames(line: Floats) -> tuple[Floats, Floats, Floats]:
    """Return headings and two side directions carried along the line without turning about it."""
    ahead = np.gradient(line, axis=0)
    ahead /= np.sqrt(np.sum(ahead * ahead, axis=1, keepdims=True))
    side = _unit(np.cross(ahead[0], np.array([0.31, 0.27, 0.91])))
    sides = []
    for heading in ahead:
        side = _unit(side - float(np.sum(side * heading)) * heading)
        sides.append(side)
    across = np.array(sides)
    return ahead, across, np.cross(ahead, across)


def _resampled(limb: _Limb, step: float) -> tuple[Floats, Floats, Floats]:
    gaps = np.sqrt(np.sum(np.diff(limb.line, axis=0) ** 2, axis=1))
    s = np.concatenate([[0.0], np.cumsum(gaps)])
    rows = max(8, round(float(s[-1]) / step) + 1)
    at = np.linspace(0.0, float(s[-1]), rows)
    line = np.stack([np.interp(at, s, limb.line[:, k]) for k in range(3)], axis=1)
    return at, line, np.interp(at, s, limb.radius)


def _swept(
    limb: _Limb, limbs: list[_Limb], noise: Noise, *, step: float, thick: float, crooked: float
) -> Mesh:
    s, line, radius = _resampled(limb, _ALONG * step)
    ahead, side, over = _frames(line)
    around = max(8, round(np.pi * float(np.max(radius) + np.mean(radius)) / step))
    angle = 2.0 * np.pi * np.arange(around) / around
    length = float(s[-1])

    spiral = (0.6 + 1.8 * crooked) * s / max(length, 6.0 * thick) * np.pi
    turned = angle[None, :] + spiral[:, None]
    ring = np.stack([np.cos(turned), np.sin(turned)], axis=2)
    shift = 13.7 * limb.number

    def grain(width: float, along: float, octaves: int, *, ridged: bool = False) -> Floats:
        at = np.concatenate(
            [
                ring * (radius / width)[:, None, None],
                np.broadcast_to((s / along)[:, None, None], (*turned.shape, 1)),
            ],
            axis=2,
        )
        return noise.fractal(at + shift, octaves, gain=0.6, ridged=ridged)

    # Flutes: the section is never round; they run with the spiral of the grain.
    flutes = grain(0.75 * thick / 2.0, 3.5 * thick, 2)
    grooves = grain(0.10 * thick, 1.6 * thick, 3, ridged=True)
    checks = grain(0.22 * thick, 3.0 * thick, 1)
    open_check = np.exp(-((checks / 0.07) ** 2)) * smooth_step(-0.1, 0.35, grain(0.5 * thick, 1.2 * thick, 1))
    share = 1.0 + 0.22 * flutes + 0.07 * (grooves - 0.4) - 0.16 * open_check
    rho = radius[:, None] * share

    # Collars where other limbs leave this one.
    out = np.cos(angle)[None, :, None] * side[:, None, :] + np.sin(angle)[None, :, None] * over[:, None, :]
    points = line[:, None, :] + rho[:, :, None] * out
    for other in limbs:
        if other.number <= limb.number:
            continue
        foot = other.line[0]
        if (
            float(np.min(np.sum((line - foot) ** 2, axis=1)))
            > (0.5 * float(np.max(radius))) ** 2 + (2 * step) ** 2
        ):
            continue
        leave = other.line[min(6, len(other.line) - 1)] - foot
        heading = _unit(leave)
        rel = points - foot
        along = rel @ heading
        off = np.sqrt(np.maximum(np.sum(rel * rel, axis=2) - along * along, 0.0))
        own = float(other.radius[len(other.radius) // 6])
        rho = rho + np.where(along > 0.0, 0.45 * own * np.exp(-((off / (1.5 * own)) ** 2)), 0.0)

    slide = np.zeros_like(rho)
    last = float(radius[-1])
    if limb.broken_end:
        slide = (
            slide
            + _splinters(noise, ring[-1], shift + 5.0)
            * last
            * smooth_step(length - 2.5 * last, length, s)[:, None]
        )
    else:
        close = np.clip((length - s) / (1.2 * last), 0.0, 1.0)
        rho = rho * np.sqrt(np.maximum(1.0 - (1.0 - close) ** 2, 0.04))[:, None]
    if limb.broken_start:
        first = float(radius[0])
        slide = (
            slide
            - _splinters(noise, ring[0], shift + 9.0) * first * smooth_step(2.5 * first, 0.0, s)[:, None]
        )
    points = line[:, None, :] + rho[:, :, None] * out + slide[:, :, None] * ahead[:, None, :]
    rings = points
    if limb.broken_end:
        rings = np.concatenate([rings, _broken_face(points[-1], ahead[-1], noise, last, shift)])
    if limb.broken_start:
        face = _broken_face(points[0], -ahead[0], noise, float(radius[0]), shift + 3.0)
        rings = np.concatenate([face[::-1], rings])
    return lofted(rings)


def _splinters(noise: Noise, ring: Floats, shift: float) -> Floats:
    at = np.concatenate([ring, np.zeros((len(ring), 1))], axis=1)
    return 0.9 * noise.fractal(at * 1.3 + shift, 2) + 0.5 * noise.fractal(at * 4.0 + shift, 2, ridged=True)


def _broken_face(edge: Floats, ahead: Floats, noise: Noise, radius: float, shift: float) -> Floats:
    """Fill a broken end: rings that shrink to the middle over torn, uneven fibre."""
    middle = edge.mean(axis=0)
    rings = []
    for share in (0.86, 0.66, 0.45, 0.24, 0.08):
        ring = middle + share * (edge - middle)
        torn = noise.fractal(ring / (0.35 * radius) + shift, 3)
        sunk = (1.0 - share) * 0.25 * radius
        rings.append(ring + ((0.35 * radius * torn * min(1.0, 2.5 * (1.0 - share))) - sunk)[:, None] * ahead)
    return np.array(rings)
