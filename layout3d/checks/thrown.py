"""Where water flies that a pump drives out of a mouth or a drip hole: a parabola, until something stops it.

Left out: the drag of the air, which shortens a jet; how it breaks up, splashes and runs down what it hits.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from layout3d.checks.flow_words import hole_of
from layout3d.flow.running import running
from layout3d.model.model import Model
from layout3d.parts.base import Body, Vector, vector
from layout3d.pipework.read import pipework
from layout3d.pipework.waters import vessel_at, water_at_point
from layout3d.units import GRAVITY

__all__ = ["Jet", "falls_on", "jets", "lands", "leaves_tank"]

PIECES = 24  # straight ones, that a path is looked along in


@dataclass(frozen=True, slots=True, kw_only=True)
class Jet:
    """Water that leaves ``body`` of a run at ``start``, [m], with ``velocity``, [m/s]; ``words`` tell where.

    ``of`` counts the mouths of the same kind on that body. A drop that only lets go has no velocity.
    """

    part: str
    body: str
    words: str
    of: int
    start: Vector
    velocity: Vector

    @property
    def speed(self) -> float:
        """Return how fast it leaves, [m/s]."""
        return math.hypot(*self.velocity)

    def path(self, height: float) -> NDArray[np.float64]:
        """Return points of its path until it has fallen to a height, z [m]: (n, 3); none if it never does."""
        up, fall = self.velocity[2], self.start[2] - height
        if up**2 + 2.0 * GRAVITY * fall < 0.0 or (fall <= 0.0 and up <= 0.0):
            return np.zeros((0, 3))
        time = np.linspace(0.0, (up + math.sqrt(up**2 + 2.0 * GRAVITY * fall)) / GRAVITY, PIECES + 1)[:, None]
        return np.array(self.start) + np.array(self.velocity) * time - [0.0, 0.0, GRAVITY / 2.0] * time**2


def jets(model: Model) -> Iterator[Jet]:
    """Yield what pumps drive out in the air, hole by hole, at its likely speed.

    A hole's jet has the whole of its static head as speed, the most there is; one that weeps drips.
    """
    found = running(model)
    mouths = {f"{mouth.node}.out": mouth for mouth in pipework(model).mouths}
    for out in found.outs:
        mouth = mouths.get(out.name)
        if mouth is None or out.velocity is None or not out.flow.likely > 0.0:
            continue
        yield from _in_air(
            model, mouth.part, mouth.body, mouth.words, 1, mouth.at, mouth.direction, out.velocity.likely
        )
    for bar in found.bars:
        for hole in bar.holes:
            if hole.state in ("dry", "holds"):
                continue
            speed = 0.0 if hole.state == "weeps" else math.sqrt(2.0 * GRAVITY * max(0.0, hole.head))
            drilled = hole_of(model, bar, hole.number)
            words = f"drip holes of {bar.body}"
            yield from _in_air(
                model, bar.run, bar.body, words, len(bar.holes), drilled.at, drilled.direction, speed
            )


def _in_air(
    model: Model, part: str, body: str, words: str, of: int, at: Vector, way: Vector, speed: float
) -> Iterator[Jet]:
    water = water_at_point(model, at)
    if water is None or at[2] > water[1]:
        x, y, z = (speed * share for share in way)
        yield Jet(part=part, body=body, words=words, of=of, start=at, velocity=(x, y, z))


def leaves_tank(model: Model, jet: Jet) -> bool:
    """Tell whether a jet that begins over the tank gets past its walls above the rim, with a free way."""
    if vessel_at(model, jet.start) != model.tank_name:
        return False
    path = jet.path(model.tank.height)
    return bool((model.tank.room(path) < 0.0).any()) and _first_hit(model, jet, path) is None


def falls_on(model: Model, jet: Jet, bodies: tuple[Body, ...]) -> Body | None:
    """Return which of these bodies a jet comes down on, with nothing before it; None for none."""
    low = min((float(body.solid.bounds[0, 2]) for body in bodies), default=jet.start[2])
    path = jet.path(low)
    if not len(path):
        return None
    least, most = path.min(axis=0), path.max(axis=0)
    near = any(
        (body.solid.bounds[0] <= most).all() and (body.solid.bounds[1] >= least).all() for body in bodies
    )
    hit = _first_hit(model, jet, path) if near else None
    return hit[0] if hit is not None and hit[0] in bodies else None


def lands(model: Model, jet: Jet, height: float) -> tuple[Body, Vector] | None:
    """Return what a jet that begins over the tank hits over a height, and where, [m]; None for nothing."""
    if vessel_at(model, jet.start) != model.tank_name:
        return None
    return _first_hit(model, jet, jet.path(height))


def _first_hit(model: Model, jet: Jet, path: NDArray[np.float64]) -> tuple[Body, Vector] | None:
    """Return the first body on a path but for leaves and the pipe that it comes out of, and where."""
    if not len(path):
        return None
    near = [
        body
        for body in model.near(vector(path.min(axis=0)), vector(path.max(axis=0)))
        if body.name != jet.body and body.kind != "foliage"
    ]
    for start, end in pairwise(path):
        hits = [
            (float(np.linalg.norm(np.array(found[0].position) - start)), number, found[0].position)
            for number, body in enumerate(near)
            if (found := body.solid.manifold.ray_cast(vector(start), vector(end)))
        ]
        if hits:
            _, number, where = min(hits, key=lambda hit: hit[:2])
            return near[number], vector(where)
    return None
