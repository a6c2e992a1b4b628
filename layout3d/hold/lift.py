"""What the water lifts of loose parts at a level, what is tied together, and what would hold it down.

Archimedes: water pushes up by the weight of what it is kept out of. Pores are taken as full.
"""

from __future__ import annotations

import math

from layout3d.model.model import Model
from layout3d.parts.base import Body
from layout3d.solid.level import middle_below, volume_below
from layout3d.solid.placement import Points
from layout3d.units import GRAVITY, show
from layout3d.water.mass import water_density_of

__all__ = ["ballast", "bound", "buoyancy", "dried", "dried_density", "held", "lift", "screws", "tied"]

ANCHORS = ("glass", "background", "stand", "sump")
"""Groups that hold down what is fixed to them; a pipe does so only by its weight."""
YIELDS = "substrate"
"""The group that holds nothing, and whose weight lies on nothing that is fixed to it."""
BALLAST = "granite"
SOAKED = " waterlogged"


def held(model: Model) -> dict[str, tuple[str, ...]]:
    """Return the parts that are fixed to glass, background or room, or foamed in, and each one's holders."""
    found: dict[str, tuple[str, ...]] = {}
    backgrounds = {built.part.name for built in model.backgrounds}
    foamed = [(join.a, join.b) for join in model.joins if join.how == "embedded" and join.a in backgrounds]
    for name, built in model.built.items():
        holders = [
            holder
            for holder in getattr(built.part, "fixed_to", ())
            if holder == "room"
            or any(body.group in ANCHORS for body in model.bodies_of(holder, f"{model.tank_name}.{holder}"))
        ]
        bodies = {name, *(body.name for body in built.bodies)}
        holders += [background for background, inner in foamed if inner in bodies]
        if holders:
            found[name] = tuple(dict.fromkeys(holders))
    return found


def tied(model: Model) -> list[tuple[str, ...]]:
    """Return the loose parts in groups that ``fixed_to`` ties together; none that reaches an anchor."""
    fast = held(model).keys()
    return [names for names in bound(model) if fast.isdisjoint(names)]


def bound(model: Model) -> list[tuple[str, ...]]:
    """Return all parts in groups that ``fixed_to`` ties together, anchors left out."""
    group = {name: {name} for name in model.built}
    for name, built in model.built.items():
        for holder in getattr(built.part, "fixed_to", ()):
            bodies = model.bodies_of(holder, f"{model.tank_name}.{holder}")
            for other in {body.part for body in bodies if body.group not in (*ANCHORS, YIELDS)}:
                joined = group[name] | group[other]
                for each in joined:
                    group[each] = joined
    order = {name: number for number, name in enumerate(model.built)}
    found = {tuple(sorted(names, key=order.__getitem__)) for names in group.values()}
    return sorted(found, key=lambda names: order[names[0]])


def buoyancy(body: Body, level: float, water: float) -> tuple[float, Points]:
    """Return the water that a body pushes aside below a level, [kg], and its middle (3,), [m].

    Parameters
    ----------
    level : [m] over the tank's inside floor
    water : its density, [kg/m³]
    """
    return pushes(body, level, water), middle_below(body.solid, level)


def pushes(body: Body, level: float, water: float) -> float:
    """Return the water that a body pushes aside below a level, [kg], as ``buoyancy`` does."""
    if body.where != "tank":
        return 0.0
    return (1.0 - body.porosity) * float(volume_below(body.solid, level)[0]) * water


def lift(model: Model, bodies: list[Body], *, level: float | None = None, dry: bool = False) -> float:
    """Return how much the water lifts bodies above their weight, [N]; below 0 where they lie still.

    What is left of a piece above the level weighs on it dry; what lies in the bed is not counted as held.

    Parameters
    ----------
    level : [m]; the scene's waterline if not given
    dry : waterlogged wood is taken as it was before it was soaked, light porous rock with air in its pores
    """
    water = water_density_of(model)
    top = model.waterline if level is None else level
    if not dry:
        return GRAVITY * sum(pushes(body, top, water) - body.mass for body in bodies)
    return GRAVITY * sum(
        pushes(body, top, water) / (1.0 - body.porosity if _floats_dry(body, water) else 1.0)
        - body.mass * dried_density(model, body) / body.density
        for body in bodies
    )


def dried(model: Model, bodies: list[Body]) -> bool:
    """Tell whether any of these bodies is of waterlogged wood whose dry density the catalogue has.

    Or of rock that floats until its pores are full, as pumice does.
    """
    water = water_density_of(model)
    return any(dried_density(model, body) != body.density or _floats_dry(body, water) for body in bodies)


def _floats_dry(body: Body, water: float) -> bool:
    return body.group == "rock" and body.porosity > 0.0 and (1.0 - body.porosity) * body.density < water


def dried_density(model: Model, body: Body) -> float:
    """Return the density of a body's wood before it was soaked, [kg/m³]; its own where it wasn't."""
    name = body.material.removesuffix(SOAKED)
    known = name != body.material and name in model.scene.catalog.names("materials")
    return model.scene.catalog.material(name).density if known else body.density


def screws(model: Model, up: float) -> str:
    """Return how many screws bear a lift, in words."""
    count = math.ceil(up / model.scene.catalog.limit("screw_hold").value)
    return "a screw" if count == 1 else f"{count} screws"


def ballast(model: Model, bodies: list[Body], up: float) -> str:
    """Return the weight that keeps bodies down: a rock under water pulls by its lift less than it weighs."""
    stone = model.scene.catalog.material(BALLAST).density
    dry = up / GRAVITY
    wet = dry * stone / (stone - water_density_of(model))
    under, over = (show(mass, "mass", digits=2) for mass in (wet, dry))
    text = f"{under} of {BALLAST} (its weight in air; under water that pulls down like {over})"
    if max(float(body.solid.bounds[1, 2]) for body in bodies) > model.waterline:
        text += f" where it lies in the water, or {over} of anything where that stays dry"
    return text
