"""Where two solids touch hangs on the two alone: not on which is asked of, nor on where both stand."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from layout3d.solid import shape
from layout3d.solid.placement import IDENTITY
from layout3d.solid.primitives import box, cylinder, heightfield
from layout3d.solid.shape import Placement
from layout3d.solid.touch import touches, touching

TABLE = box((0.2, 0.2, 0.05)).solid(Placement.at((-0.1, -0.1, -0.05)))
BAR = box((0.3, 0.02, 0.02)).solid(Placement.at((-0.15, 0.0, 0.0)) @ Placement.turned((1, 0, 0), np.pi / 4))
POST = cylinder(0.02, 0.1).solid()


WAYS = np.random.default_rng(1).normal(size=(6, 100))


def reach(touch, back=IDENTITY, sign=1.0):
    """How far points and normals reach in many directions: what lies between others adds nothing."""
    rows = np.concatenate([back.apply(touch.points), sign * back.direction(touch.normals)], axis=1)
    return (rows @ WAYS).max(axis=0)


@given(
    lies=st.sampled_from([TABLE, BAR, POST]),
    turn=st.floats(0.05, 1.5),
    along=st.floats(-0.05, 0.05),
    yaw=st.floats(-3.0, 3.0),
)
def test_it_is_told_alike_from_either_side_and_wherever_both_stand(lies, turn, along, yaw):
    upper = BAR.moved(Placement.turned((0, 0, 1), turn))
    upper = upper.moved(Placement.at((along, 0.0, lies.bounds[1, 2] - upper.bounds[0, 2] + 5e-5)))
    touch = touching(upper, lies, apart=1e-4)
    move = Placement.at((0.4, 0.3, 0.2)) @ Placement.turned((1, 2, 3), yaw)
    assert len(touch.points) or lies is POST
    if len(touch.points):
        turned_round = reach(touching(lies, upper, apart=1e-4), sign=-1.0)
        elsewhere = reach(touching(upper.moved(move), lies.moved(move), apart=1e-4), move.inverse())
        assert turned_round == pytest.approx(reach(touch), abs=1e-6)
        assert elsewhere == pytest.approx(reach(touch), abs=1e-6)


@pytest.mark.parametrize("angle", [0.3, np.pi / 2, 2.0])
def test_bars_that_lie_on_each_other_by_their_edges_touch_where_these_cross(angle):
    """The upper edge of one runs along x, the lower one of the other at an angle to it over the origin."""
    size = 0.02 * np.sqrt(2.0)
    upper = BAR.moved(Placement.at((0.0, 0.0, size + 5e-5))).moved(Placement.turned((0, 0, 1), angle))
    touch = touching(upper, BAR, apart=1e-4)
    assert touch.points == pytest.approx(np.array([[0.0, 0.0, size + 2.5e-5]]), abs=1e-9)
    assert touch.normals == pytest.approx(np.array([[0.0, 0.0, 1.0]]), abs=1e-9)


def test_a_bed_is_touched_alike_by_its_wide_faces_and_its_grid_apart_or_together():
    """One bar lies on ripples, another under its bottom, whose faces reach from side to side."""
    x, y = np.linspace(-0.3, 0.3, 61), np.linspace(-0.2, 0.2, 41)
    bed = heightfield(x, y, 0.05 + 0.003 * np.sin(60 * x[:, None]) * np.cos(50 * y), 0.0).solid()
    on = BAR.moved(Placement.at((0.0, 0.0, bed.bounds[1, 2] - BAR.bounds[0, 2])))
    under = BAR.moved(Placement.at((0.0, 0.0, -BAR.bounds[1, 2])))
    apart = [touches(bar, bed, 1e-4) for bar in (on, under)]
    assert len(bed.shape.trees) == 2
    shape._LATELY.clear()
    assert bed.shape.tree
    assert len(bed.shape.trees) == 1
    for bar, found in zip((on, under), apart, strict=True):
        assert found.shape[1] > 0
        assert (touches(bar, bed, 1e-4) == found).all()
