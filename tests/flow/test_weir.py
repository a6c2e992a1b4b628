import math

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from layout3d.band import SETTINGS
from layout3d.errors import LayoutError, NotPossible, OutOfRange
from layout3d.flow.weir import BroadWeir, Comb, SharpWeir, StandpipeRim, VNotch, weir_flow, weir_head

LPH = 1 / 3.6e6
WEIRS = st.one_of(
    st.builds(
        SharpWeir,
        width=st.floats(0.05, 1.0),
        crest_height=st.floats(0.05, 0.6),
        contractions=st.integers(0, 2),
    ),
    st.builds(BroadWeir, width=st.floats(0.05, 1.0), thickness=st.floats(0.004, 0.05)),
    st.builds(VNotch, angle=st.floats(0.3, 2.0)),
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
    if isinstance(weir, SharpWeir):
        assume(head <= weir.width / 4)  # past this, contractions leave the formula's range
    free, third = weir_flow(weir, head), weir_flow(weir, head, blocked=1 / 3)
    # end contractions take a little more than their share of what is left
    assert 0.55 * free.likely < third.likely <= 2 / 3 * free.likely * 1.02


def test_below_the_range_a_band_and_its_reason():
    weir = SharpWeir(width=0.4, crest_height=0.3)
    small, large = weir_flow(weir, 0.012), weir_flow(weir, 0.05)
    assert small.high / small.likely == pytest.approx(1.2)
    assert small.low / small.likely == pytest.approx(0.8)
    assert "head 12.0 mm under 30 mm" in small.note
    assert large.high / large.likely < 1.05
    assert "outside" not in large.note


@pytest.mark.parametrize(
    ("weir", "head", "words"),
    [
        (SharpWeir(width=0.1, crest_height=0.3), 0.04, "open width 100 mm under 150 mm"),
        (SharpWeir(width=0.4, crest_height=0.05), 0.04, "crest 50 mm under 100 mm"),
        (SharpWeir(width=0.2, crest_height=0.3, contractions=2), 0.08, "width under three heads"),
        (VNotch(angle=math.pi / 2), 0.03, "head 30.0 mm under 50 mm"),
        (VNotch(angle=2.5), 0.06, "angle 143 degrees outside 20 to 100"),
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
    with pytest.raises(OutOfRange, match=r"25\.0 mm over the foot of slots 20\.0 mm high"):
        weir_flow(comb, 0.025)
    with pytest.raises(NotPossible, match=r"passes .* at 20 mm of head .* short of 4000 L/h"):
        weir_head(comb, 4000 * LPH)


@pytest.mark.parametrize(
    "call",
    [
        lambda: SharpWeir(width=0.0, crest_height=0.1),
        lambda: SharpWeir(width=0.1, crest_height=0.1, contractions=3),
        lambda: Comb(slots=0, slot_width=0.01, slot_height=0.01),
        lambda: VNotch(angle=0.01),
        lambda: weir_flow(StandpipeRim(diameter=0.05), 0.01, blocked=1.0),
        lambda: weir_flow(StandpipeRim(diameter=0.05), math.inf),
        lambda: weir_head(StandpipeRim(diameter=0.05), -1.0),
        lambda: weir_head(StandpipeRim(diameter=0.005), 1.0),
    ],
)
def test_bad_figures_are_refused(call):
    with pytest.raises(LayoutError):
        call()
