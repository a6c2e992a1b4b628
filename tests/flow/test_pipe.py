import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from plain_flow import factor

from layout3d.errors import OutOfRange
from layout3d.flow.pipe import (
    LAMINAR_LIMIT,
    TURBULENT_LIMIT,
    factor_and_slope,
    friction_head,
    head_and_slope,
)

FLOWS = st.floats(1e-9, 5e-3)
BORES = st.floats(0.004, 0.1)


@given(re=st.floats(4000.0, 1e8), rough=st.floats(0.0, 0.05))
def test_the_factor_solves_the_colebrook_equation(re, rough):
    """The equation itself, Colebrook 1939: 1/sqrt(f) = -2 log10(e/3.7 + 2.51/(Re sqrt(f)))."""
    f = factor(re, rough)
    assert 1 / math.sqrt(f) == pytest.approx(
        -2 * math.log10(rough / 3.7 + 2.51 / (re * math.sqrt(f))), rel=1e-9
    )


def test_laminar_flow_is_hagen_poiseuille():
    """Closed form: h = 128 nu L Q / (pi g D^4)."""
    head = friction_head(2e-6, 3.0, inside_diameter=0.006, viscosity=1e-6)
    assert head == pytest.approx(128 * 1e-6 * 3.0 * 2e-6 / (math.pi * 9.80665 * 0.006**4), rel=1e-12)


@given(re=st.floats(10.0, 1e6), rough=st.floats(0.0, 0.05))
def test_slope_of_the_factor_is_its_difference_quotient(re, rough):
    step = 1e-6
    f0, slope = factor_and_slope(re, rough)
    f1, _ = factor_and_slope(re * (1 + step), rough)
    if not any(re <= edge <= re * (1 + step) for edge in (LAMINAR_LIMIT, TURBULENT_LIMIT)):
        assert (math.log(f1 / f0)) / math.log1p(step) == pytest.approx(slope, abs=1e-4)


@pytest.mark.parametrize("edge", [LAMINAR_LIMIT, TURBULENT_LIMIT])
@pytest.mark.parametrize("rough", [0.0, 1e-3, 0.05])
def test_factor_and_slope_are_continuous_where_the_regimes_join(edge, rough):
    below, above = (np.ravel(factor_and_slope(edge * share, rough)) for share in (1 - 1e-9, 1 + 1e-9))
    assert below == pytest.approx(above, rel=1e-6)


@given(flow=FLOWS, more=st.floats(1.0001, 3.0), bore=BORES, rough=st.floats(0.0, 1e-4))
def test_more_flow_always_loses_more_head(flow, more, bore, rough):
    lost, slope = head_and_slope(flow, 1.0, bore, rough, 1e-6)
    assert slope > 0
    assert head_and_slope(flow * more, 1.0, bore, rough, 1e-6)[0] > lost


@given(flow=FLOWS, bore=BORES, length=st.floats(0.0, 10.0), share=st.floats(0.0, 1.0))
def test_a_pipe_is_the_sum_of_its_pieces(flow, bore, length, share):
    whole = friction_head(flow, length, inside_diameter=bore)
    parts = [friction_head(flow, length * x, inside_diameter=bore) for x in (share, 1 - share)]
    assert sum(parts) == pytest.approx(whole, rel=1e-9, abs=1e-15)


def test_no_flow_loses_nothing():
    assert friction_head(0.0, 5.0, inside_diameter=0.02) == 0.0


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"inside_diameter": 0.0}, "inside diameter must be above 0, got 0 mm"),
        ({"inside_diameter": 0.001, "roughness": 1e-4}, "relative roughness is 0.1"),
        ({"inside_diameter": 0.02, "roughness": -1.0}, "roughness must be 0 or more, got -1,000 mm"),
        ({"inside_diameter": 0.02, "viscosity": 0.0}, "viscosity"),
    ],
)
def test_bad_figures_are_refused_by_name(change, words):
    with pytest.raises(OutOfRange, match=words):
        friction_head(1e-4, 1.0, **change)


@pytest.mark.parametrize("flow", [-1e-4, math.nan, math.inf])
def test_bad_flows_are_refused(flow):
    with pytest.raises(OutOfRange, match="flow"):
        friction_head(flow, 1.0, inside_diameter=0.02)
