import pytest
from hypothesis import given
from hypothesis import strategies as st

from layout3d.catalog import Pump
from layout3d.errors import OutOfRange
from layout3d.flow.pump import Curve

LPH = 1 / 3.6e6
PUMP = Curve(flows=(0, 600 * LPH, 1200 * LPH, 1800 * LPH), heads=(2.4, 2.1, 1.4, 0.2), name="return")


@given(flow=st.floats(0.0, 1800 * LPH), more=st.floats(0.0, 1.0))
def test_head_falls_as_flow_rises(flow, more):
    further = flow + more * (PUMP.max_flow - flow)
    assert PUMP.head_at(further) <= PUMP.head_at(flow)
    assert 0.2 <= PUMP.head_at(flow) <= 2.4


@pytest.mark.parametrize("flow", [-1e-6, 1801 * LPH])
def test_no_head_beyond_the_curve(flow):
    with pytest.raises(OutOfRange, match="flow of return"):
        PUMP.head_at(flow)


@given(speed=st.floats(0.2, 1.2), share=st.floats(0.0, 1.0))
def test_affinity_along_the_pumps_own_curve(speed, share):
    """White, Fluid Mechanics, 4th ed., eq. 11.28: Q with n, H with n²."""
    flow = share * PUMP.max_flow
    slow = PUMP.at_speed(speed)
    own = min(flow * speed, slow.max_flow)
    assert slow.head_at(own) == pytest.approx(PUMP.head_at(flow) * speed**2, rel=1e-9)


@pytest.mark.parametrize(
    ("points", "words"),
    [
        (((0.0, 1.0),), "2 points or more, got 1"),
        (((0.1, 2.0), (1.0, 1.0)), "start at zero flow"),
        (((0.0, 1.0), (1.0, 2.0)), "head must fall"),
        (((0.0, 3.0), (1.0, 2.0), (1.0, 1.0)), "flow must rise"),
        (((0.0, 1.0), (1.0, -0.5)), "end at 0 m or above"),
    ],
)
def test_the_catalogue_lets_in_no_bad_curve(points, words):
    with pytest.raises(ValueError, match=words):
        Pump(name="own", points=points, power=10.0, source="made up")


def test_three_points_are_joined_by_a_parabola():
    """By hand: H = 2.4 - 0.2 q - 0.3 q² with q in thousands of L/h passes 2.4, 1.9 (1000) and 0.8 (2000)."""
    pump = Curve(flows=(0, 1000 * LPH, 2000 * LPH), heads=(2.4, 1.9, 0.8))
    assert pump.parabola
    for q in (0.0, 0.5, 1.0, 1.7, 2.0):
        assert pump.head_at(q * 1000 * LPH) == pytest.approx(2.4 - 0.2 * q - 0.3 * q * q)


def test_points_whose_parabola_would_rise_or_of_another_count_are_joined_by_a_cubic():
    """Through 2.0, 1.99 (1000) and 1.0 (2000) a parabola would first rise; four points have none."""
    flat = Curve(flows=(0, 1000 * LPH, 2000 * LPH), heads=(2.0, 1.99, 1.0))
    assert not flat.parabola
    assert not PUMP.parabola
    heads = [flat.head_at(share * 2000 * LPH) for share in (0.0, 0.2, 0.4, 0.6, 0.8, 1.0)]
    assert heads == sorted(heads, reverse=True)


def test_weak_and_strong_pumps_of_a_curve_differ_by_its_tolerance_in_head():
    """Affinity: a head 10 % lower is that of a speed lower by its root, and so is the flow."""
    pump = Curve(flows=(0, 1000 * LPH, 2000 * LPH), heads=(2.4, 1.9, 0.8), tolerance=0.1)
    assert pump.at("likely") == pump
    assert pump.at("low").shut_off_head == pytest.approx(0.9 * 2.4)
    assert pump.at("low").max_flow == pytest.approx(0.9**0.5 * 2000 * LPH)
    assert pump.at("high").shut_off_head == pytest.approx(1.1 * 2.4)
