import math

import numpy as np
import pytest
from closed_solids import ball, cone, ellipsoid, revolve, torus_sector
from hypothesis import given, settings
from hypothesis import strategies as st

from layout3d.errors import MeshRefused
from layout3d.solid.primitives import box, cylinder, heightfield, prism, sides, sweep, tube

SQUARE = [(0, 0), (1, 0), (1, 1), (0, 1)]
length = st.floats(0.001, 2.0)


@given(st.floats(1e-4, 2.0))
def test_sides_keep_the_chord_within_a_hundredth_of_a_millimetre(radius):
    n = sides(radius)
    assert n % 8 == 0
    assert 24 <= n <= 160
    if n < 160:
        assert radius * (1 - math.cos(math.pi / n)) <= 7.5e-6
    if n > 24:
        assert radius * (1 - math.cos(math.pi / (n - 8))) > 7.5e-6


@settings(max_examples=30)
@given(length, length, st.integers(3, 50))
def test_a_cylinder_has_the_volume_of_the_true_one_with_any_sides(radius, height, n):
    assert cylinder(radius, height, n=n).volume == pytest.approx(math.pi * radius**2 * height, rel=1e-9)
    assert len(cylinder(radius, height, n=n).vertices) == 2 * n


def test_a_pipe_is_within_half_a_hundredth_of_a_millimetre_of_round():
    """Every point of the surface, by vertex and by the middle of each side."""
    for radius in (0.005, 0.01333, 0.038):
        plan = cylinder(radius, 1.0).vertices[:, :2]
        plan = plan[: len(plan) // 2]
        middle = (plan + np.roll(plan, 1, axis=0)) / 2
        assert np.abs(np.hypot(*plan.T) - radius).max() <= 0.5e-5
        assert np.abs(np.hypot(*middle.T) - radius).max() <= 0.25e-5


@pytest.mark.parametrize("radius", [0.001, 0.006, 0.025])
def test_a_ball_is_within_half_a_hundredth_of_a_millimetre_of_round(radius):
    shape = ball(radius)
    a, b, c = shape.corners.transpose(1, 0, 2)
    normal = np.cross(b - a, c - a)
    face = np.einsum("ij,ij->i", normal, a) / np.linalg.norm(normal, axis=1)
    assert np.linalg.norm(shape.vertices, axis=1).max() - radius <= 0.51e-5
    assert radius - face.min() <= 0.51e-5


@settings(max_examples=30)
@given(length, length, length)
def test_box(x, y, z):
    assert box((x, y, z)).volume == pytest.approx(x * y * z, rel=1e-12)
    assert box((x, y, z)).bounds == pytest.approx(np.array([[0, 0, 0], [x, y, z]]))
    assert box((x, y, z), centre=True).centroid == pytest.approx(np.zeros(3), abs=1e-12)


def test_shapes_stand_where_they_should():
    assert cylinder(0.1, 0.5).centroid == pytest.approx([0, 0, 0.25], abs=1e-12)
    assert cone(0.1, 0.05, 0.5).bounds[:, 2] == pytest.approx([0, 0.5])
    assert tube(0.1, 0.08, 0.5).bounds[:, 2] == pytest.approx([0, 0.5])
    assert ball(0.1).centroid == pytest.approx(np.zeros(3), abs=1e-12)
    quarter = torus_sector(0.1, 0.02, math.pi / 2)
    assert quarter.bounds[0] == pytest.approx([0, 0, -0.02], abs=1e-4)
    assert quarter.bounds[1] == pytest.approx([0.12, 0.12, 0.02], abs=1e-4)
    assert sweep([(0, 0, 0), (0, 0, 1)], 0.01).bounds == pytest.approx(
        np.array([[-0.01, -0.01, 0], [0.01, 0.01, 1]]), abs=1e-5
    )


def test_mirrored_prisms_and_outlines_either_way_round():
    holes = [[(0.2, 0.2), (0.4, 0.2), (0.4, 0.4)], [(0.6, 0.6), (0.6, 0.8), (0.8, 0.8)]]
    for outline in (SQUARE, SQUARE[::-1], [*SQUARE, SQUARE[0]]):
        for turned in (holes, [hole[::-1] for hole in holes]):
            assert prism(outline, 2.0, holes=turned).volume == pytest.approx(2 * (1 - 0.04), rel=1e-12)


@pytest.mark.parametrize(
    ("outline", "holes", "words"),
    [
        ([(0, 0), (1, 1), (1, 0), (0, 1)], [], "no area"),
        ([(0, 0), (2, 1), (2, 0), (0, 1.5)], [], "crosses itself"),
        (SQUARE, [[(0.5, 0.5), (1.5, 0.5), (1.5, 0.8)]], "crosses or leaves"),
        (SQUARE, [[(2, 2), (3, 2), (3, 3)]], "crosses or leaves"),
        (SQUARE, [[(0.2, 0.2), (0.4, 0.2), (0.4, 0.4)], [(0.3, 0.2), (0.5, 0.2), (0.5, 0.4)]], "crosses"),
        ([(0, 0), (1, 0)], [], "no area"),
        ([(0, 0), (1, 0), (math.nan, 1)], [], "not finite"),
    ],
)
def test_outlines_that_enclose_no_clear_area_are_refused(outline, holes, words):
    with pytest.raises(MeshRefused, match=words):
        prism(outline, 1.0, holes=holes)


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: box((1, 0, 1)), "size.y must be above 0, got 0"),
        (lambda: cylinder(-1, 1), "radius must be above 0, got -1"),
        (lambda: cylinder(1, math.inf), "height must be above 0"),
        (lambda: cylinder(1, 1, n=2), "3 sides or more"),
        (lambda: tube(0.1, 0.1, 1), "wall must be above 0"),
        (lambda: cone(0, 0, 1), "larger radius must be above 0"),
        (lambda: cone(-0.1, 0.1, 1), "below 0"),
        (lambda: ball(math.nan), "radius must be above 0"),
        (lambda: ellipsoid((1, 1, -1)), "radii.z must be above 0"),
        (lambda: revolve([(-1, 0), (1, 0), (1, 1)]), "crosses the axis"),
        (lambda: revolve([(0, 0), (2, 1), (2, 0), (0, 1.5)]), "crosses itself"),
        (lambda: torus_sector(0.1, 0.1, 1.0), "bend_radius 0.1 m must be above"),
        (lambda: torus_sector(0.1, 0.01, 7.0), "more than a whole turn"),
        (lambda: sweep([(0, 0, 0), (0, 0, 0)], 0.01), "no length"),
        (lambda: sweep([(0, 0, 0), (0, 0, 1), (0, 0, 0)], 0.01), "doubles back at point 1"),
        (lambda: sweep([(0, 0, 0), (0.1, 0, 0), (0.1, 0.02, 0), (0, 0.02, 0)], 0.03), "bends tighter"),
        (lambda: sweep([(0, 0, 0), (0, 0, math.nan)], 0.01), "not finite"),
        (lambda: heightfield([0, 1], [0, 1], [[1, 1], [1, -1]], 0), "below the base"),
        (lambda: heightfield([0, 1], [0, 1], [[1, 1, 1], [1, 1, 1]], 0), "do not match"),
        (lambda: heightfield([0, 0], [0, 1], [[1, 1], [1, 1]], 0), "must rise"),
        (lambda: heightfield([0, 1], [0, 1], [[0, 0], [0, 0]], 0), "flat"),
    ],
)
def test_sizes_that_make_no_solid_are_refused_in_words(make, words):
    with pytest.raises(MeshRefused, match=words):
        make()


