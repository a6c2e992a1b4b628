"""What rules share: lengths in the scene's units, near pairs of bodies, and who is meant to touch whom."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np
from numpy.typing import NDArray

from layout3d.model.model import Model
from layout3d.parts.base import Body, Vector, vector
from layout3d.parts.run_data import RunData
from layout3d.solid.distance import Gap, gap, near_pairs
from layout3d.units import show

__all__ = ["GLASS_KINDS", "at", "gaps_below", "glass_of", "length", "limit", "neighbours", "runs"]

GLASS_KINDS = ("panel", "brace")


def length(model: Model, value: float) -> str:
    """Return a length in the scene's units, for messages."""
    return show(value, "length", system=model.scene.style)


def limit(model: Model, name: str) -> float:
    """Return a limit's value, SI, as the scene overrides it."""
    return model.scene.catalog.limit(name).value


def at(point: NDArray[np.float64]) -> Vector:
    """Return a point as plain floats."""
    return vector(point)


def runs(model: Model) -> Iterator[tuple[str, RunData]]:
    """Return the name and data of each run."""
    for built in model.of_kind("run"):
        if isinstance(built.data, RunData):
            yield built.part.name, built.data


def glass_of(model: Model) -> tuple[Body, ...]:
    """Return the tank's panes."""
    return tuple(body for body in model.bodies_of(model.tank_name) if body.kind == "panel")


def neighbours(model: Model, name: str) -> set[str]:
    """Return the full names that a body or its part is joined to, as the joins tell them."""
    body = model.body(name)
    own = {body.name, body.part}
    return {join.b for join in model.joins if join.a in own} | {
        join.a for join in model.joins if join.b in own
    }


def gaps_below(
    model: Model,
    first: Callable[[Body], bool],
    second: Callable[[Body], bool],
    margin: float,
) -> Iterator[tuple[Body, Body, Gap]]:
    """Return pairs of bodies, one of each sort and not joined, that are nearer than ``margin``, [m]."""
    bodies = [body for body in model.bodies if first(body) or second(body)]
    for i, j in near_pairs([body.solid for body in bodies], margin):
        for a, b in ((bodies[i], bodies[j]), (bodies[j], bodies[i])):
            if first(a) and second(b) and not model.joined(a, b):
                between = gap(a.solid, b.solid)
                if between.distance < margin:
                    yield a, b, between
                break
