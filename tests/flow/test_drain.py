import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from layout3d.band import SETTINGS
from layout3d.errors import LayoutError, NotPossible
from layout3d.fittings.losses import Loss, fitting_loss, total_loss
from layout3d.flow.drain import (
    AIR_NOTE,
    MANNING,
    drain_capacity,
    part_full_depth,
    part_full_flow,
    siphon_flow,
    stack_flow,
    traps,
)
from layout3d.flow.pipe import friction_head, velocity_head, velocity_in
from layout3d.flow.water import water_at

LPH = 1 / 3.6e6
ENDS = Loss.exact(1.5)


@given(bore=st.floats(0.01, 0.1), more=st.floats(1.001, 2.0))
def test_a_wider_stack_carries_more(bore, more):
    for setting in ("likely", "high"):
        assert stack_flow(bore * more).at(setting) > stack_flow(bore).at(setting)


def test_a_narrow_stack_is_told_with_care():
    assert "low is halved" in stack_flow(0.02).note
    assert "halved" not in stack_flow(0.04).note


@given(drop=st.floats(0.01, 3.0), length=st.floats(0.0, 10.0), bore=st.floats(0.004, 0.08))
def test_a_siphon_spends_its_drop(drop, length, bore):
    """Energy by hand: friction plus 1.5 velocity heads is the drop."""
    nu = water_at(20.0).viscosity
    flow = siphon_flow(bore, drop, length, loss=ENDS, water=water_at(20.0)).likely
    spent = friction_head(flow, length, inside_diameter=bore, viscosity=nu) + 1.5 * velocity_head(
        velocity_in(flow, bore)
    )
    assert spent == pytest.approx(drop, rel=1e-9)


@given(
    drop=st.floats(0.01, 3.0),
    more=st.floats(0.0, 1.0),
    length=st.floats(0.1, 10.0),
    longer=st.floats(0.0, 5.0),
)
def test_more_drop_never_less_longer_never_more(drop, more, length, longer):
    base = siphon_flow(0.02, drop, length, loss=ENDS).likely
    assert siphon_flow(0.02, drop + more, length, loss=ENDS).likely >= base * (1 - 1e-12)
    assert siphon_flow(0.02, drop, length + longer, loss=ENDS).likely <= base * (1 + 1e-12)


def test_fittings_make_the_siphon_a_band():
    loss = total_loss([ENDS, fitting_loss("elbow_90", 0.02).times(3)])
    band = siphon_flow(0.02, 0.6, 1.0, loss=loss)
    assert band.low < band.likely < band.high
    assert siphon_flow(0.02, 0.0, 1.0).high == 0.0


def test_open_and_full_are_told_apart():
    """Open flow by Wyly and Eaton, full by energy: at 0.6 m of drop full carries 2 to 5 times as much."""
    for bore in (0.03465, 0.04044, 0.05204):
        both = drain_capacity(bore, 0.6, 0.8, loss=Loss.exact(2.4))
        assert 2.0 < both.siphon.likely / both.open_flow.likely < 5.0
        assert both.note == AIR_NOTE
        assert "not to be relied on" in both.siphon.note


@given(
    bore=st.floats(0.02, 0.1),
    slope=st.floats(0.002, 0.1),
    share=st.one_of(st.just(0.0), st.floats(1e-3, 0.93)),
)
def test_depth_is_the_inverse_of_flow(bore, slope, share):
    flow = part_full_flow(bore, slope, share)
    band = part_full_depth(bore, slope, flow.low)  # what the roughest pipe carries at that depth
    assert band.high == pytest.approx(share, rel=1e-6)
    assert band.low <= band.likely <= band.high


def test_too_much_for_a_sloped_pipe():
    with pytest.raises(
        NotPossible, match=r"6000 L/h is more than a bore of 40\.0 mm carries at a slope of 1\.0%"
    ):
        part_full_depth(0.04, 0.01, 6000 * LPH)


def test_rougher_carries_less():
    band = part_full_flow(0.05, 0.02, 0.5)
    assert band.low < band.likely < band.high
    assert band.high / band.low == pytest.approx(MANNING.high / MANNING.low)
    assert part_full_flow(0.05, 0.02, 0.0).high == 0.0


def test_a_path_that_falls_has_no_trap():
    assert traps([(0, 0, 1.0), (0, 0, 0.5), (1, 0, 0.48), (1, 0, 0.0)], 0.05) == ()
    assert traps([(0, 0, 1.0), (1, 0, 1.0)], 0.05) == ()
    assert traps([(0, 0, 1.0)], 0.05) == ()


def test_a_path_that_rises_holds_water():
    found = traps([(0, 0, 1.0), (0, 0, 0.2), (1, 0, 0.25), (1, 0, 0.0)], 0.04)
    assert len(found) == 1
    assert found[0].at == (0, 0, 0.2)
    assert found[0].depth == pytest.approx(0.05)
    assert found[0].sealed
    shallow = traps([(0, 0, 1.0), (0, 0, 0.2), (1, 0, 0.22), (1, 0, 0.0)], 0.04)
    assert not shallow[0].sealed


def test_each_low_point_is_its_own_trap():
    path = [(0, 0, 1.0), (1, 0, 0.5), (2, 0, 0.7), (3, 0, 0.4), (4, 0, 0.6), (5, 0, 0.0)]
    assert [trap.depth for trap in traps(path, 0.05)] == [pytest.approx(0.2), pytest.approx(0.2)]


def test_a_small_rise_is_put_down_to_laying():
    path = [(0, 0, 1.0), (1, 0, 0.5), (2, 0, 0.5009), (3, 0, 0.0)]
    assert traps(path, 0.05) == ()
    assert len(traps(path, 0.05, allowed_rise=0.0)) == 1


@pytest.mark.parametrize(
    "call",
    [
        lambda: stack_flow(0.0),
        lambda: siphon_flow(0.02, 1.0, 0.0),
        lambda: siphon_flow(0.02, math.nan, 1.0),
        lambda: part_full_flow(0.05, 0.0, 0.5),
        lambda: part_full_flow(0.05, 0.01, 1.5),
        lambda: part_full_depth(0.05, 0.01, -1.0),
        lambda: traps([(0, 0, math.inf), (0, 0, 0)], 0.05),
    ],
)
def test_bad_figures_are_refused(call):
    with pytest.raises(LayoutError):
        call()


def test_settings_are_all_told():
    assert all(stack_flow(0.05).at(setting) > 0 for setting in SETTINGS)
