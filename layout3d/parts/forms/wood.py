"""Seeded driftwood as one closed mesh: bent, forked, tapering limbs with grain. No hollows, no bark.

Each limb is a tube swept along its own crooked line, fine around and coarse along, its facets
running with the spiral of the grain, so that few triangles show the weathered grooves; the limbs
are then united. Forks have a collar on the parent and a flare on the branch, as grown ones do.
"""

from __future__ import annotations

import math

import numpy as np

from layout3d.parts.forms.limbs import Limb, branch_limbs, laid_down, log_limbs, root_limbs
from layout3d.parts.forms.mesh import Mesh, eased, fit, lofted, require, require_one_of, unit, united
from layout3d.parts.forms.noise import Floats, Noise, coordinates, draws, smooth_step

__all__ = ["WOOD_FORMS", "driftwood"]

WOOD_FORMS = ("log", "root", "branch")
ALONG = 2.6  # length of a facet along the grain over its width


def driftwood(
    seed: int,
    *,
    length: float,
    thickness: float,
    branches: int = 4,
    twist: float = 0.5,
    taper: float = 0.5,
    form: str = "log",
    detail: int = 18_000,
) -> Mesh:
    """Make a piece of driftwood; the same seed gives the same piece.

    Parameters
    ----------
    seed : whole number, 0 or more
    length : longest side of the bounding box, [m], 0.05 to 4
    thickness : diameter of the main stem at its thick end, about, [m]; 1/60 to 1/2 of ``length``
    branches : limbs that leave the stem (roots of a root), 0 to 16; the longer ones fork again
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
    count = int(require("branches", branches, 0, 16))
    if count != branches:
        raise ValueError(f"branches must be a whole number, got {branches!r}")
    crooked = require("twist", twist, 0.0, 1.0)
    loss = require("taper", taper, 0.0, 0.95)
    triangles = require("detail", detail, 2000, 200_000, "triangles")
    grow = {"log": log_limbs, "root": root_limbs, "branch": branch_limbs}[form]
    # Grown twice: the first shows how far the bends and limbs reach, so that the second comes out near
    # the length asked and the last stretch to the exact length leaves the thickness nearly alone.
    reach = long
    for _ in range(2):
        limbs = grow(draws(seed, 11), reach, thick / 2.0, count, crooked, loss)
        if form != "root":
            limbs = laid_down(limbs)
        ends = np.concatenate([limb.line for limb in limbs])
        reach *= float(np.clip((long - 0.6 * thick) / max(np.ptp(ends, axis=0)), 0.3, 4.0))
    step = _facet_width(limbs, triangles)
    noise = Noise(seed, 12)
    shells = [eased(_swept(limb, limbs, noise, step=step, thick=thick, crooked=crooked)) for limb in limbs]
    vertices, faces = united(shells, largest_only=True)
    side = np.ptp(vertices, axis=0)
    size = side * (long / side.max())
    size[int(np.argmax(side))] = long
    return fit(vertices, size), faces


def _facet_width(limbs: list[Limb], triangles: float) -> float:
    """Return the facet width at which the swept limbs have about so many triangles together."""
    width = math.sqrt(2.0 * sum(limb.area for limb in limbs) / (ALONG * triangles))
    for _ in range(3):  # thin limbs keep a least number of facets around, so the first guess is too many
        count = sum(
            2 * _around(limb.radius, width) * len(_resampled(limb, ALONG * width)[0]) for limb in limbs
        )
        width *= math.sqrt(count / triangles)
    return width


def _around(radius: Floats, step: float) -> int:
    return max(9, round(np.pi * float(np.max(radius) + np.mean(radius)) / step))


def _frames(line: Floats) -> tuple[Floats, Floats, Floats]:
    """Return headings and two side directions carried along the line without turning about it."""
    ahead = unit(np.gradient(line, axis=0))
    side = unit(np.cross(ahead[0], np.array([0.31, 0.27, 0.91])))
    sides = []
    for heading in ahead:
        side = unit(side - float(np.sum(side * heading)) * heading)
        sides.append(side)
    across = np.array(sides)
    return ahead, across, np.cross(ahead, across)


def _resampled(limb: Limb, step: float) -> tuple[Floats, Floats, Floats]:
    gaps = np.sqrt(np.sum(np.diff(limb.line, axis=0) ** 2, axis=1))
    s = np.concatenate([[0.0], np.cumsum(gaps)])
    rows = max(8, round(float(s[-1]) / step) + 1)
    at = np.linspace(0.0, float(s[-1]), rows)
    if not limb.broken_end:  # rings close together where the tip rounds off
        tip = min(1.5 * float(limb.radius[-1]), 0.3 * float(s[-1]))
        at = np.concatenate([at[at < s[-1] - 1.2 * tip], s[-1] - tip * np.array([1.0, 0.6, 0.3, 0.12, 0.0])])
    line = np.stack([np.interp(at, s, limb.line[:, k]) for k in range(3)], axis=1)
    return at, line, np.interp(at, s, limb.radius)


def _swept(limb: Limb, limbs: list[Limb], noise: Noise, *, step: float, thick: float, crooked: float) -> Mesh:
    s, line, radius = _resampled(limb, ALONG * step)
    ahead, side, over = _frames(line)
    around = _around(radius, step)
    own_angle = 2.0 * np.pi * np.arange(around) / around
    length = float(s[-1])
    shift = 13.7 * limb.number

    # The grain winds about the limb; a line of facets keeps to one strand of it.
    wind = (0.15 + 1.4 * crooked) * np.pi * s / max(length, 5.0 * thick)
    sway = 0.5 * noise.fractal(coordinates(s / (4.0 * thick), shift, 0.3), 2)
    angle = own_angle[None, :] + (wind + crooked * sway)[:, None]
    strand = np.stack([np.cos(own_angle), np.sin(own_angle)], axis=1)

    def grain(width: float, along: float, octaves: int, *, ridged: bool = False) -> Floats:
        across = strand[None] * (np.maximum(radius, 0.25 * thick) / width)[:, None, None]
        at = coordinates(across[..., 0], across[..., 1], (s / along)[:, None])
        return noise.fractal(at + shift, octaves, gain=0.6, ridged=ridged)

    # Flutes: the section is never round. Grooves: soft wood between the rings wears first. Checks:
    # a few long cracks from drying.
    flutes = grain(0.36 * thick, 3.2 * thick, 2)
    grooves = grain(0.085 * thick, 1.5 * thick, 3, ridged=True)
    checks = grain(0.20 * thick, 3.4 * thick, 1)
    where = smooth_step(-0.05, 0.35, grain(0.45 * thick, 1.4 * thick, 1))
    crack = np.exp(-((checks / 0.08) ** 2)) * where
    lumps = grain(0.5 * thick, 0.55 * thick, 2)
    rho = radius[:, None] * (1.0 + 0.24 * flutes + 0.08 * lumps + 0.085 * (grooves - 0.45) - 0.17 * crack)

    for other in limbs:
        if other.parent == limb.number:
            angle, rho = _collared(other, line, side, over, angle, rho)
    out = np.cos(angle)[..., None] * side[:, None, :] + np.sin(angle)[..., None] * over[:, None, :]

    slide = np.zeros_like(rho)
    last, first = float(radius[-1]), float(radius[0])
    if limb.broken_end:
        torn = smooth_step(length - 2.2 * last, length, s)[:, None]
        slide = slide + _splinters(noise, strand, shift + 5.0) * last * torn
    else:
        rho = rho * (1.0 - 0.5 * smooth_step(0.55 * length, length, s))[:, None]
        close = np.clip((length - s) / (1.5 * last), 0.0, 1.0)
        rho = rho * np.sqrt(np.maximum(1.0 - (1.0 - close) ** 2, 0.015))[:, None]
    if limb.broken_start:
        torn = smooth_step(2.2 * first, 0.0, s)[:, None]
        slide = slide - _splinters(noise, strand, shift + 9.0) * first * torn
    rings = line[:, None, :] + rho[..., None] * out + slide[..., None] * ahead[:, None, :]
    if limb.broken_end:
        rings = np.concatenate([rings, _broken_face(rings[-1], ahead[-1], noise, last, shift, limb.hollow)])
    if limb.broken_start:
        face = _broken_face(rings[0], -ahead[0], noise, first, shift + 3.0)
        rings = np.concatenate([face[::-1], rings])
    return lofted(rings)


def _collared(
    other: Limb, line: Floats, side: Floats, over: Floats, angle: Floats, rho: Floats
) -> tuple[Floats, Floats]:
    """Swell the surface around a limb that leaves it, and lead the grain around the fork."""
    foot = other.line[0]
    out = np.cos(angle)[..., None] * side[:, None, :] + np.sin(angle)[..., None] * over[:, None, :]
    rel = line[:, None, :] + rho[..., None] * out - foot
    heading = unit(other.line[min(8, len(other.line) - 1)] - foot)
    along = np.sum(rel * heading, axis=2)
    off = np.sqrt(np.maximum(np.sum(rel * rel, axis=2) - along * along, 0.0))
    own = float(np.median(other.radius[: len(other.radius) // 2]))
    facing = smooth_step(0.0, 0.5, along / np.maximum(rho, 1e-9))
    swell = 0.34 * own * np.exp(-((off / (1.35 * own)) ** 2))
    swell = swell + 0.08 * own * np.exp(-((off / (2.4 * own)) ** 2))
    nearest = int(np.argmin(np.sum((line - foot) ** 2, axis=1)))
    middle = math.atan2(float(np.sum(heading * over[nearest])), float(np.sum(heading * side[nearest])))
    aside = (angle - middle + np.pi) % (2.0 * np.pi) - np.pi
    width = np.clip(own / np.maximum(rho, 1e-9), 0.05, 0.8)
    lead = 0.55 * aside * np.exp(-((aside / (1.8 * width)) ** 2)) * facing
    lead = lead * np.exp(-((off / (2.6 * own)) ** 2))
    return angle + lead, rho + facing * swell


def _splinters(noise: Noise, strand: Floats, shift: float) -> Floats:
    at = coordinates(strand[:, 0], strand[:, 1], 0.0)
    return 0.9 * noise.fractal(at * 1.2 + shift, 2) + 0.55 * noise.fractal(at * 3.5 + shift, 3, ridged=True)


def _broken_face(
    edge: Floats, ahead: Floats, noise: Noise, radius: float, shift: float, hollow: float = 0.0
) -> Floats:
    """Fill a broken end: rings that shrink to the middle over torn, uneven fibre, or down into a hollow."""
    middle = edge.mean(axis=0)
    spoke = edge - middle
    lift = np.sum(spoke * ahead, axis=1)[:, None] * ahead
    flat = spoke - lift
    reach = np.sqrt(np.sum(flat * flat, axis=1, keepdims=True))
    even = flat * (np.mean(reach) / np.maximum(reach, 1e-9))
    rings = []
    for share in (0.90, 0.76, 0.60, 0.44, 0.27, 0.10):
        # Grooves and splinters of the rim die away inward; the fibre there is torn at its own pattern.
        mix = min(1.0, 2.6 * (1.0 - share))
        ring = middle + share * ((1.0 - mix) * flat + mix * even) + share**5 * lift
        deep = hollow * radius * float(np.clip((0.92 - share) / 0.45, 0.0, 1.0))
        torn = noise.fractal(ring / (0.30 * radius) + shift, 3)
        rings.append(ring + (radius * (0.50 * torn * mix - 0.22 * mix) - deep)[:, None] * ahead)
    return np.array(rings)
