"""Loose wood and rock that is lighter than the water it is in: it comes up on the day the tank is filled."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from layout3d.checks.base import Finding, rule
from layout3d.checks.measure import at
from layout3d.model.model import Model
from layout3d.parts.base import Body, Built, Part, PlacedPart
from layout3d.solid.level import volume_below
from layout3d.units import GRAVITY, show
from layout3d.water.mass import water_density_of

__all__ = ["floats", "lift"]

GROUPS = ("wood", "rock")
RISING = (
    "Wood that comes up moves what lies on it and can break the glass. Densities of wood differ widely from "
    "piece to piece, and it takes up water for weeks: weigh it, or soak it and see."
)


@rule(
    "floats",
    asks="Loose wood and rock is heavier than the water it pushes aside, or is fixed.",
    caution=RISING,
)
def floats(model: Model) -> Iterator[Finding]:
    """Find parts that nothing fixes and whose lift at the waterline is above their weight."""
    for built in model.built.values():
        if built.part.group not in GROUPS or (isinstance(built.part, PlacedPart) and built.part.fixed_to):
            continue
        up = lift(model, built)
        if up <= 0:
            continue
        body = built.bodies[0]
        entry = model.scene.catalog.material(body.material)
        ballast = show(up / GRAVITY, "mass", system=model.scene.style)
        yield Finding(
            rule="floats",
            severity="fault",
            parts=(built.part.name,),
            measured=up,
            limit=0.0,
            unit="N",
            at=at(body.solid.centroid),
            message=(
                f"{built.part.name} of {entry.name} ({show(body.density, 'density')}; {entry.source}) "
                f"is lifted by {show(up, 'force')} more than it weighs"
            ),
            remedy=(
                f"fix it (`fixed_to:`), lay {ballast} of weight on it (more, if that lies in the water), "
                "or soak it first (a waterlogged material)"
            ),
        )


def lift(model: Model, built: Built[Part, object]) -> float:
    """Return how much the water lifts a part above its weight, [N]; below 0 where it lies still.

    What is left of a piece above the waterline weighs on it dry; what lies in the bed is not counted as held.
    """
    water = water_density_of(model)
    return GRAVITY * sum(_rise(body, model.waterline, water) for body in built.bodies)


def _rise(body: Body, waterline: float, water: float) -> float:
    """Return the mass of the water that a body pushes aside less its own, [kg]."""
    wet = float(volume_below(body.solid, np.array([waterline]))[0])
    return (1.0 - body.porosity) * (wet * water - body.solid.volume * body.density)
