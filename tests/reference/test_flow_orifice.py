"""Holes against a code's table."""

import pytest

from layout3d.flow.orifice import hole_coefficient, orifice_head

GPM, FOOT, INCH = 6.30902e-5, 0.3048, 0.0254


@pytest.mark.parametrize(
    ("hole_inch", "head_feet", "gpm"),
    [(0.25, 2.5, 1.18), (0.25, 5.0, 1.65), (0.375, 5.0, 3.71)],
)
def test_holes_of_a_distribution_lateral(hole_inch, head_feet, gpm):
    """N.J. Admin. Code 7:9A-9.7, discharge of holes in distribution laterals.

    It implies coefficients of 0.608, 0.601 and 0.601: the thin-plate band, to the figures printed.
    """
    band = hole_coefficient(hole_inch * INCH, 0.0)
    low, at_060, high = (
        orifice_head(hole_inch * INCH, gpm * GPM, coefficient=c) for c in (band.high, 0.60, band.low)
    )
    assert low <= head_feet * FOOT <= high / 0.995**2
    assert at_060 == pytest.approx(head_feet * FOOT, rel=0.03)  # 1.5 % of flow


@pytest.mark.parametrize(
    ("hole_mm", "head", "litres_per_hour"),
    [(1.5, 0.05, 3.91), (2.0, 0.30, 17.0), (3.0, 0.10, 22.1), (4.0, 1.00, 124)],
)
def test_closed_form_with_062(hole_mm, head, litres_per_hour):
    """Torricelli by hand: Q = 0.62 A sqrt(2 g h), printed to three figures."""
    assert orifice_head(hole_mm / 1000, litres_per_hour / 3.6e6) == pytest.approx(head, rel=6e-3)
