"""Where water is drawn at other levels than the scene's."""

import numpy as np

from layout3d.draw.pieces import WaterBody
from layout3d.view.levels import poured

SQUARE = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]])
TANK = WaterBody(plan=SQUARE, floor=0.0, level=0.40)
BOX = WaterBody(plan=SQUARE, floor=0.0, level=0.30, rim=0.44)
FIRST, CHAMBER = (WaterBody(plan=SQUARE, floor=-0.80, level=level) for level in (-0.50, -0.60))


def levels(tank, chamber, waters=(TANK, BOX, FIRST, CHAMBER)):
    return [water.level for water in poured(waters, tank, chamber)]


def test_an_overflow_box_stands_full_where_the_water_of_the_tank_is_over_its_rim():
    assert levels(0.43, None) == [0.43, 0.30, -0.50, -0.60]
    assert levels(0.45, None) == [0.45, 0.45, -0.50, -0.60]
    assert levels(0.45, None, (TANK, BOX)) == [0.45, 0.45]  # without a sump


def test_rooms_of_a_sump_are_one_water_where_the_return_chamber_stands_higher():
    assert levels(0.38, -0.55) == [0.38, 0.30, -0.50, -0.55]
    assert levels(None, -0.45) == [0.40, 0.30, -0.45, -0.45]


def test_a_dry_tank_has_no_water_to_draw():
    assert levels(0.0, -0.80) == [0.30, -0.50]
