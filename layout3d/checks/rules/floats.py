"""Wood and rock that is lighter than the water it is in: it comes up on the day the tank is filled."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from layout3d.checks.base import Finding, rule
from layout3d.model.model import Model
from layout3d.parts.base import Body, vector
from layout3d.solid.level import volume_below
from layout3d.units import GRAVITY, show
from layout3d.water.mass import water_density_of

__all__ = ["floats", "lift", "tied"]

GROUPS = ("wood", "rock")
ANCHORS = ("glass", "background", "stand", "sump")
"""Groups that hold down what is fixed to them; a pipe does so only by its weight."""
YIELDS = "substrate"
"""The group that holds nothing, and whose weight lies on nothing that is fixed to it."""
BALLAST = "granite"
RISING = (
    "Wood that comes up moves what lies on it and can break the glass. Densities of wood differ widely from "
    "piece to piece, and it takes up water for weeks: weigh it, or soak it and see. Whether a tie, a screw "
    "or glue bears the lift is not computed."
)


@rule(
    "floats",
    asks="Wood and rock, with what it is tied to, is heavier than the water it pushes aside, or fixed.",
    caution=RISING,
)
def floats(model: Model) -> Iterator[Finding]:
    """Find parts whose lift at the waterline is above their weight; what is tied together rises together."""
    for names in tied(model):
        bodies = [body for name in names for body in model.built[name].bodies]
        wooden = [body for body in bodies if body.group in GROUPS]
        up = lift(model, bodies)
        if not wooden or up <= 0:
            continue
        worst = max(wooden, key=lambda body: lift(model, [body]))
        entry = model.scene.catalog.material(worst.material)
        made = f"of {entry.name} ({show(worst.density, 'density')}; {entry.source})"
        if len(names) == 1:
            what = f"{names[0]} {made} is lifted by {show(up, 'force')} more than it weighs"
        else:
            what = (
                f"{' and '.join(names)}, tied together, are lifted by {show(up, 'force')} more than they "
                f"weigh: {worst.part} is {made}"
            )
        yield Finding(
            parts=names,
            measured=up,
            limit=0.0,
            unit="N",
            at=vector(worst.solid.centroid),
            message=what,
            remedy=f"fix it to glass, background or room (`fixed_to:`), lay {_ballast(model, bodies, up)} on "
            "it, or soak it first (a waterlogged material)",
        )


def tied(model: Model) -> list[tuple[str, ...]]:
    """Return the loose parts in groups that ``fixed_to`` ties together; none that reaches an anchor."""
    group = {name: {name} for name in model.built}
    held: set[str] = set()
    for name, built in model.built.items():
        for holder in getattr(built.part, "fixed_to", ()):
            bodies = model.bodies_of(holder, f"{model.tank_name}.{holder}")
            if holder == "room" or any(body.group in ANCHORS for body in bodies):
                held.add(name)
            for other in {body.part for body in bodies if body.group not in (*ANCHORS, YIELDS)}:
                joined = group[name] | group[other]
                for each in joined:
                    group[each] = joined
    order = list(model.built)
    loose = {tuple(sorted(names, key=order.index)) for names in group.values() if not names & held}
    return sorted(loose, key=lambda names: order.index(names[0]))


def lift(model: Model, bodies: list[Body]) -> float:
    """Return how much the water lifts bodies above their weight, [N]; below 0 where they lie still.

    What is left of a piece above the waterline weighs on it dry; what lies in the bed is not counted as held.
    """
    water = water_density_of(model)
    return GRAVITY * sum(_rise(body, model.waterline, water) for body in bodies)


def _rise(body: Body, waterline: float, water: float) -> float:
    """Return the mass of the water that a body pushes aside less its own, [kg]."""
    wet = float(volume_below(body.solid, np.array([waterline]))[0]) if body.where == "tank" else 0.0
    return (1.0 - body.porosity) * (wet * water - body.solid.volume * body.density)


def _ballast(model: Model, bodies: list[Body], up: float) -> str:
    """Return the weight that keeps it down: a rock under water pulls by its own lift less than it weighs."""
    stone = model.scene.catalog.material(BALLAST).density
    dry = up / GRAVITY
    wet = dry * stone / (stone - water_density_of(model))
    under, over = (show(mass, "mass", digits=2) for mass in (wet, dry))
    text = f"{under} of {BALLAST} (its weight in air; under water that pulls down like {over})"
    if max(float(body.solid.bounds[1, 2]) for body in bodies) > model.waterline:
        text += f" where it lies in the water, or {over} of anything where that stays dry"
    return text
