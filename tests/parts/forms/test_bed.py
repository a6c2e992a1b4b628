import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.interpolate import RBFInterpolator

from layout3d.parts.forms.bed import cell_slopes, sculpted_bed, slope_bed

POINTS = st.lists(
    st.tuples(st.integers(0, 30), st.integers(0, 15), st.floats(0.0, 0.4)),
    min_size=1,
    max_size=20,
    unique_by=lambda p: p[:2],
).map(lambda ps: [(0.05 * x, 0.05 * y, d) for x, y, d in ps])


@settings(max_examples=40)
@given(points=POINTS, roughness=st.floats(0.0, 1.0), seed=st.integers(0, 1000))
def test_the_bed_passes_through_its_points_and_keeps_in_bounds(points, roughness, seed):
    given = np.array(points)
    bed = sculpted_bed(points, roughness=roughness, seed=seed)
    assert np.allclose(bed(given[:, 0], given[:, 1]), given[:, 2], rtol=0.0, atol=1e-7)
    z = bed(np.linspace(-0.2, 1.7, 30)[:, None], np.linspace(-0.2, 1.0, 20)[None, :])
    assert z.shape == (30, 20)
    assert z.min() >= 0.0
    assert z.max() <= 1.1 * given[:, 2].max() + 1e-12


def test_the_smooth_bed_agrees_with_scipy():
    """The same multiquadric as scipy's RBFInterpolator (degree 0), an independent solver."""
    rng = np.random.default_rng(3)
    given = np.column_stack([rng.random((12, 2)), 0.1 + 0.1 * rng.random(12)])
    apart = np.sqrt(((given[:, None, :2] - given[None, :, :2]) ** 2).sum(-1))
    np.fill_diagonal(apart, np.inf)
    bend = 0.5 * apart.min(axis=1).mean()
    theirs = RBFInterpolator(given[:, :2], given[:, 2], kernel="multiquadric", epsilon=1.0 / bend, degree=0)
    places = rng.random((200, 2))
    expected = np.clip(theirs(places), 0.0, 1.1 * given[:, 2].max())
    assert np.allclose(sculpted_bed(given)(*places.T), expected, atol=1e-9)


def test_one_point_gives_a_level_bed():
    assert np.allclose(sculpted_bed([(1.0, 1.0, 0.12)])([0.0, 5.0], [1.0, -3.0]), 0.12)


def test_ripples_come_from_the_seed():
    x, y = np.linspace(0.0, 1.0, 50)[:, None], np.linspace(0.0, 0.5, 30)[None, :]
    points = [(0.0, 0.0, 0.05), (1.0, 0.5, 0.1)]
    one, same, other = (sculpted_bed(points, roughness=0.3, seed=s)(x, y) for s in (1, 1, 2))
    assert np.array_equal(one, same)
    assert np.abs(one - other).max() > 0.002


def test_an_even_slope_has_the_slope_of_its_triangle():
    """Closed form: atan(rise / run)."""
    bed = slope_bed(0.05, 0.15, reach=0.5)
    assert np.allclose(bed(0.3, [-1.0, 0.0, 0.25, 0.5, 9.0]), [0.05, 0.05, 0.10, 0.15, 0.15])
    x, y = np.linspace(0.0, 1.0, 5), np.linspace(0.0, 0.5, 4)
    steep = cell_slopes(x, y, bed(x[:, None], y[None, :])).max()
    assert steep == pytest.approx(math.degrees(math.atan(0.1 / 0.5)))


@given(a=st.floats(-2.0, 2.0), b=st.floats(-2.0, 2.0))
def test_a_tilted_plane_has_the_slope_of_its_gradient(a, b):
    x, y = np.array([0.0, 0.1, 0.4]), np.array([0.0, 0.3, 0.35])
    steep = cell_slopes(x, y, a * x[:, None] + b * y[None, :]).max()
    assert steep == pytest.approx(math.degrees(math.atan(math.hypot(a, b))), abs=1e-6)


def test_one_spike_is_found_on_whichever_side_it_stands():
    for spot in ((0, 0), (2, 0), (0, 2), (2, 2), (1, 1)):
        z = np.zeros((3, 3))
        z[spot] = 1.0
        assert cell_slopes([0, 1, 2], [0, 1, 2], z).max() >= 45.0


@pytest.mark.parametrize(
    ("call", "told"),
    [
        (lambda: sculpted_bed([]), "depths must be 1 to 400"),
        (lambda: sculpted_bed([(0.0, 0.0)]), "depths must be 1 to 400"),
        (lambda: sculpted_bed([(0.0, 0.0, -0.1)]), r"depths\[1\] must be 0 to 3 m, got -0.1"),
        (
            lambda: sculpted_bed([(0.0, 0.0, 0.1), (0.0, 0.0, 0.2)]),
            r"depths\[1\] and depths\[2\] must be at least",
        ),
        (lambda: sculpted_bed([(0.0, float("inf"), 0.1)]), "depths must be finite"),
        (lambda: sculpted_bed([(0.0, 0.0, 0.1)], roughness=2.0), "roughness must be 0 to 1, got 2.0"),
        (lambda: slope_bed(0.1, 30.0, reach=0.5), "back_depth must be 0 to 3 m, got 30.0"),
        (lambda: slope_bed(0.1, 0.2, reach=0.0), "reach must be 0.01 to 20 m, got 0.0"),
        (lambda: cell_slopes([0.0], [0.0, 1.0], [[0.0, 1.0]]), "at least 2"),
        (lambda: cell_slopes([0.0, 0.0], [0.0, 1.0], np.zeros((2, 2))), "must rise"),
    ],
)
def test_absurd_values_are_told_with_name_value_and_limit(call, told):
    with pytest.raises(ValueError, match=told):
        call()


def test_slopes_are_told_by_cell_and_mirror_with_the_bed():
    """Only the cell with the ramp is steep: 0.1 over 0.2, and a mirrored bed has mirrored slopes."""
    x, y = np.array([0.0, 0.1, 0.3, 0.4]), np.array([0.0, 0.5])
    z = np.array([[0.0, 0.0], [0.0, 0.0], [0.1, 0.1], [0.1, 0.1]])
    slopes = cell_slopes(x, y, z)
    assert slopes == pytest.approx(np.array([[0.0], [math.degrees(math.atan(0.5))], [0.0]]))
    rough = np.random.default_rng(1).random((4, 2))
    mirrored = cell_slopes(0.4 - x[::-1], y, rough[::-1])
    assert mirrored == pytest.approx(cell_slopes(x, y, rough)[::-1])
