import pytest
from hypothesis import given
from hypothesis import strategies as st

from layout3d.errors import NoOperatingPoint, OutOfRange
from layout3d.flow.pump import Curve, in_parallel, in_series, operating_point, speed_for

LPH = 1 / 3.6e6
PUMP = Curve(flows=(0, 600 * LPH, 1200 * LPH, 1800 * LPH), heads=(2.4, 2.1, 1.4, 0.2), name="return")


@given(flow=st.floats(0.0, 1800 * LPH), more=st.floats(0.0, 1.0))
def test_head_falls_as_flow_rises(flow, more):
    further = flow + more * (PUMP.max_flow - flow)
    assert PUMP.head_at(further) <= PUMP.head_at(flow)
    assert 0.2 <= PUMP.head_at(flow) <= 2.4


@given(head=st.floats(0.2, 2.39))
def test_flow_at_is_the_inverse_of_head_at(head):
    assert PUMP.head_at(PUMP.flow_at(head)) == pytest.approx(head, abs=1e-9)


def test_above_the_shut_off_head_nothing_flows():
    assert PUMP.flow_at(2.4) == 0.0
    assert PUMP.flow_at(9.0) == 0.0


@pytest.mark.parametrize("flow", [-1e-6, 1801 * LPH])
def test_no_head_beyond_the_curve(flow):
    with pytest.raises(OutOfRange, match="flow of return"):
        PUMP.head_at(flow)


def test_no_flow_below_the_last_head():
    with pytest.raises(OutOfRange, match=r"head of return is 0\.1 m"):
        PUMP.flow_at(0.1)


@given(speed=st.floats(0.2, 1.2), share=st.floats(0.0, 1.0))
def test_affinity_along_the_pumps_own_curve(speed, share):
    """White, Fluid Mechanics, 4th ed., eq. 11.28: Q with n, H with n²."""
    flow = share * PUMP.max_flow
    slow = PUMP.at_speed(speed)
    own = min(flow * speed, slow.max_flow)
    assert slow.head_at(own) == pytest.approx(PUMP.head_at(flow) * speed**2, rel=1e-9)


def test_two_alike_in_a_row_double_the_head():
    pair = in_series([PUMP, PUMP])
    for flow in (0.0, 500 * LPH, 1500 * LPH, 1800 * LPH):
        assert pair.head_at(flow) == pytest.approx(2 * PUMP.head_at(flow), rel=1e-3)


def test_two_alike_side_by_side_double_the_flow():
    pair = in_parallel([PUMP, PUMP])
    for head in (0.2, 0.5, 1.4, 2.3):
        assert pair.flow_at(head) == pytest.approx(2 * PUMP.flow_at(head), rel=2e-3)


def test_a_weak_pump_beside_a_strong_one_gives_nothing_above_its_shut_off_head():
    weak = Curve.from_two_points(1.0, 1000 * LPH, name="weak")
    pair = in_parallel([PUMP, weak])
    assert pair.flow_at(1.5) == pytest.approx(PUMP.flow_at(1.5), rel=2e-3)
    assert pair.flow_at(0.5) == pytest.approx(PUMP.flow_at(0.5) + weak.flow_at(0.5), rel=2e-3)


def test_too_high_a_lift_says_by_how_much():
    with pytest.raises(NoOperatingPoint, match=r"lifts at most 2\.4 m and 2\.9 m is needed.*0\.5 m short"):
        operating_point(PUMP, lambda flow: 2.9)


def test_running_off_the_curve_is_refused():
    with pytest.raises(NoOperatingPoint, match=r"beyond the end of its curve \(1800 L/h\)"):
        operating_point(PUMP, lambda flow: 0.1)


@given(speed=st.floats(0.3, 0.99))
def test_speed_for_finds_the_speed_back(speed):
    slow = PUMP.at_speed(speed)
    flow = 0.6 * slow.max_flow
    assert speed_for(PUMP, flow, slow.head_at(flow)) == pytest.approx(speed, rel=1e-6)


def test_speed_that_cannot_be_had_is_refused():
    with pytest.raises(NoOperatingPoint, match="even at 100% speed"):
        speed_for(PUMP, 1000 * LPH, 2.2)
    with pytest.raises(NoOperatingPoint, match="even at 10% speed"):
        speed_for(PUMP, 0.0, 0.001)


@pytest.mark.parametrize(
    ("flows", "heads", "words"),
    [
        ((0.0,), (1.0,), "1 flows and 1 heads"),
        ((0.0, 1.0), (1.0,), "2 flows and 1 heads"),
        ((0.1, 1.0), (2.0, 1.0), "starts at 0.1"),
        ((0.0, 1.0), (1.0, 2.0), "heads of the curve of pump must fall"),
        ((0.0, 1.0, 1.0), (3.0, 2.0, 1.0), "flows of the curve of pump must rise"),
        ((0.0, 1.0), (1.0, -0.5), "head of the curve of pump must be 0"),
    ],
)
def test_a_bad_curve_is_refused(flows, heads, words):
    with pytest.raises(OutOfRange, match=words):
        Curve(flows=flows, heads=heads)


def test_nothing_to_combine():
    with pytest.raises(OutOfRange, match="no pumps"):
        in_series([])
