import math
import pickle

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from layout3d.solid.placement import Placement

number = st.floats(-5.0, 5.0)
vector = st.tuples(number, number, number).filter(lambda v: math.hypot(*v) > 0.1)


@st.composite
def placements(draw):
    return Placement.at(draw(vector)) @ Placement.turned(draw(vector), draw(number), about=draw(vector))


@given(placements(), placements(), vector)
def test_one_after_the_other_is_the_product(a, b, point):
    assert (a @ b).apply(point) == pytest.approx(a.apply(b.apply(point)), abs=1e-12)


@given(placements(), vector)
def test_the_inverse_undoes(a, point):
    assert a.inverse().apply(a.apply(point)) == pytest.approx(np.array(point), abs=1e-12)
    assert (a @ a.inverse()).rotation == pytest.approx(np.eye(3), abs=1e-12)


@given(vector, number)
def test_turns_agree_with_scipy(axis, angle):
    """Against scipy.spatial.transform.Rotation."""
    from scipy.spatial.transform import Rotation

    expected = Rotation.from_rotvec(np.array(axis) / np.linalg.norm(axis) * angle).as_matrix()
    assert Placement.turned(axis, angle).rotation == pytest.approx(expected, abs=1e-12)


@given(vector, vector, vector)
def test_from_frame_meets_z_exactly_and_x_as_near_as_can_be(origin, x_axis, z_axis):
    if np.linalg.norm(np.cross(x_axis, z_axis)) < 1e-3:
        return
    placed = Placement.from_frame(origin, x_axis, z_axis)
    assert placed.apply((0, 0, 0)) == pytest.approx(np.array(origin))
    assert placed.direction((0, 0, 1)) == pytest.approx(np.array(z_axis) / np.linalg.norm(z_axis))
    assert placed.direction((1, 0, 0)) @ np.array(x_axis) > 0
    assert placed.direction((0, 1, 0)) @ np.array(x_axis) == pytest.approx(0.0, abs=1e-9)


def test_quarter_turns_are_exact():
    turn = Placement.turned((0, 0, 1), math.pi / 2)
    whole = turn @ turn @ turn @ turn
    assert whole == Placement.identity()
    assert hash(whole) == hash(Placement.identity())


def test_a_long_chain_of_turns_stays_a_rotation():
    small = Placement.turned((1, 2, 3), 0.1)
    chain = Placement.identity()
    for _ in range(5000):
        chain = small @ chain
    assert chain.rotation @ chain.rotation.T == pytest.approx(np.eye(3), abs=1e-12)


def test_values_are_frozen_equal_and_can_be_sent():
    a, b = Placement.at((1, 2, 3)), Placement.at((1, 2, 3))
    assert a == b
    assert hash(a) == hash(b)
    assert a != Placement.at((1, 2, 4))
    assert a != "a"
    assert Placement.at((-0.0, 0, 0)) == Placement.identity()
    assert hash(Placement.at((-0.0, 0, 0))) == hash(Placement.identity())
    assert pickle.loads(pickle.dumps(a)) == a
    with pytest.raises(ValueError, match="read-only"):
        a.offset[0] = 7.0


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: Placement(2 * np.eye(3), np.zeros(3)), "must be a rotation"),
        (lambda: Placement(np.diag([1, 1, -1]), np.zeros(3)), "must be a rotation"),
        (lambda: Placement.at((1, math.nan, 0)), "not finite"),
        (lambda: Placement.turned((0, 0, 0), 1.0), "must have a length"),
        (lambda: Placement.from_frame((0, 0, 0), (0, 0, 2), (0, 0, 1)), "must not be parallel"),
    ],
)
def test_what_is_no_rigid_move_is_refused(make, words):
    with pytest.raises(ValueError, match=words):
        make()
