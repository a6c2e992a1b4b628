"""Weirs against handbook formulas, worked by hand or by the library fluids."""

import math

import fluids
import pytest

from layout3d.flow.weir import Comb, SharpWeir, StandpipeRim, VNotch, weir_flow, weir_head

LPH = 1 / 3.6e6


def test_home_overflow_of_400_mm():
    """4000 L/h over a full width of 0.40 m, crest 0.30 m over the floor: Rehbock 12.17 mm, Kindsvater-Carter
    12.44 mm (both solved with fluids), the plain 1.84 b h^1.5 13.16 mm."""
    head = weir_head(SharpWeir(width=0.40, crest_height=0.30), 4000 * LPH)
    assert 12.17e-3 - 1e-5 <= head.likely <= 12.44e-3 + 1e-5
    assert head.low < 12.17e-3
    assert head.high > 13.16e-3


@pytest.mark.parametrize("head", [0.03, 0.06, 0.1])
def test_inside_the_range_both_formulas_lie_in_the_band(head):
    """Rehbock 1929; Kindsvater and Carter 1957; by fluids."""
    band = weir_flow(SharpWeir(width=0.5, crest_height=0.3), head)
    for flow in (
        fluids.Q_weir_rectangular_full_Rehbock(head, 0.3, 0.5),
        fluids.Q_weir_rectangular_full_Kindsvater_Carter(head, 0.3, 0.5),
    ):
        assert band.low <= flow <= band.high


def test_end_contractions_of_francis():
    """Francis 1883 by hand: 1.84 (0.4 - 0.1 x 2 x 0.05) 0.05^1.5."""
    band = weir_flow(SharpWeir(width=0.4, crest_height=0.3, contractions=2), 0.05)
    assert band.likely == pytest.approx(1.84 * 0.39 * 0.05**1.5)


def test_a_right_angled_notch():
    """Thomson's notch, 1.38 h^2.5, and the weir theory 8/15 x 0.58 sqrt(2 g) tan(45°) h^2.5: within 1 %."""
    band = weir_flow(VNotch(angle=math.pi / 2), 0.1)
    assert band.likely == pytest.approx(1.38 * 0.1**2.5)
    assert band.likely == pytest.approx(8 / 15 * 0.58 * math.sqrt(2 * 9.80665) * 0.1**2.5, rel=0.01)


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
    band = weir_flow(Comb(slots=20, slot_width=0.006, slot_height=0.03), 0.02)
    assert band.likely == pytest.approx(1.7714 * 0.12 * 0.02**1.5, rel=1e-3)
