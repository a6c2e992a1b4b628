"""Where water is drawn at other levels than the scene's."""

import numpy as np

from layout3d.draw.pieces import WaterBody
from layout3d.view.levels import poured

SQUARE = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]])
TANK = WaterBody(plan=SQUARE, floor=0.0, level=0.40)
BOX = WaterBody(name="box", plan=SQUARE, floor=0.0, level=0.30, rim=0.44)
ROOM = WaterBody(name="sump.return", plan=SQUARE, floor=-0.80, level=-0.60)


def levels(**given):
    found = {"" if name == "tank" else name.replace("_", "."): level for name, level in given.items()}
    return [water.level for water in poured((TANK, BOX, ROOM), found)]


def test_each_water_stands_where_it_is_said_to_and_all_others_as_in_the_scene():
    assert levels(tank=0.38) == [0.38, 0.30, -0.60]
    assert levels(tank=0.43, box=0.42, sump_return=-0.55) == [0.43, 0.42, -0.55]


def test_an_overflow_box_stands_full_where_the_water_of_the_tank_is_over_its_rim():
    assert levels(tank=0.43) == [0.43, 0.30, -0.60]
    assert levels(tank=0.45) == [0.45, 0.45, -0.60]


def test_a_dry_water_is_not_drawn():
    assert levels(tank=0.0, sump_return=-0.80) == [0.30]
