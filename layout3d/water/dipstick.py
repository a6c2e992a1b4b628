"""The dipstick: how much water stands in the tank and its overflow boxes at each level."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from layout3d.errors import OutOfRange
from layout3d.model.model import Model
from layout3d.solid.level import volume_below
from layout3d.units import show
from layout3d.water.cavity import tank_cavity
from layout3d.water.sump import water_in_boxes

__all__ = ["Mark", "dipstick"]

STEPS = {"metric": 0.010, "inch": 0.0127}  # of the dipstick where none is given: 10 mm or 1/2 in, [m]
MOST_MARKS = 20_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """One mark of the dipstick: ``level`` over the tank's inside floor, [m]; volumes below it, [m³].

    ``gross`` is as if nothing were in the tank; ``net`` all water, of which ``pores`` is that in pores, but
    in overflow boxes, which are as full as ``water_in_boxes`` has them.
    ``surface`` is the area of the free surface, [m²]; at the height of a level face, that just below it.
    """

    level: float
    gross: float
    net: float
    pores: float
    surface: float


def dipstick(model: Model, *, step: float | None = None) -> tuple[Mark, ...]:
    """Return the dipstick of a tank, from the floor to the rim.

    Parameters
    ----------
    step : between marks, [m]; by default 10 mm or 1/2 in, as the scene's style is. The rim is the last mark.

    Raises
    ------
    OutOfRange : a step that is not above 0, or so small that there would be more than 20,000 marks.
    """
    cavity = tank_cavity(model)
    height = cavity.rim - cavity.floor
    rise = STEPS["inch" if model.scene.style == "inch" else "metric"] if step is None else step
    if not rise > 0.0 or height / rise > MOST_MARKS:
        raise OutOfRange(
            f"a dipstick with a step of {show(rise, 'length')}",
            expected=f"a step above 0 that gives {MOST_MARKS} marks or fewer",
            remedy="give a larger step",
        )
    count = int(np.ceil(height / rise - 1e-9))
    levels = cavity.floor + np.append(np.arange(count) * rise, height)
    net = cavity.net(levels) + water_in_boxes(model, levels)
    gross, pores, surface = (
        volume_below(model.tank.interior, levels),
        cavity.pores(levels),
        cavity.surface(levels),
    )
    return tuple(
        Mark(level=level, gross=whole, net=water, pores=held, surface=area)
        for level, whole, water, held, area in np.stack([levels, gross, net, pores, surface], axis=1).tolist()
    )
