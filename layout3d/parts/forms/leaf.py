"""Seeded plants as closed meshes: thin closed leaves and a root ball. Form only; no growth, no colour.

Leaves are slabs 0.6 mm thick or more before the last stretch to size, united where they cross, so
that volumes and overlaps can be trusted; a living leaf is thinner, by so much that its own volume
hardly counts in a tank.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from layout3d.parts.forms.mesh import (
    Mesh,
    bearing,
    geodesic,
    lofted,
    require,
    require_one_of,
    thickened,
    unit,
    united,
)
from layout3d.parts.forms.noise import Floats, Noise, coordinates, draws

__all__ = ["PLANT_FORMS", "plant"]

PLANT_FORMS = ("fern", "broadleaf", "grass", "moss", "creeper", "bromeliad")
THINNEST = 0.0006  # [m]
UP = np.array([0.0, 0.0, 1.0])
LEAST_ALIKE = 0.5  # cosine between the ways across a leaf at one place of its midrib and the next


def plant(
    seed: int,
    *,
    form: str,
    height: float,
    spread: float,
    detail: float = 1.0,
    pieces: Sequence[str] = ("foliage", "root"),
) -> dict[str, Mesh]:
    """Make a plant; the same seed gives the same plant.

    Parameters
    ----------
    seed : whole number, 0 or more
    form : 'fern' (arching fronds), 'broadleaf' (rosette of stalked leaves), 'grass' (tuft of narrow
        blades), 'moss' (cushion), 'creeper' (vines hanging down) or 'bromeliad' (cupped rosette)
    height : of the foliage, [m], 0.01 to 2
    spread : longest side of the foliage in plan, [m], 0.02 to 2; height and spread at most 8 to 1
        either way
    detail : 0.5 to 3, about in proportion to the number of triangles
    pieces : which of those below to make

    Returns
    -------
    'foliage' : closed mesh, one piece, from the ground line z = 0 up to ``height``, grown from
        x = y = 0; a creeper hangs from z = 0 down to ``-height`` in front (y < 0) of where it grows
    'root' : closed mesh of the root ball below the ground line (of a creeper: also behind y = 0)

    Raises
    ------
    ValueError : an unknown form, or a value outside the limits above.
    """
    require_one_of("form", form, PLANT_FORMS)
    tall = require("height", height, 0.01, 2.0, "m")
    wide = require("spread", spread, max(0.02, tall / 8.0), min(2.0, 8.0 * tall), "m")
    fine = require("detail", detail, 0.5, 3.0)
    makers = {
        "foliage": lambda: _foliage(seed, form, tall, wide, fine),
        "root": lambda: _root_ball(seed, form, tall, wide),
    }
    return {piece: makers[piece]() for piece in pieces}


def _foliage(seed: int, form: str, tall: float, wide: float, fine: float) -> Mesh:
    """Return all leaves, of the height and spread that were asked for."""
    rng = draws(seed, 41 + PLANT_FORMS.index(form))
    make = (_fern, _broadleaf, _grass, _moss, _creeper, _bromeliad)[PLANT_FORMS.index(form)]
    shells = make(rng, seed, tall, wide, fine)
    vertices, faces = united(shells, largest_only=True)
    low, high = vertices.min(axis=0), vertices.max(axis=0)
    side = high - low
    broad = int(np.argmax(side[:2]))
    scale = np.array([wide / side[broad], wide / side[broad], tall / side[2]])
    # The crown stays on the origin; a creeper hangs from its runner in front of the plane y = 0.
    base = np.array([0.0, high[1], high[2]]) if form == "creeper" else np.array([0.0, 0.0, low[2]])
    return (vertices - base) * scale, faces


def _blade(
    middle: Floats, face: Floats, half: Floats, *, thick: float, fold: float = 0.0, across: int = 1
) -> Mesh:
    """Make a closed leaf along a middle line.

    Parameters
    ----------
    middle : (k, 3) float, midrib from foot to tip
    face : (3,) float, the way the upper side looks, about
    half : (k,) float, half width along the midrib
    thick : thickness, at least 0.6 mm
    fold : rise of the margins over the midrib as a share of the half width (below 0: they droop)
    across : strips on each side of the midrib
    """
    thick = max(thick, THINNEST)
    ahead = unit(np.gradient(middle, axis=0))
    side = unit(np.cross(ahead, np.broadcast_to(face, middle.shape)))
    turning = np.sum(side[1:] * side[:-1], axis=1) < LEAST_ALIKE
    for row in range(int(turning.argmax()), len(side) - 1) if turning.any() else ():
        # it bends past the way it faces: there it would turn over from one row to the next
        side[row + 1] = unit(side[row] - np.sum(side[row] * ahead[row + 1]) * ahead[row + 1])
    normal = np.cross(side, ahead)
    share = np.linspace(-1.0, 1.0, max(2 * across + 1, 2))
    half = np.maximum(half, 0.6 * thick)
    rise = fold * half[:, None] * np.abs(share) ** 1.4
    flat = middle[:, None] + (half[:, None] * share)[..., None] * side[:, None]
    flat = flat + rise[..., None] * normal[:, None]
    number = np.arange(flat.shape[0] * flat.shape[1]).reshape(flat.shape[:2])
    a, b, c, d = (k.ravel() for k in (number[:-1, :-1], number[:-1, 1:], number[1:, 1:], number[1:, :-1]))
    faces = np.concatenate([np.stack([a, b, c], axis=1), np.stack([a, c, d], axis=1)])
    lift = np.repeat(0.5 * thick * normal, len(share), axis=0)
    return thickened(flat.reshape(-1, 3), faces, lift)


def _arch(
    heading: float,
    rise: float,
    length: float,
    droop: float,
    count: int,
    *,
    start: Floats | None = None,
    sway: float = 0.0,
) -> Floats:
    """Return a line leaving towards ``heading``, ``rise`` over level, that bends down by ``droop`` [rad]."""
    t = np.linspace(0.0, 1.0, count)
    pitch = rise - droop * t**1.3
    turn = heading + sway * np.sin(2.6 * t)
    step = coordinates(np.cos(pitch) * np.cos(turn), np.cos(pitch) * np.sin(turn), np.sin(pitch))
    line = np.concatenate([np.zeros((1, 3)), np.cumsum(0.5 * (step[1:] + step[:-1]), axis=0)])
    return line * (length / (count - 1)) + (np.zeros(3) if start is None else start)


def _tube(line: Floats, radius: Floats, around: int = 6) -> Mesh:
    ahead = unit(np.gradient(line, axis=0))
    side = np.cross(ahead[0], np.array([0.31, 0.27, 0.91]))
    rings = []
    for here, heading, r in zip(line, ahead, radius, strict=True):
        side = unit(side - float(np.sum(side * heading)) * heading)
        over = np.cross(heading, side)
        angle = 2.0 * np.pi * np.arange(around) / around
        rings.append(here + r * (np.cos(angle)[:, None] * side + np.sin(angle)[:, None] * over))
    return lofted(np.array(rings))


def _fern(rng: np.random.Generator, seed: int, tall: float, wide: float, fine: float) -> list[Mesh]:
    shells = [_crown(0.026 * wide)]
    fronds = round(11 * fine**0.5)
    for k in range(fronds):
        heading = 2.399963 * k + 0.5 * rng.random()
        length = 0.62 * wide * (0.85 + 0.3 * rng.random())
        droop, sway = 1.25 + 0.8 * rng.random(), 0.5 * (rng.random() - 0.5)
        line = _arch(heading, 0.8 + 0.6 * k / fronds, length, droop, 49, sway=sway)
        while line[-1, 2] < 0.12 * length:  # a frond hangs over, but not into the ground
            droop *= 0.92
            line = _arch(heading, 0.8 + 0.6 * k / fronds, length, droop, 49, sway=sway)
        shells.append(_frond(rng, line, length, round(14 * fine**0.5), 0.004 * wide))
    return shells


def _frond(rng: np.random.Generator, line: Floats, length: float, pairs: int, rib: float) -> Mesh:
    """Make one frond as a slab: a rib with a pair of pointed leaflets at each step, cut out of one sheet."""
    pitch = 0.83 / pairs
    middle = 0.16 + pitch * np.arange(pairs)
    at = np.concatenate(
        [[0.0, 0.08], np.stack([middle - 0.40 * pitch, middle + 0.40 * pitch], axis=1).ravel()]
    )
    ahead = unit(np.gradient(line, axis=0))
    level = unit(np.cross(ahead, UP))
    upper = np.cross(level, ahead)
    place = np.linspace(0.0, 1.0, len(line))

    def along(field: Floats, t: NDArray[np.floating]) -> Floats:
        return np.stack([np.interp(t, place, field[:, k]) for k in range(3)], axis=-1)

    width = np.maximum(rib * (1.0 - 0.75 * at), 0.0004)
    aside = np.array([1.0, -1.0])[:, None] * (width[:, None] * along(level, at))[:, None]
    sheet = [(along(line, at)[:, None] + aside).reshape(-1, 3), line[-1:]]
    lift = [np.repeat(0.5 * width[:, None] * along(upper, at), 2, axis=0), 0.5 * THINNEST * upper[-1:]]
    station = 2 * np.arange(len(at) - 1)
    tip = 2 * len(at)
    faces = [
        np.stack([station, station + 2, station + 1], axis=1),
        np.stack([station + 1, station + 2, station + 3], axis=1),
        np.array([[tip - 2, tip, tip - 1]]),
    ]
    # Longest a third of the way up, shorter to the foot, dwindling to the tip.
    grown = np.minimum(1.0, 0.45 + 2.6 * (middle - 0.16)) * (1.0 - middle) ** 0.75
    long = length * (0.32 * grown + 0.012) * (0.92 + 0.16 * rng.random(pairs))
    half = np.minimum(0.15 * long + 0.05 * pitch * length, 0.36 * pitch * length)
    foot, out_level, out_ahead, out_upper = (along(f, middle) for f in (line, level, ahead, upper))
    total = tip + 1
    for side, way in ((0, 1.0), (1, -1.0)):
        strayed = 0.10 * (rng.random((pairs, 3)) - 0.5)
        out = unit(way * out_level + 0.36 * out_ahead + 0.16 * out_upper + strayed)
        sag = 0.20 * long[:, None] * UP
        across = half[:, None] * unit(out_ahead - np.sum(out_ahead * out, axis=1, keepdims=True) * out)
        half_way = foot + 0.50 * long[:, None] * out - 0.25 * sag
        rows = [half_way - across, half_way + across, foot + long[:, None] * out - sag]
        sheet.append(np.stack(rows, axis=1).reshape(-1, 3))
        thick = np.minimum(THINNEST, 0.7 * half)[:, None]  # of a small fern
        lift.append(np.repeat(0.5 * thick * out_upper, 3, axis=0))
        j = np.arange(pairs)
        low, high = 4 + 4 * j + side, 6 + 4 * j + side
        a, b, c = total + 3 * j, total + 3 * j + 1, total + 3 * j + 2
        leaflet = [np.stack(t, axis=1) for t in ((low, a, high), (high, a, b), (b, a, c))]
        faces += leaflet if way > 0.0 else [t[:, ::-1] for t in leaflet]
        total += 3 * pairs
    return thickened(np.concatenate(sheet), np.concatenate(faces), np.concatenate(lift))


def _broadleaf(rng: np.random.Generator, seed: int, tall: float, wide: float, fine: float) -> list[Mesh]:
    shells = [_crown(0.026 * wide)]
    leaves = round(12 * fine**0.5)
    rows = round(14 * fine**0.25)
    for k in range(leaves):
        heading = 2.399963 * k + 0.5 * rng.random()
        inner = k / leaves
        size = 0.30 * wide * (1.0 - 0.35 * inner) * (0.85 + 0.3 * rng.random())
        rise = 0.55 + 0.75 * inner
        stalk = _arch(heading, rise, 0.30 * wide * (1.0 - 0.2 * inner), 0.25, 7)
        end = stalk[-1] - stalk[-2]
        pitch = math.asin(float(np.clip(end[2] / math.sqrt(float(np.sum(end * end))), -1.0, 1.0)))
        thin = max(0.0008, 0.009 * wide)
        shells.append(_tube(stalk, np.linspace(1.3 * thin, 0.8 * thin, 7), 6))
        line = _arch(heading, pitch - 0.25, size, 0.8 + 0.4 * rng.random(), rows, start=stalk[-1] - 0.3 * end)
        t = np.linspace(0.0, 1.0, rows)
        half = 0.36 * size * np.sin(np.pi * t**0.72) ** 0.75
        wave = 0.05 * size * np.sin(9.0 * t + 6.0 * rng.random()) * half / half.max()
        thick, fold = max(0.0008, 0.004 * wide), 0.22 + 0.1 * rng.random()
        vertices, faces = _blade(line, UP, half, thick=thick, fold=fold, across=4)
        share = np.linspace(-1, 1, 9)
        swung = wave[:, None] * np.abs(share) ** 2 * np.where(share < 0, 1.0, np.cos(2.1))
        vertices.reshape(2, rows, 9, 3)[..., 2] += swung
        shells.append((vertices, faces))
    return shells


def _grass(rng: np.random.Generator, seed: int, tall: float, wide: float, fine: float) -> list[Mesh]:
    shells = [_crown(0.10 * wide)]
    blades = round(62 * fine)
    for k in range(blades):
        heading = 2.399963 * k + rng.random()
        out = math.sqrt((k + 0.5) / blades)
        away = bearing(heading)
        long = tall * (0.60 + 0.5 * rng.random())
        line = _arch(
            heading + 0.9 * (rng.random() - 0.5),
            1.50 - 0.40 * out - 0.12 * rng.random(),
            long,
            (0.35 + 1.3 * rng.random()) * (0.4 + 0.8 * out),
            8,
            start=0.085 * wide * out * away + 0.02 * wide * UP,
        )
        t = np.linspace(0.0, 1.0, 8)
        broad = max(0.0012, 0.0125 * tall) * (0.7 + 0.5 * rng.random())
        half = broad * (1.0 - t**2.4) * (0.65 + 0.7 * t**0.5)
        face = 0.4 * UP - away + 0.9 * (rng.random(3) - 0.5)
        shells.append(_blade(line, face, half, thick=THINNEST, fold=0.3))
    return shells


def _moss(rng: np.random.Generator, seed: int, tall: float, wide: float, fine: float) -> list[Mesh]:
    noise = Noise(seed, 51)
    points, faces = geodesic(round(7000 * fine))
    body = points * (1.0 + 0.16 * noise.fractal(points * 1.2, 2))[:, None]
    # Cushions in two sizes, each a round pillow, then a nap of shoots: single vertices drawn out.
    big, _, number = noise.cells(body * 1.9, jitter=0.8)
    small, _, _ = noise.cells(body * 4.6 + 9.0, jitter=0.9)
    pillow = (0.20 + 0.10 * number) * (1.0 - np.minimum(big, 1.0) ** 2)
    pillow = pillow + 0.075 * (1.0 - np.minimum(small, 1.0) ** 2)
    nap = rng.random(len(points))
    shoot = np.where(nap < 0.36, 0.030 + 0.05 * rng.random(len(points)), 0.0)
    lean = 0.022 / max(1.0, fine**0.5) * (rng.random((len(points), 3)) - 0.5)
    body = body + (pillow + shoot)[:, None] * points + lean
    body[:, 2] = np.where(body[:, 2] < 0.0, 0.14 * body[:, 2], body[:, 2])
    return [(body * np.array([0.5 * wide, 0.46 * wide, 0.8 * tall]), faces)]


def _creeper(rng: np.random.Generator, seed: int, tall: float, wide: float, fine: float) -> list[Mesh]:
    runner = np.array([[x * 0.20 * wide, (-0.05 + 0.02 * x * x) * wide, 0.0] for x in (-1.0, -0.3, 0.4, 1.0)])
    shells = [_tube(runner, np.full(4, max(0.0012, 0.009 * wide)), 6)]
    vines = max(3, round(5 * fine**0.5))
    size, swing = min(0.15 * wide, 0.13 * tall), min(wide, tall)  # a short vine can't wind far
    for k in range(vines):
        across = ((k + 0.5 + 0.6 * (rng.random() - 0.5)) / vines - 0.5) * wide * 0.85
        long = tall * (0.5 + 0.5 * rng.random()) if k != vines // 2 else tall
        t = np.linspace(0.0, 1.0, 22)
        phase = 6.28 * rng.random(3)
        sway = 0.07 * swing * np.sin(5.5 * t + phase[0]) * t + 0.03 * swing * np.sin(13.0 * t + phase[2]) * t
        front = 0.10 * swing * np.sin(np.pi * np.minimum(1.6 * t, 1.0))
        front = front + 0.05 * swing * np.sin(6.0 * t + phase[1]) * t
        line = coordinates(
            across * (0.30 + 0.70 * t**0.4) + sway,
            -front - 0.05 * wide,
            0.04 * tall * np.sin(np.pi * np.minimum(5.0 * t, 1.0)) - long * t,
        )
        shells.append(_tube(line, np.linspace(1.0, 0.45, 22) * max(0.0008, 0.006 * wide), 5))
        count = round((4 + 10 * long / tall) * fine**0.5)
        for j in range(count):
            at = (0.04 + 0.95 * (j + 0.5 * rng.random()) / count) * 21.0
            i = min(int(at), 20)
            foot = line[i] + (at - i) * (line[i + 1] - line[i])
            own = size * (1.0 - 0.55 * (at / 21.0) ** 1.5) * (0.7 + 0.5 * rng.random())
            turn = (0.0 if j % 2 else np.pi) + 1.5 * (rng.random() - 0.5)
            out = unit(np.array([math.cos(turn), -0.35 - abs(math.sin(turn)), 0.25 - 0.5 * rng.random()]))
            stalk = foot + 0.35 * own * out * np.linspace(0.0, 1.1, 3)[:, None]
            shells.append(_tube(stalk, np.full(3, max(0.0004, 0.0022 * wide)), 3))
            s = np.array([0.0, 0.18, 0.42, 0.72, 1.0])[:, None]
            middle = stalk[-1] + s * own * unit(out - 0.5 * UP) - s**2 * 0.40 * own * UP
            half = 0.43 * own * np.array([0.42, 0.95, 1.0, 0.62, 0.03])
            face = np.array([0.5 * (rng.random() - 0.5), -0.8, 0.7])
            shells.append(_blade(middle, face, half, thick=0.0007, fold=0.22))
    return shells


def _bromeliad(rng: np.random.Generator, seed: int, tall: float, wide: float, fine: float) -> list[Mesh]:
    shells = [_crown(0.052 * wide)]
    leaves = round(17 * fine**0.5)
    rows = round(11 * fine**0.25)
    for k in range(leaves):
        heading = 2.399963 * k + 0.15 * rng.random()
        inner = k / leaves
        length = 0.60 * wide * (1.0 - 0.5 * inner) * (0.9 + 0.2 * rng.random())
        away = bearing(heading)
        foot = 0.045 * wide * (1.0 - 0.6 * inner) * away
        droop = 1.75 - 1.1 * inner + 0.3 * rng.random()
        line = _arch(heading, 1.05 + 0.4 * inner, length, droop, rows, start=foot)
        t = np.linspace(0.0, 1.0, rows)
        half = 0.058 * wide * (1.0 - 0.2 * inner) * (0.8 + 0.9 * t * (1.3 - t))
        half = half * np.maximum(1.0 - t**4.5, 0.0) ** 0.7
        thick = max(0.0008, 0.0035 * wide)
        shells.append(_blade(line, UP - 0.35 * away, half, thick=thick, fold=0.5, across=2))
    return shells


def _crown(radius: float) -> Mesh:
    """Return the low knob that the leaves of a tuft grow from; it holds them together as one piece."""
    points, faces = geodesic(180)
    return points * radius * np.array([1.0, 1.0, 0.32]) + np.array([0.0, 0.0, 0.08 * radius]), faces


def _root_ball(seed: int, form: str, tall: float, wide: float) -> Mesh:
    noise = Noise(seed, 61)
    points, faces = geodesic(720)
    radius = 0.05 * wide if form == "moss" else float(np.clip(0.16 * wide, 0.006, 0.05))
    rough = 1.0 + 0.16 * noise.fractal(points * 2.0, 3)
    body = points * (rough * radius)[:, None]
    if form == "moss":
        body = body * np.array([4.0, 4.0, 1.0])
    body[:, 2] = np.minimum(body[:, 2], 0.35 * radius)
    if form == "creeper":
        body[:, 1] = body[:, 1] - float(body[:, 1].min())
    body[:, 2] = body[:, 2] - float(body[:, 2].max())
    return body, faces
