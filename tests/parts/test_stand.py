"""The stand's boards, and the room it leaves for what goes through the tank's bottom."""

import math

import pytest

from layout3d.model.build import build_model
from layout3d.scene.reader import read_scene
from layout3d.solid.distance import gap, overlap

SCENE = """
format: 1
units: mm
waterline: 200
parts:
  tank:
    kind: tank
    inside: [600, 400, 400]
    glass: 10
    holes:
      floor: {panel: bottom, left: 400, back: 200, bulkhead: 3/4 in thin}
      side: {panel: back, left: 400, bottom: 200, bulkhead: 3/4 in thin}
  stand: {kind: stand, height: 700, board: 30}
  down:
    kind: run
    pipe: 3/4 in sch 40
    start: floor.outside
    route: [{down: 300}, open]
"""


def test_board_and_mat_are_cut_around_a_hole_in_the_bottom():
    """The nut of 52 mm and 25 mm beside it (limit nut_to_corner): an opening of 104 mm, round."""
    model = build_model(read_scene("stand.yaml", text=SCENE))
    top, mat, nut = (model.body(name) for name in ("stand.top", "stand.mat", "tank.floor"))
    opening = math.pi * 0.052**2  # round solids have the true circle's area
    assert top.solid.volume == pytest.approx((0.620 * 0.420 - opening) * 0.030, rel=1e-9)
    assert mat.solid.volume == pytest.approx((0.620 * 0.420 - opening) * 0.006, rel=1e-9)
    for body in (nut, *model.bodies_of("down")):
        assert overlap(top.solid, body.solid) is None
    assert gap(top.solid, nut.solid).distance > 0.024
