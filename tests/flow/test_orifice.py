import pytest
from hypothesis import given
from hypothesis import strategies as st
from plain_flow import torricelli

from layout3d.errors import OutOfRange
from layout3d.flow.orifice import (
    hold_head,
    hole_coefficient,
    orifice_head,
)
from layout3d.flow.water import water_at

DIAMETERS = st.floats(0.001, 0.02)


@given(diameter=DIAMETERS, head=st.floats(1e-4, 5.0))
def test_the_head_over_a_hole_is_torricellis(diameter, head):
    assert orifice_head(diameter, torricelli(diameter, head)) == pytest.approx(head, rel=1e-9)


@given(diameter=DIAMETERS, flow=st.floats(0.0, 1e-3), more=st.floats(0.0, 1e-3))
def test_more_flow_never_takes_less_head(diameter, flow, more):
    assert orifice_head(diameter, flow + more) >= orifice_head(diameter, flow) >= 0.0


@given(diameter=DIAMETERS, ratio=st.floats(0.0, 3.0))
def test_the_coefficient_lies_in_its_band(diameter, ratio):
    band = hole_coefficient(diameter, ratio * diameter)
    assert 0.55 <= band.low <= band.likely <= band.high <= 0.82


@pytest.mark.parametrize(
    ("ratio", "low", "high"), [(0.2, 0.60, 0.62), (0.75, 0.60, 0.70), (1.4, 0.60, 0.80), (2.0, 0.75, 0.82)]
)
def test_rows_of_the_coefficient(ratio, low, high):
    """Handbook values, from memory: thin plate 0.60-0.62, wall 0.5-1 d 0.60-0.70, wall 1.5-3 d 0.75-0.82."""
    band = hole_coefficient(0.002, ratio * 0.002)
    assert (band.low, band.high) == (low, high)


def test_a_thick_wall_has_no_figure():
    with pytest.raises(OutOfRange, match=r"4\.0 hole diameters thick"):
        hole_coefficient(0.001, 0.004)


def test_an_unknown_wall_is_told_as_a_wide_band():
    band = hole_coefficient(0.003, None)
    assert band.low < 0.62 < band.high
    assert "unknown" in band.note


@pytest.mark.parametrize(("diameter_mm", "hold_mm"), [(1.0, 30), (1.5, 20), (2, 15), (3, 10), (4, 7)])
def test_hold_head(diameter_mm, hold_mm):
    """By hand: 4 x 0.0728 / (998.2 x 9.80665 x d), rounded to the mm."""
    assert hold_head(diameter_mm / 1000, water=water_at(20.0)) * 1000 == pytest.approx(hold_mm, abs=0.5)


@pytest.mark.parametrize(
    ("diameter", "flow"), [(0.0, 1e-4), (-1.0, 1e-4), (0.01, float("nan")), (0.01, -1e-4)]
)
def test_bad_figures_are_refused(diameter, flow):
    with pytest.raises(OutOfRange):
        orifice_head(diameter, flow)
