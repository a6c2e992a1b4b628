"""Weirs against handbook formulas, worked by hand or by the library fluids."""

import pytest

from layout3d.flow.intake import Slit, Slits, slits_flow
from layout3d.flow.weir import StandpipeRim, weir_flow

LPH = 1 / 3.6e6


@pytest.mark.parametrize(
    ("bore_mm", "head_mm", "litres_per_hour"),
    [(15.44, 5.6, 134), (20.57, 7.4, 274), (26.24, 9.5, 503), (40.44, 14.6, 1484), (52.04, 18.8, 2789)],
)
def test_a_standpipe_where_weir_and_orifice_meet(bore_mm, head_mm, litres_per_hour):
    """By hand with a rim coefficient of 1.84 and an orifice of 0.60: they meet at 0.36 D."""
    band = weir_flow(StandpipeRim(diameter=bore_mm / 1000), head_mm / 1000)
    assert band.low < litres_per_hour * LPH < band.high
    assert band.likely == pytest.approx(litres_per_hour * LPH, rel=0.05)


def test_a_standpipe_drowns_near_a_third_of_its_bore():
    """Published rule for vertical overflow pipes: a weir up to a head of D/3, an orifice above (from
    memory)."""
    rim = StandpipeRim(diameter=0.05)
    assert "weir" in weir_flow(rim, 0.05 * 0.33).note
    assert "drowned" in weir_flow(rim, 0.05 * 0.40).note


def test_a_comb_passes_its_open_width():
    """By hand: 2/3 x 0.60 sqrt(2 g) = 1.771 on 20 slots of 6 mm."""
    comb = Slits(slits=(Slit(low=0.0, high=0.03, width=20 * 0.006),))
    found = slits_flow(comb, 0.02, -1.0, setting="likely")
    assert found == pytest.approx(1.7714 * 0.12 * 0.02**1.5, rel=1e-3)
