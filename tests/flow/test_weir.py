import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from layout3d.band import SETTINGS
from layout3d.errors import LayoutError
from layout3d.flow.weir import BroadWeir, StandpipeRim, weir_flow, weir_head

LPH = 1 / 3.6e6
WEIRS = st.one_of(
    st.builds(BroadWeir, width=st.floats(0.05, 1.0), thickness=st.floats(0.004, 0.05)),
    st.builds(StandpipeRim, diameter=st.floats(0.01, 0.1)),
)


@given(weir=WEIRS, head=st.floats(0.0, 0.15), more=st.floats(1e-6, 0.1))
def test_more_head_never_passes_less(weir, head, more):
    before, after = (weir_flow(weir, level) for level in (head, head + more))
    # where one lies outside the formula's range and the other inside, the range widens between them
    alike = ("outside its range" in before.note) == ("outside its range" in after.note)
    for setting in SETTINGS if alike else ("likely",):
        assert after.at(setting) >= before.at(setting) * (1 - 1e-12) >= 0.0


@given(weir=WEIRS, head=st.floats(0.001, 0.15))
def test_head_is_the_inverse_of_flow(weir, head):
    flow = weir_flow(weir, head)
    back = weir_head(weir, flow.likely)
    assert back.likely == pytest.approx(head, rel=1e-6)
    assert back.low <= head * (1 + 1e-9)
    assert back.high >= head * (1 - 1e-9)


def test_below_the_range_a_band_and_its_reason():
    weir = BroadWeir(width=0.4, thickness=0.2)
    small, large = weir_flow(weir, 0.012), weir_flow(weir, 0.05)
    assert small.high / small.likely == pytest.approx(1.2)
    assert small.low / small.likely == pytest.approx(0.8)
    assert "head 12 mm under 30 mm" in small.note
    # a broad crest's own spread, 1.5 to 1.7
    assert large.high / large.likely == pytest.approx(1.7 / 1.6)
    assert "outside" not in large.note


@pytest.mark.parametrize(
    ("weir", "head", "words"),
    [
        (StandpipeRim(diameter=0.05), 0.04, "drowned"),
        (BroadWeir(width=0.4, thickness=0.01), 0.04, "between broad and sharp"),
    ],
)
def test_each_limit_passed_is_named(weir, head, words):
    assert words in weir_flow(weir, head).note


def test_no_head_no_flow():
    weir = StandpipeRim(diameter=0.05)
    assert weir_flow(weir, 0.0).high == weir_flow(weir, -0.1).high == 0.0
    assert weir_head(weir, 0.0).high == 0.0


@pytest.mark.parametrize(
    "call",
    [
        lambda: weir_flow(StandpipeRim(diameter=0.05), math.inf),
        lambda: weir_head(StandpipeRim(diameter=0.05), -1.0),
        lambda: weir_head(StandpipeRim(diameter=0.005), 1.0),
    ],
)
def test_bad_figures_are_refused(call):
    with pytest.raises(LayoutError):
        call()


@pytest.mark.parametrize(
    ("head", "low", "high"),
    [
        (0.012, 0.8 * 1.77, 1.2 * 1.77),  # below the range a fifth either way
        (0.0275, 0.885 * 1.77, 1.115 * 1.77),  # halfway into it half of the way to 3 %
        (0.035, 1.70, 1.84),  # within it the handbooks' own spread, which is wider than 3 %
    ],
)
def test_a_rim_s_band_by_hand(head, low, high):
    """Q = C pi D h^1.5 of a wide pipe, C 1.70 to 1.84, likely 1.77 (handbooks)."""
    flow = weir_flow(StandpipeRim(diameter=0.2), head)
    unit = math.pi * 0.2 * head**1.5
    assert flow.likely == pytest.approx(1.77 * unit)
    assert flow.low == pytest.approx(low * unit)
    assert flow.high == pytest.approx(high * unit)


def test_a_drowned_rim_s_band_by_hand():
    """An orifice of 0.60 over the pipe's own area, sqrt(2 g h), a fifth either way: it gulps."""
    flow = weir_flow(StandpipeRim(diameter=0.02), 0.04)
    orifice = 0.60 * math.pi / 4 * 0.02**2 * math.sqrt(2 * 9.80665 * 0.04)
    assert flow.likely == pytest.approx(orifice)
    assert flow.low == pytest.approx(0.8 * orifice)
    assert flow.high == pytest.approx(1.2 * orifice)
