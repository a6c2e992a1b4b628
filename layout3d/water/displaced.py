"""What each part takes of the water below a level. Shared volume counts once; pores take nothing.

A hollow part displaces its walls only; what stands sealed inside it is told as a pocket (``water.cavity``).
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from layout3d.model.model import Model
from layout3d.parts.base import Body
from layout3d.water.cavity import tank_cavity
from layout3d.water.remembered import kept
from layout3d.water.share import shares, shares_within

__all__ = ["Displacement", "displaced", "displaced_below"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Displacement:
    """What the bodies take below ``level``; volumes in m³ by body, part or group, in the model's order.

    ``space`` is by body and includes pores: it adds up to the volume of the bodies' union. ``bodies`` and the
    others are the water displaced, without pores: with the net water and the sealed pockets, they add up to
    the inside. What lies out of the water is there with 0.
    """

    level: float
    space: Mapping[str, float]
    bodies: Mapping[str, float]
    parts: Mapping[str, float]
    groups: Mapping[str, float]

    @property
    def total(self) -> float:
        """Water displaced by all bodies together, [m³]."""
        return sum(self.bodies.values(), 0.0)


@kept
def displaced(model: Model) -> Displacement:
    """Return what the bodies displace below the waterline."""
    return displaced_below(model, model.waterline)


def displaced_below(model: Model, level: float) -> Displacement:
    """Return what the bodies in the tank displace below a level, [m] over the tank's inside floor.

    Raises
    ------
    OutOfRange : the level isn't within the tank.
    """
    cavity = tank_cavity(model)
    checked = cavity.checked(level)
    space = dict.fromkeys((body.name for body in model.bodies), 0.0)
    within_boxes = (shares_within(shares(model), built.data.outer) for built in model.overflow_boxes)
    for share in itertools.chain(cavity.shares, *within_boxes):
        space[share.body.name] += float(share.below(checked)[0])
    bodies = {body.name: (1.0 - body.porosity) * space[body.name] for body in model.bodies}
    return Displacement(
        level=level,
        space=space,
        bodies=bodies,
        parts=_summed(model, bodies, lambda body: body.part),
        groups=_summed(model, bodies, lambda body: body.group),
    )


def _summed(model: Model, bodies: Mapping[str, float], of: Callable[[Body], str]) -> dict[str, float]:
    sums: dict[str, float] = {}
    for body in model.bodies:
        sums[of(body)] = sums.get(of(body), 0.0) + bodies[body.name]
    return sums
