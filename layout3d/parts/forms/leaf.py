"""Seeded plants as closed meshes: thin closed leaves and a root ball. Form only; no growth, no colour.

Leaves are slabs at least 0.6 mm thick, united where they cross, so that volumes and overlaps can be
trusted; a living leaf is thinner, by so much that its own volume hardly counts in a tank.
"""

from __future__ import annotations

import math
from typing import cast

import numpy as np

from layout3d.parts.forms.mesh import Mesh, geodesic, lofted, require, require_one_of, united
from layout3d.parts.forms.noise import Floats, Noise, draws

__all__ = ["PLANT_FORMS", "plant"]

PLANT_FORMS = ("fern", "broadleaf", "grass", "moss", "creeper", "bromeliad")
THINNEST = 0.0006  # [m]
UP = np.array([0.0, 0.0, 1.0])


def plant(seed: int, *, form: str, height: float, spread: float, detail: float = 1.0) -> dict[str, Mesh]:
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

    Returns
    -------
    'foliage' : closed mesh from z = 0 up to ``height`` around x = y = 0, the ground line at z = 0; a
        creeper hangs from z = 0 down to ``-height`` in front (y < 0) of the place it grows from
    'root' : closed mesh of the root ball below the ground line (of a creeper: behind y = 0)

    Raises
    ------
    ValueError : an unknown form, or a value outside the limits above.
    """
    require_one_of("form", form, PLANT_FORMS)
    tall = require("height", height, 0.01, 2.0, "m")
    wide = require("spread", spread, max(0.02, tall / 8.0), min(2.0, 8.0 * tall), "m")
    fine = require("detail", detail, 0.5, 3.0)
    rng = draws(seed, 41 + PLANT_FORMS.index(form))
    make = {
        "fern": _fern,
        "broadleaf": _broadleaf,
        "grass": _grass,
        "moss": _moss,
        "creeper": _creeper,
        "bromeliad": _bromeliad,
    }[form]
    shells = make(rng, seed, tall, wide, fine)
    vertices, faces = united(shells)
    low, high = vertices.min(axis=0), vertices.max(axis=0)
    scale = np.array([wide / max(high[0] - low[0], high[1] - low[1])] * 2 + [tall / (high[2] - low[2])])
    part = (vertices - low) / (high - low)
    side = (high - low) * scale
    side[2] = tall
    side[int(np.argmax(side[:2]))] = wide
    start = np.array([-side[0] / 2.0, -side[1] / 2.0, 0.0])
    if form == "creeper":
        start[1], start[2] = -side[1], -tall
    placed = np.where(part == 1.0, start + side, start + part * side)
    return {"foliage": (placed, faces), "root": _root_ball(seed, form, tall, wide)}


def _unit(vectors: Floats) -> Floats:
    return cast(Floats, vectors / np.sqrt(np.sum(vectors * vectors, axis=-1, keepdims=True)))


def _blade(
    middle: Floats, face: Floats, half: Floats, *, thick: float, fold: float = 0.0, across: int = 1
) -> Mesh:
    """Make a closed leaf along a middle line.

    Parameters
    ----------
    middle : (k, 3) float, midrib from foot to tip
    face : (3,) or (k, 3) float, the way the upper side looks, about
    half : (k,) float, half width along the midrib
    thick : thickness, at least 0.6 mm
    fold : rise of the margins over the midrib as a share of the half width (below 0: they droop)
    across : strips on each side of the midrib
    """
    thick = max(thick, THINNEST)
    ahead = _unit(np.gradient(middle, axis=0))
    side = _unit(np.cross(ahead, np.broadcast_to(face, middle.shape)))
    normal = np.cross(side, ahead)
    share = np.linspace(-1.0, 1.0, max(2 * across + 1, 2))
    half = np.maximum(half, 0.6 * thick)
    rise = fold * half[:, None] * np.abs(share) ** 1.4
    flat = (
        middle[:, None]
        + (half[:, None] * share)[..., None] * side[:, None]
        + rise[..., None] * normal[:, None]
    )
    lift = 0.5 * thick * normal[:, None]
    rings = np.concatenate([flat + lift, (flat - lift)[:, ::-1]], axis=1)
    return lofted(rings)


def _arch(
    heading: float,
    rise: float,
    length: float,
    droop: float,
    points: int,
    *,
    start: Floats | None = None,
    sway: float = 0.0,
) -> Floats:
    """Return a line leaving towards ``heading``, ``rise`` over level, that bends down by ``droop`` [rad]."""
    t = np.linspace(0.0, 1.0, points)
    pitch = rise - droop * t**1.3
    turn = heading + sway * np.sin(2.6 * t)
    step = np.stack([np.cos(pitch) * np.cos(turn), np.cos(pitch) * np.sin(turn), np.sin(pitch)], axis=1)
    line = np.concatenate([np.zeros((1, 3)), np.cumsum(0.5 * (step[1:] + step[:-1]), axis=0)]) * (
        length / (points - 1)
    )
    return line + (np.zeros(3) if start is None else start)


def _tube(line: Floats, radius: Floats, around: int = 6) -> Mesh:
    ahead = _unit(np.gradient(line, axis=0))
    side = np.cross(ahead[0], np.array([0.31, 0.27, 0.91]))
    rings = []
    for here, heading, r in zip(line, ahead, radius, strict=True):
        side = _unit(side - float(np.sum(side * heading)) * heading)
        over = np.cross(heading, side)
        angle = 2.0 * np.pi * np.arange(around) / around
        rings.append(here + r * (np.cos(angle)[:, None] * side + np.sin(angle)[:, None] * over))
    return lofted(np.array(rings))


def _fern(rng: np.random.Generator, seed: int, tall: float, wide: float, fine: float) -> list[Mesh]:
    shells = []
    fronds = round(10 * fine**0.5)
    for k in range(fronds):
        heading = 2.399963 * k + 0.5 * rng.random()
        inner = k / fronds
        length = (0.5 * wide * 1.12) * (0.85 + 0.3 * rng.random())
        line = _arch(
            heading,
            0.75 + 0.62 * inner,
            length * 1.15,
            1.0 + 0.7 * rng.random(),
            22,
            sway=0.4 * (rng.random() - 0.5),
        )
        radius = np.linspace(0.0022, 0.0008, 22) * max(wide / 0.35, 0.4)
        shells.append(_tube(line[::3], np.maximum(radius, 0.0004)[::3], 4))
        ahead = _unit(np.gradient(line, axis=0))
        level = _unit(np.cross(ahead, UP))
        leaflets = round(13 * fine**0.5)
        for j in range(leaflets):
            t = 0.16 + 0.82 * j / (leaflets - 1)
            at = t * 21.0
            i = min(int(at), 20)
            foot = line[i] + (at - i) * (line[i + 1] - line[i])
            long = (
                length
                * 0.30
                * (math.sin(math.pi * min(t * 1.05, 1.0) ** 0.75) ** 0.8 + 0.10)
                * (0.9 + 0.2 * rng.random())
            )
            for way in (-1.0, 1.0):
                out = _unit(way * level[i] + 0.55 * ahead[i] + 0.12 * (rng.random(3) - 0.5))
                s = np.linspace(0.0, 1.0, 4)[:, None]
                middle = foot + s * long * out - (s**2) * long * 0.28 * UP
                half = 0.20 * long * np.array([0.6, 1.0, 0.85, 0.08])
                shells.append(_blade(middle, np.cross(level[i], ahead[i]), half, thick=0.0007, across=0))
    return shells


def _broadleaf(rng: np.random.Generator, seed: int, tall: float, wide: float, fine: float) -> list[Mesh]:
    shells = []
    leaves = round(13 * fine**0.5)
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
        wave = 0.05 * size * np.sin(9.0 * t + 6.0 * rng.random())
        mesh = _blade(
            line, UP, half, thick=max(0.0008, 0.004 * wide), fold=0.22 + 0.1 * rng.random(), across=4
        )
        vertices, faces = mesh
        body = vertices[: rows * 18].reshape(rows, 18, 3)
        edge = np.abs(np.concatenate([np.linspace(-1, 1, 9), np.linspace(1, -1, 9)])) ** 2
        side = np.sign(np.concatenate([np.linspace(-1, 1, 9), np.linspace(1, -1, 9)]))
        body[..., 2] += wave[:, None] * edge * np.where(side < 0, 1.0, np.cos(2.1))
        shells.append((vertices, faces))
    return shells


def _grass(rng: np.random.Generator, seed: int, tall: float, wide: float, fine: float) -> list[Mesh]:
    shells = []
    for k in range(round(85 * fine)):
        heading = 2.399963 * k + rng.random()
        out = math.sqrt((k + 0.5) / (85 * fine))
        foot = 0.13 * wide * out * np.array([math.cos(heading), math.sin(heading), 0.0])
        long = tall * (0.65 + 0.5 * rng.random())
        line = _arch(
            heading + 0.9 * (rng.random() - 0.5),
            1.50 - 0.42 * out - 0.12 * rng.random(),
            long,
            (0.35 + 1.0 * rng.random()) * (0.4 + 0.8 * out),
            9,
            start=foot - 0.01 * long * UP,
        )
        t = np.linspace(0.0, 1.0, 9)
        half = (
            np.maximum(0.0010, 0.0095 * tall)
            * (0.75 + 0.5 * rng.random())
            * (1.0 - t**2.2)
            * (0.6 + 0.8 * t**0.5)
        )
        shells.append(_blade(line, UP + 0.6 * (rng.random(3) - 0.5), half, thick=THINNEST, fold=0.35))
    return shells


def _moss(rng: np.random.Generator, seed: int, tall: float, wide: float, fine: float) -> list[Mesh]:
    noise = Noise(seed, 51)
    points, faces = geodesic(round(6500 * fine))
    low = 1.0 + 0.18 * noise.fractal(points * 1.3, 2)
    body = points * low[:, None]
    clumps, second, number = noise.cells(body * 2.3, jitter=0.9)
    mound = 0.20 * np.sqrt(np.clip(second - clumps, 0.0, 1.0)) + 0.08 * number
    tufts, _, _ = noise.cells(body * 13.0, jitter=0.9)
    fuzz = 0.055 * (0.5 - tufts) + 0.018 * noise.fractal(body * 20.0, 2)
    body = body + (mound + fuzz)[:, None] * points
    body[:, 2] = np.where(points[:, 2] < 0.0, 0.16 * body[:, 2], body[:, 2])
    return [(body * np.array([0.5 * wide, 0.46 * wide, 0.8 * tall]), faces)]


def _creeper(rng: np.random.Generator, seed: int, tall: float, wide: float, fine: float) -> list[Mesh]:
    shells = []
    vines = max(3, round(6 * fine**0.5))
    for k in range(vines):
        across = ((k + 0.5 + 0.5 * (rng.random() - 0.5)) / vines - 0.5) * wide * 0.75
        long = tall * (0.55 + 0.45 * rng.random()) if k != vines // 2 else tall
        t = np.linspace(0.0, 1.0, 26)
        phase = 6.28 * rng.random(3)
        line = np.stack(
            [
                across * (0.35 + 0.65 * t**0.4) + 0.06 * wide * np.sin(5.0 * t + phase[0]) * t,
                -0.05 * wide * np.sin(np.pi * np.minimum(2.2 * t, 1.0))
                - 0.03 * wide * np.sin(4.0 * t + phase[1]) * t
                - 0.05 * wide,
                0.04 * tall * np.sin(np.pi * np.minimum(5.0 * t, 1.0)) - long * t,
            ],
            axis=1,
        )
        shells.append(_tube(line, np.linspace(1.0, 0.45, 26) * max(0.0008, 0.006 * wide), 5))
        count = round((9 + 10 * long / tall) * fine**0.5)
        for j in range(count):
            at = (0.03 + 0.96 * (j + 0.3 * rng.random()) / count) * 25.0
            i = min(int(at), 24)
            foot = line[i] + (at - i) * (line[i + 1] - line[i])
            way = 1.0 if j % 2 else -1.0
            size = min(0.16 * wide, 0.14 * tall) * (1.0 - 0.5 * at / 25.0) * (0.75 + 0.5 * rng.random())
            out = _unit(
                np.array(
                    [way * (0.7 + 0.3 * rng.random()), -0.5 - 0.4 * rng.random(), -0.15 - 0.5 * rng.random()]
                )
            )
            s = np.linspace(0.0, 1.0, 6)
            middle = foot + s[:, None] * size * out - (s**2)[:, None] * 0.45 * size * UP
            half = 0.40 * size * np.array([0.05, 0.75, 1.0, 0.85, 0.5, 0.03])
            shells.append(_blade(middle, np.array([0.0, -0.8, 0.6]), half, thick=0.0007, fold=0.25))
    return shells


def _bromeliad(rng: np.random.Generator, seed: int, tall: float, wide: float, fine: float) -> list[Mesh]:
    shells = []
    leaves = round(22 * fine**0.5)
    rows = round(12 * fine**0.25)
    for k in range(leaves):
        heading = 2.399963 * k + 0.15 * rng.random()
        inner = k / leaves
        length = 0.56 * wide * (1.0 - 0.5 * inner) * (0.9 + 0.2 * rng.random())
        foot = 0.035 * wide * (1.0 - 0.7 * inner) * np.array([math.cos(heading), math.sin(heading), 0.0])
        line = _arch(
            heading, 1.0 + 0.45 * inner, length, 1.15 - 0.65 * inner + 0.25 * rng.random(), rows, start=foot
        )
        t = np.linspace(0.0, 1.0, rows)
        half = (
            0.052 * wide * (1.0 - 0.25 * inner) * (1.15 - 0.35 * t) * np.sqrt(np.maximum(1.0 - t**3.2, 0.0))
        )
        fold = 0.55
        shells.append(_blade(line, UP, half, thick=max(0.0009, 0.005 * wide), fold=fold, across=2))
    core, faces = geodesic(180)
    shells.append((core * np.array([0.06, 0.06, 0.07]) * wide + np.array([0.0, 0.0, 0.05 * wide]), faces))
    return shells


def _root_ball(seed: int, form: str, tall: float, wide: float) -> Mesh:
    noise = Noise(seed, 61)
    points, faces = geodesic(720)
    radius = 0.05 * wide if form == "moss" else float(np.clip(0.16 * wide, 0.006, 0.05))
    rough = 1.0 + 0.16 * noise.fractal(points * 2.0, 3)
    body = points * (rough * radius)[:, None]
    if form == "moss":
        body = body * np.array([4.0, 4.0, 1.0])
    body[:, 2] = np.minimum(body[:, 2], 0.35 * radius)
    low, high = float(body[:, 2].min()), float(body[:, 2].max())
    del low
    if form == "creeper":
        body[:, 1] = body[:, 1] - float(body[:, 1].min())
        body[:, 2] = body[:, 2] - high
        return body, faces
    body[:, 2] = body[:, 2] - high
    return body, faces
