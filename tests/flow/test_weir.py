import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from layout3d.band import SETTINGS
from layout3d.errors import LayoutError, NotPossible, OutOfRange
from layout3d.flow.weir import BroadWeir, Comb, StandpipeRim, weir_flow, weir_head

LPH = 1 / 3.6e6
WEIRS = st.one_of(
    st.builds(BroadWeir, width=st.floats(0.05, 1.0), thickness=st.floats(0.004, 0.05)),
    st.builds(StandpipeRim, diameter=st.floats(0.01, 0.1)),
    st.builds(Comb, slots=st.integers(1, 60), slot_width=st.floats(0.003, 0.02), slot_height=st.just(0.3)),
)


@given(weir=WEIRS, head=st.floats(0.0, 0.15), more=st.floats(1e-6, 0.1), blocked=st.floats(0.0, 0.5))
def test_more_head_never_passes_less(weir, head, more, blocked):
    before, after = (weir_flow(weir, level, blocked=blocked) for level in (head, head + more))
    # where one lies outside the formula's range and the other inside, the range widens between them
    alike = ("outside its range" in before.note) == ("outside its range" in after.note)
    for setting in SETTINGS if alike else ("likely",):
        assert after.at(setting) >= before.at(setting) * (1 - 1e-12) >= 0.0


@given(weir=WEIRS, head=st.floats(0.001, 0.15), blocked=st.floats(0.0, 0.5))
def test_head_is_the_inverse_of_flow(weir, head, blocked):
    flow = weir_flow(weir, head, blocked=blocked)
    back = weir_head(weir, flow.likely, blocked=blocked)
    assert back.likely == pytest.approx(head, rel=1e-6)
    assert back.low <= head * (1 + 1e-9)
    assert back.high >= head * (1 - 1e-9)


@given(weir=WEIRS, head=st.floats(0.002, 0.1))
def test_a_blocked_third_passes_less(weir, head):
    free, third = weir_flow(weir, head), weir_flow(weir, head, blocked=1 / 3)
    assert 0.55 * free.likely < third.likely <= 2 / 3 * free.likely * 1.02


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


def test_a_drowned_comb_is_refused():
    comb = Comb(slots=10, slot_width=0.006, slot_height=0.02)
    with pytest.raises(OutOfRange, match=r"25 mm over the foot of slots 20 mm high"):
        weir_flow(comb, 0.025)
    with pytest.raises(NotPossible, match=r"passes .* at 20 mm of head .* short of 4,000 L/h"):
        weir_head(comb, 4000 * LPH)


@pytest.mark.parametrize(
    "call",
    [
        lambda: Comb(slots=0, slot_width=0.01, slot_height=0.01),
        lambda: weir_flow(StandpipeRim(diameter=0.05), 0.01, blocked=1.0),
        lambda: weir_flow(StandpipeRim(diameter=0.05), math.inf),
        lambda: weir_head(StandpipeRim(diameter=0.05), -1.0),
        lambda: weir_head(StandpipeRim(diameter=0.005), 1.0),
    ],
)
def test_bad_figures_are_refused(call):
    with pytest.raises(LayoutError):
        call()
