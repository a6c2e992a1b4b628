"""How much water stands in the tank or another vessel at each level, and the level of a given volume."""

from __future__ import annotations

from layout3d import keep
from layout3d.keep import FIGURES, code_of, key_of
from layout3d.model.model import Model
from layout3d.water.cavity import Cavity, tank_cavity
from layout3d.water.level_table import LevelTable, flat_levels, level_table
from layout3d.water.remembered import kept

__all__ = ["cavity_table", "tank_table"]


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
