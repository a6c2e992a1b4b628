"""The table rises, and straight between its points it is within 0.01 % of the true volume."""

import numpy as np
import pytest

from layout3d.solid.boolean import difference
from layout3d.solid.level import volume_below
from layout3d.solid.primitives import ball, box, cone
from layout3d.solid.shape import Placement
from layout3d.water.level_table import LevelTable, flat_levels, level_table


@pytest.mark.parametrize(
    ("levels", "volumes"),
    [((0.0,), (0.0,)), ((0.0, 0.1), (0.0,)), ((0.0, 0.0), (0.0, 1.0)), ((0.0, 1.0), (1.0, 0.0))],
)
def test_a_table_that_does_not_rise_is_refused(levels, volumes):
    with pytest.raises(ValueError, match="LevelTable"):
        LevelTable(levels=levels, volumes=volumes)


def ledge():
    """A box with a ledge in it, whose level faces are not on any even step."""
    cut = box((0.6, 0.5, 0.1234)).solid(Placement.at((0.0, 0.0, 0.2171)))
    return difference(box((1.0, 0.5, 0.6)).solid(), [cut])


SOLIDS = {
    "box": lambda: box((1.0, 0.5, 0.6)).solid(),
    "ball": lambda: ball(0.3).solid(Placement.at((0, 0, 0.3))),
    "cone on its tip": lambda: cone(0.0, 0.3, 0.6).solid(),
    "ledge": ledge,
}


@pytest.mark.parametrize("name", SOLIDS)
@pytest.mark.parametrize("marked", [True, False])
def test_the_table_is_within_its_promise(name, marked):
    solid = SOLIDS[name]()
    low, high = solid.bounds[:, 2]
    marks = flat_levels([solid]) if marked else ()
    table = level_table(lambda levels: volume_below(solid, levels), low, high, marks=marks)
    levels = np.random.default_rng(3).uniform(low, high, 2000)
    true = volume_below(solid, levels)
    found = np.interp(levels, table.levels, table.volumes)
    assert (np.abs(found - true) <= 1e-4 * np.maximum(true, 1e-3 * solid.volume)).all()
    assert len(table.levels) < 2000
    assert table.volumes[-1] == pytest.approx(solid.volume, rel=1e-12)


def test_a_box_needs_two_points():
    solid = SOLIDS["box"]()
    table = level_table(lambda levels: volume_below(solid, levels), 0.0, 0.6)
    assert table.levels == (0.0, 0.6)


def test_level_faces_come_largest_first():
    found = flat_levels([ledge()])
    assert sorted(found) == pytest.approx([0.0, 0.2171, 0.3405, 0.6])
    assert sorted(found[2:]) == pytest.approx([0.2171, 0.3405])
