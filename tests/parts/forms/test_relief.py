import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from layout3d.parts.forms.relief import RELIEF_FORMS, panel_grid, relief


@settings(max_examples=10)
@given(
    seed=st.integers(0, 10_000),
    form=st.sampled_from(RELIEF_FORMS),
    width=st.floats(0.3, 2.0),
    height=st.floats(0.3, 1.0),
    depth=st.floats(0.02, 0.3),
)
def test_relief_covers_the_panel_and_stays_within_its_depth(seed, form, width, height, depth):
    x, z, y = relief(seed, form=form, width=width, height=height, depth=depth, pitch=0.02)
    assert (x[0], x[-1], z[0], z[-1]) == (0.0, width, 0.0, height)
    assert np.diff(x).max() <= 0.02 + 1e-9
    assert y.shape == (len(x), len(z))
    assert y.min() >= 0.0
    assert y.max() <= depth
    assert np.ptp(y) > 0.25 * depth  # sculpted, not flat


@pytest.mark.parametrize("form", RELIEF_FORMS)
def test_a_finer_pitch_shows_the_same_surface(form):
    """Places that both grids share have the same height: fields are sampled at positions."""
    coarse = relief(5, form=form, width=0.8, height=0.4, depth=0.08, pitch=0.04)[2]
    fine = relief(5, form=form, width=0.8, height=0.4, depth=0.08, pitch=0.01)[2]
    assert fine[::4, ::4].shape == coarse.shape
    assert np.allclose(fine[::4, ::4], coarse, rtol=0.0, atol=1e-9)


def test_forms_and_seeds_differ():
    """That the same seed gives the same one, ``tests/regression`` holds from version to version."""
    size = {"width": 0.8, "height": 0.4, "depth": 0.08, "pitch": 0.02}
    made = {f: [relief(s, form=f, **size)[2] for s in (1, 2)] for f in RELIEF_FORMS}
    for first, other in made.values():
        assert np.corrcoef(first.ravel(), other.ravel())[0, 1] < 0.5
    firsts = np.array([made[f][0].ravel() for f in RELIEF_FORMS])
    assert np.abs(np.corrcoef(firsts) - np.eye(len(firsts))).max() < 0.5


@pytest.mark.parametrize(
    ("values", "told"),
    [
        ({"form": "bricks"}, r"form must be one of strata, .*got 'bricks'"),
        ({"width": 0.0}, r"width must be 0.05 to 20 m, got 0.0"),
        ({"height": 1000.0}, r"height must be 0.05 to 20 m, got 1000.0"),
        ({"depth": 5.0}, r"depth must be 0.005 to 2 m, got 5.0"),
        ({"pitch": 0.3}, r"pitch must be 0.0005 to .* m, got 0.3"),
    ],
)
def test_absurd_values_are_told_with_name_value_and_limit(values, told):
    asked = {"form": "strata", "width": 0.8, "height": 0.4, "depth": 0.08, "pitch": 0.01} | values
    with pytest.raises(ValueError, match=told):
        relief(1, **asked)


def test_a_grid_too_large_to_hold_is_refused():
    with pytest.raises(ValueError, match=r"pitch must give at most 4000000 places, 0\.0005 m gives 4004001"):
        panel_grid(1.0, 1.0, 0.0005)