@settings(max_examples=20)
@given(st.lists(st.tuples(length, length, length), min_size=3, max_size=6), st.floats(0.0005, 0.002))
def test_a_sweep_has_the_area_of_its_circle_times_its_length(steps, radius):
    """Legs run ahead in every axis, so that they bend by less than a right angle."""
    path = np.cumsum(np.array(steps) + 0.02, axis=0)
    run = np.linalg.norm(np.diff(path, axis=0), axis=1).sum()
    assert sweep(path, radius).volume == pytest.approx(math.pi * radius**2 * run, rel=1e-9)
    hollow = sweep(path, radius, inside_radius=radius / 2)
    assert hollow.volume == pytest.approx(0.75 * math.pi * radius**2 * run, rel=1e-9)


def test_points_of_a_path_that_repeat_are_dropped():
    twice = [(0, 0, 0), (0, 0, 0), (0, 0, 1), (0, 0, 1), (0, 1, 2)]
    once = [(0, 0, 0), (0, 0, 1), (0, 1, 2)]
    assert sweep(twice, 0.01) == sweep(once, 0.01)


@settings(max_examples=20)
@given(st.integers(2, 6), st.integers(2, 6), st.randoms(use_true_random=False))
def test_a_heightfield_is_the_ruled_surface_and_mirrors(nx, ny, random):
    x = np.cumsum([random.uniform(0.01, 1) for _ in range(nx)])
    y = np.cumsum([random.uniform(0.01, 1) for _ in range(ny)])
    z = np.array([[random.uniform(0, 1) for _ in range(ny)] for _ in range(nx)])
    shape = heightfield(x, y, z, -0.1)
    cell = (z[1:, 1:] + z[1:, :-1] + z[:-1, 1:] + z[:-1, :-1]) / 4 + 0.1
    expected = (cell * np.outer(np.diff(x), np.diff(y))).sum()
    assert shape.volume == pytest.approx(expected, rel=1e-9)
    mirrored = heightfield(-x[::-1], y, z[::-1], -0.1)
    assert mirrored.centroid == pytest.approx(shape.centroid * [-1, 1, 1])
    assert mirrored.area == pytest.approx(shape.area)


def test_a_sand_bed_that_tapers_to_nothing_is_still_a_solid():
    shape = heightfield([0, 1, 2], [0, 1], [[0, 0], [0.1, 0.1], [0, 0]], 0)
    assert shape.volume == pytest.approx(0.1)
