"""The dipstick: how much water stands in the tank at each level, and the level of a given volume."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from layout3d import keep
from layout3d.errors import OutOfRange
from layout3d.keep import FIGURES, code_of, key_of
from layout3d.model.model import Model
from layout3d.units import show
from layout3d.water.cavity import Cavity, tank_cavity
from layout3d.water.level_table import LevelTable, flat_levels, level_table
from layout3d.water.remembered import kept

__all__ = ["Mark", "cavity_table", "dipstick", "tank_table"]

STEPS = {"metric": 0.010, "inch": 0.0127}  # of the dipstick where none is given: 10 mm or 1/2 in, [m]
MOST_MARKS = 20_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """One mark of the dipstick: ``level`` over the tank's inside floor, [m]; volumes below it, [m³].

    ``gross`` is as if nothing were in the tank; ``net`` all water, of which ``pores`` is that in pores.
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
    gross, free, pores, surface = (
        figures(levels).tolist() for figures in (cavity.gross, cavity.free, cavity.pores, cavity.surface)
    )
    return tuple(
        Mark(level=level, gross=whole, net=water + held, pores=held, surface=area)
        for level, whole, water, held, area in zip(levels.tolist(), gross, free, pores, surface, strict=True)
    )


@kept
def tank_table(model: Model) -> LevelTable:
    """Return the tank's net water (pores included) by level, from the floor to the rim."""
    return cavity_table(tank_cavity(model), model.tank_name)


def cavity_table(cavity: Cavity, name: str, *, anew: bool = False) -> LevelTable:
    """Return a vessel's net water (pores included) by level, from its floor to its rim.

    ``anew`` makes it, though it may be filed: the next table then finds what each body's share of it was.
    """

    def made() -> tuple[float, ...]:
        marks = flat_levels([cavity.inside, *cavity.bores, *(share.solid for share in cavity.shares)])
        table = level_table(cavity.net, cavity.floor, cavity.rim, marks=marks)
        return (*table.levels, *table.volumes)

    if anew:
        made()
    counted = tuple((share.solid, share.yielded, share.body.porosity) for share in cavity.shares)
    cut_out = (cavity.fixed, cavity.loose, cavity.plumbing, cavity.hollowed, cavity.bores)
    key = key_of("level table", code_of("solid", "water"), cavity.inside, *cut_out, counted)
    row = keep.kept(key, FIGURES, made)
    return LevelTable(levels=row[: len(row) // 2], volumes=row[len(row) // 2 :], name=name)
