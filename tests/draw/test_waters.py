"""Water as it is drawn: where it stands, where it doesn't, and where a cut lays it open."""

import numpy as np
import pytest

from layout3d.draw.cut import cut_stage
from layout3d.draw.pieces import WaterBody
from layout3d.draw.stage import set_stage
from layout3d.draw.waters import water_piece, waters_of

PLAN = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 0.5], [0.0, 0.5]])
CORNER = np.array([[0.7, 0.3], [1.0, 0.3], [1.0, 0.5], [0.7, 0.5]])
MIDDLE = np.array([[0.4, 0.2], [0.6, 0.2], [0.6, 0.3], [0.4, 0.3]])


def area_of(corners) -> float:
    across = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    return float(np.linalg.norm(across, axis=1).sum() / 2.0)


def drawn(water: WaterBody):
    piece = water_piece(water)
    corners = piece.points[piece.faces].astype(float)
    top = np.abs(piece.normals[piece.faces[:, 0], 2]) > 0.5
    return area_of(corners[top]), area_of(corners[~top])


@pytest.mark.parametrize(
    ("without", "surface", "around"),
    [((), 0.5, 3.0), ((CORNER,), 0.5 - 0.06, 3.0), ((MIDDLE,), 0.5 - 0.02, 3.0 + 0.6)],
)
def test_water_stands_beside_a_box_not_in_it(without, surface, around):
    """By hand: a box in the corner leaves the rim as long as it was, one that stands free adds its own."""
    top, sides = drawn(WaterBody(plan=PLAN, floor=0.1, level=0.4, without=without))
    assert top == pytest.approx(surface, rel=0.01)
    assert sides == pytest.approx(0.3 * around, rel=0.01)


def test_sides_of_water_get_denser_downwards():
    piece = water_piece(WaterBody(plan=PLAN, floor=0.0, level=0.4))
    side = np.abs(piece.normals[:, 2]) < 0.5
    low = side & (piece.points[:, 2] < 0.2)
    assert piece.colours[low, 3].min() > piece.colours[side & ~low, 3].max()


TANK = (
    "kind: tank, inside: [800, 400, 450], glass: 10, silicone: 0, "
    "holes: {main: {panel: bottom, back: 75, right: 60, bulkhead: d32}}"
)
BOX = (
    "box: {kind: overflow_box, panel: back, right: 0, width: 216, depth: 156, top: 325, level: 230, "
    "weir: {depth: 25, slot: 6, tooth: 4}}"
)


def test_a_cut_through_an_overflow_box_shows_each_water_as_high_as_it_stands(scene):
    model = scene(BOX, waterline=302, tank=TANK)
    whole = set_stage(model)
    tank, box = waters_of(model, model.bodies)
    assert box.level < tank.level
    y = 0.5 * (box.plan[:, 1].min() + box.plan[:, 1].max())
    faces = [piece for piece in cut_stage(whole, ("y", y), "front").pieces if piece.body == "water"]
    flat = [piece for piece in faces if np.ptp(piece.points[:, 1]) < 1e-6]
    heights = {
        round(float(piece.points[:, 2].max()), 3): area_of(piece.points[piece.faces].astype(float))
        for piece in flat
    }
    wide = float(np.ptp(box.plan[:, 0]))
    assert heights[round(box.level, 3)] == pytest.approx(wide * (box.level - box.floor), rel=0.01)
    # the tank's, less the box with its panes
    left = 0.8 - wide - 0.006
    assert heights[0.302] == pytest.approx(left * 0.302, rel=0.01)
