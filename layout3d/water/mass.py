"""Mass of everything that stands on the floor, the pressure it makes, and what light parts pull up with.

Whether a floor, a stand or a glued joint carries it is not computed.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from layout3d.catalog import water_density
from layout3d.catalog.entry import Limit
from layout3d.model.model import Model
from layout3d.units import GRAVITY
from layout3d.water.cavity import tank_cavity
from layout3d.water.displaced import displaced
from layout3d.water.remembered import kept
from layout3d.water.share import shares
from layout3d.water.sump import overflow_box_water, sump_water

__all__ = [
    "FLOOR_CAUTION",
    "FOOT",
    "LIFT_CAUTION",
    "FloorLoad",
    "Lift",
    "Masses",
    "floor_load",
    "lifts",
    "masses",
    "people_to_lift",
    "water_density_of",
]

FOOT = 0.002
"""What is no higher than this over the lowest point stands on the floor, [m]."""
TWO_PEOPLE = 25.0
"""A heavier piece takes two to lift, [kg]. 25 kg is the reference mass of ISO 11228-1 (from memory)."""
ICE = 273.15  # 0 °C, [K]

FLOOR_CAUTION = (
    "Floor load: ask a structural engineer before filling. Not considered: span, direction, age and state "
    "of the joists or slab, other loads in the room, how the stand spreads its load over feet or boards; of "
    "the stand itself its joints, boards and what keeps it from folding sideways. The limit is a room's "
    "average by code, and local code goes before it. No figure here says that a stand or a floor carries "
    "this tank."
)
LIFT_CAUTION = (
    "Light parts pull on what holds them for as long as they are under water. The strength of glue, silicone "
    "and foam is not computed; air sealed inside a part pulls up more."
)


def people_to_lift(mass: float) -> int:
    """Return how many people it takes to lift a mass, [kg]: one for each 25 kg.

    >>> people_to_lift(25.0), people_to_lift(25.1), people_to_lift(51.0)
    (1, 2, 3)
    """
    return max(1, math.ceil(mass / TWO_PEOPLE))


@dataclass(frozen=True, slots=True, kw_only=True)
class Masses:
    """Masses, [kg]. ``bodies``, ``parts`` and ``groups`` are dry; shared volume counts once.

    ``water`` is the net water in the tank at the waterline and ``sump_water`` that in the sumps at their
    levels, both with what stands in pores; ``dry`` all bodies; ``shared`` what they would weigh more if
    shared volume counted for each.
    """

    bodies: Mapping[str, float]
    parts: Mapping[str, float]
    groups: Mapping[str, float]
    dry: float
    shared: float
    water: float
    sump_water: float

    @property
    def glass(self) -> float:
        """Return the mass of the glass group (panes, braces, rim, silicone), [kg]."""
        return self.groups.get("glass", 0.0)

    @property
    def total(self) -> float:
        """Return the mass of all bodies and all water, [kg]."""
        return self.dry + self.water + self.sump_water


@dataclass(frozen=True, slots=True, kw_only=True)
class FloorLoad:
    """What stands on the floor; ``footprint`` [m²] is the convex outline of ``stands_on`` on it.

    ``pressure`` [Pa] is the mean over it. ``limit`` and ``ask`` are the catalogue's ``floor_load`` and
    ``floor_mass_ask``; ``times_limit`` the pressure over the first, ``asks`` whether the mass is above
    the second.
    """

    mass: float
    stands_on: str
    footprint: float
    pressure: float
    limit: Limit
    ask: Limit
    caution: str = FLOOR_CAUTION

    @property
    def times_limit(self) -> float:
        """Return how many times the limit the pressure is, [-]."""
        return self.pressure / self.limit.value

    @property
    def asks(self) -> bool:
        """Tell whether the mass is above that from which an engineer is to be asked."""
        return self.mass > self.ask.value


@dataclass(frozen=True, slots=True, kw_only=True)
class Lift:
    """A part that is lighter than the water it displaces: forces in newtons, ``net`` upward."""

    part: str
    buoyancy: float
    weight: float
    caution: str = LIFT_CAUTION

    @property
    def net(self) -> float:
        """Return the force that has to hold it down, [N]."""
        return self.buoyancy - self.weight


def water_density_of(model: Model) -> float:
    """Return the density of the scene's water at its temperature, [kg/m³]."""
    return water_density(model.scene.conditions.water_temperature - ICE)


@kept
def masses(model: Model) -> Masses:
    """Weigh the model.

    Raises
    ------
    OutOfRange : the waterline isn't within the tank, or a sump's level above its rim.
    """
    bodies: dict[str, float] = {}
    parts: dict[str, float] = {}
    groups: dict[str, float] = {}
    alone = 0.0
    for share in shares(model):
        body = share.body
        mass = share.volume * (1.0 - body.porosity) * body.density
        bodies[body.name] = mass
        parts[body.part] = parts.get(body.part, 0.0) + mass
        groups[body.group] = groups.get(body.group, 0.0) + mass
        alone += body.mass
    density = water_density_of(model)
    dry = sum(bodies.values())
    return Masses(
        bodies=bodies,
        parts=parts,
        groups=groups,
        dry=dry,
        shared=alone - dry,
        water=density * (float(tank_cavity(model).net(model.waterline)[0]) + overflow_box_water(model)),
        sump_water=density * sump_water(model),
    )


@kept
def floor_load(model: Model) -> FloorLoad:
    """Return the load on the floor with tank and sumps filled.

    Everything in the scene is taken to stand on the outline of the stand, or of the tank if there is no
    stand.
    """
    from shapely import MultiPoint

    catalog = model.scene.catalog
    stand = [body for body in model.bodies if body.group == "stand"]
    if stand:
        floor = min(float(body.solid.bounds[0, 2]) for body in stand)
        standing = np.concatenate([body.solid.vertices for body in stand])
        plan = standing[standing[:, 2] <= floor + FOOT, :2]
    else:
        plan = np.array(model.tank.outer_plan)
    footprint = float(MultiPoint(plan).convex_hull.area)
    total = masses(model).total
    return FloorLoad(
        mass=total,
        stands_on=stand[0].part if stand else model.tank_name,
        footprint=footprint,
        pressure=total * GRAVITY / footprint,
        limit=catalog.limit("floor_load"),
        ask=catalog.limit("floor_mass_ask"),
    )


@kept
def lifts(model: Model) -> tuple[Lift, ...]:
    """Return the parts in the tank that the water lifts at the waterline, the strongest pull first.

    Dry masses are taken: a part that soaks up water pulls less with time. Pores are taken as full.
    """
    density = water_density_of(model)
    weights = masses(model).parts
    found = [
        Lift(part=part, buoyancy=density * volume * GRAVITY, weight=weights[part] * GRAVITY)
        for part, volume in displaced(model).parts.items()
        if volume > 0.0
    ]
    return tuple(sorted((lift for lift in found if lift.net > 0.0), key=lambda lift: -lift.net))
