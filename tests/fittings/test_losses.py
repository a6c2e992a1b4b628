import itertools
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from layout3d.band import SETTINGS
from layout3d.errors import LayoutError, OutOfRange, UnknownName
from layout3d.fittings.losses import (
    NO_LOSS,
    Loss,
    barb_loss,
    bend_loss,
    contraction_loss,
    expansion_loss,
    fitting_kinds,
    fitting_loss,
    losses_table,
    nozzle_loss,
    throttled_loss,
    total_loss,
)

BORES = st.floats(0.004, 0.12)


@given(kind=st.sampled_from(fitting_kinds()), bore=BORES)
def test_every_fitting_has_a_rising_band_and_a_source(kind, bore):
    loss = fitting_loss(kind, bore)
    assert 0 <= loss.low <= loss.likely <= loss.high
    assert loss.note.startswith(kind)


def test_the_table_is_whole():
    table = losses_table()
    columns = len(table["bores_mm"])
    assert table["bores_mm"] == sorted(table["bores_mm"])
    for kind, row in table["by_bore"].items():
        assert {*row["sources"]} == {*SETTINGS}, kind
        for setting in SETTINGS:
            assert len(row[setting]) == columns, kind
            # a wider fitting of one kind never loses more
            assert row[setting] == sorted(row[setting], reverse=True), kind
    for throttled in table["throttled"].values():
        assert throttled["values"] == sorted(throttled["values"])
        assert throttled["places"] == sorted(throttled["places"])
        assert len(throttled["values"]) == len(throttled["places"])


@pytest.mark.parametrize("kind", ["elbow_90", "tee_branch", "swing_check"])
def test_a_wider_fitting_never_loses_more(kind):
    bores = [0.003 + 0.001 * step for step in range(150)]
    for setting in ("likely", "high"):
        values = [fitting_loss(kind, bore).at(setting) for bore in bores]
        assert all(a >= b for a, b in itertools.pairwise(values))


def test_outside_the_table_the_source_says_so():
    assert "outside the table" in fitting_loss("elbow_90", 0.012).note
    assert "outside the table" not in fitting_loss("elbow_90", 0.02057).note


@pytest.mark.parametrize("kind", ["ball_valve", "gate_valve"])
def test_a_valve_turned_down_loses_ever_more(kind):
    openings = [1.0 - 0.01 * step for step in range(72)]
    for setting in SETTINGS:
        values = [throttled_loss(kind, 0.02, opening).at(setting) for opening in openings]
        assert all(b > a for a, b in itertools.pairwise(values))
    assert throttled_loss(kind, 0.02, 1.0).likely == fitting_loss(kind, 0.02).likely


def test_a_valve_nearly_shut_has_no_figure():
    with pytest.raises(OutOfRange, match=r"only 10% open(.|\n)*28% to 100 %"):
        throttled_loss("ball_valve", 0.02, 0.1)


def test_losses_in_a_row_add_up():
    elbow = fitting_loss("elbow_90", 0.02)
    assert total_loss([elbow] * 3).high == pytest.approx(elbow.times(3).high)
    assert total_loss([]) == NO_LOSS
    assert total_loss([elbow, elbow]).note == elbow.note


@given(low=st.floats(0, 5), d1=BORES, d2=BORES)
def test_a_loss_on_another_bore_is_the_same_head(low, d1, d2):
    """By definition: K V² is one head whichever bore V is read in; V goes with 1/D², Re with 1/D."""
    loss = Loss(low=low, likely=low, high=low, laminar=100.0)
    other = loss.on_bore(d1, d2)
    flow, nu = 1e-4, 1e-6
    heads = []
    for k, d in ((loss, d1), (other, d2)):
        v = flow / (math.pi * d * d / 4)
        heads.append((k.likely + k.laminar * nu / (v * d)) * v * v)
    assert heads[0] == pytest.approx(heads[1], rel=1e-9)


def test_a_barb_costs_more_the_narrower_it_is():
    wide, narrow = barb_loss(0.016, 0.014), barb_loss(0.016, 0.011)
    assert narrow.likely > wide.likely
    assert wide.low < wide.likely < wide.high
    # by hand, bore ratio 0.75, Crane narrowing: (0.5 (1 - .5625) + (1 - .5625)²) / .75^4 = 1.296
    assert barb_loss(0.016, 0.012).low == pytest.approx(1.2963, rel=1e-3)


def test_no_change_of_bore_costs_nothing():
    assert contraction_loss(0.02, 0.02) == NO_LOSS
    assert expansion_loss(0.02, 0.02).likely == 0.0
    assert nozzle_loss(0.02, 0.02).likely == pytest.approx(1.0)


def test_a_bend_in_tube():
    quarter, eighth = bend_loss(0.016, 0.08, math.pi / 2), bend_loss(0.016, 0.08, math.pi / 4)
    assert quarter.low > eighth.low
    half = bend_loss(0.016, 0.08, math.pi)
    assert half.likely == pytest.approx(2 * quarter.likely)
    assert quarter.high < fitting_loss("elbow_90", 0.016).low  # a wide bend beats every elbow


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: fitting_loss("elbow_90", 0.5), "bore of the fitting is 500 mm"),
        (lambda: bend_loss(0.016, 0.01, 1.0), "under one bore"),
        (lambda: bend_loss(0.016, 0.05, 4.0), "angle of the bend"),
        (lambda: contraction_loss(0.01, 0.02), "a narrowing must go from the wider"),
        (lambda: expansion_loss(0.02, 0.01), "a widening must go from the narrower"),
        (lambda: Loss(low=2.0, likely=1.0, high=3.0), "rise from low to high"),
        (lambda: Loss.exact(1.0).at("middling"), "no setting 'middling'"),
    ],
)
def test_bad_figures_are_refused(call, words):
    with pytest.raises(LayoutError, match=words):
        call()


def test_an_unknown_fitting_names_the_nearest():
    with pytest.raises(UnknownName, match="nearest: 'elbow_90'"):
        fitting_loss("elbow90", 0.02)
