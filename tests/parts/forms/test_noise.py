import numpy as np
import pytest

from layout3d.parts.forms.noise import Noise, draws, smooth_step

PLACES = np.random.default_rng(5).random((4000, 3)) * 60.0 - 30.0


def test_gradient_noise_is_zero_on_the_lattice_bounded_and_centred():
    noise = Noise(3)
    lattice = np.floor(PLACES)
    assert np.abs(noise.gradient(lattice)).max() == 0.0
    value = noise.gradient(PLACES)
    assert np.abs(value).max() <= 1.2
    assert abs(value.mean()) < 0.03
    assert 0.2 < value.std() < 0.4


@pytest.mark.parametrize("field", ["gradient", "scars"])
def test_noise_is_continuous_across_cells(field):
    noise = Noise(8)
    step = 1e-5
    rise = getattr(noise, field)(PLACES + step) - getattr(noise, field)(PLACES)
    assert np.abs(rise).max() < 20.0 * step


@pytest.mark.parametrize("flat", [False, True])
def test_cell_noise_is_a_distance(flat):
    """A distance to a set of points can't change faster than one walks, and the second is no nearer."""
    noise = Noise(4)
    walk = 0.05 * (np.random.default_rng(6).random(PLACES.shape) - 0.5)
    here, second, number = noise.cells(PLACES, jitter=0.7, flat=flat)
    if flat:
        walk[:, 2] = 0.0
    there = noise.cells(PLACES + walk, jitter=0.7, flat=flat)[0]
    assert np.all(np.abs(there - here) <= np.sqrt((walk**2).sum(axis=1)) + 1e-12)
    assert np.all(second >= here)
    assert number.min() >= 0.0
    assert number.max() < 1.0


def test_a_field_depends_on_the_place_alone():
    noise = Noise(2)
    whole = noise.fractal(PLACES, 4)
    assert np.array_equal(noise.fractal(PLACES[100:110], 4), whole[100:110])
    assert np.array_equal(noise.fractal(PLACES.reshape(40, 100, 3), 4).ravel(), whole)
    assert noise.fractal(np.zeros((0, 3)), 4).shape == (0,)
    assert np.array_equal(noise.fractal(PLACES, 0), np.zeros(len(PLACES)))


def test_seeds_and_streams_differ():
    values = [Noise(1).gradient(PLACES), Noise(2).gradient(PLACES), Noise(1, 1).gradient(PLACES)]
    assert np.abs(np.corrcoef(values) - np.eye(3)).max() < 0.1


def test_draws_are_those_of_numpy():
    """numpy's own generator on its PCG64, seeded with seed and stream."""
    assert draws(7, 3).random() == np.random.Generator(np.random.PCG64([7, 3])).random()


@pytest.mark.parametrize("seed", [-1, 2**63, 1.0, True, "1", None])
def test_a_seed_is_a_whole_number(seed):
    with pytest.raises(ValueError, match="seed must be a whole number from 0 to"):
        draws(seed)


def test_smooth_step_rises_and_falls():
    at = np.array([-1.0, 0.0, 0.5, 1.0, 2.0])
    assert np.allclose(smooth_step(0.0, 1.0, at), [0.0, 0.0, 0.5, 1.0, 1.0])
    assert np.allclose(smooth_step(1.0, 0.0, at), [1.0, 1.0, 0.5, 0.0, 0.0])
