"""Fewer triangles, held to the tolerance by a measure of its own."""

import numpy as np
import pytest

from layout3d.parts.forms.rock import rock
from layout3d.solid.primitives import box
from layout3d.solid.reduce import farthest, reduced
from layout3d.solid.shape import Shape


@pytest.mark.parametrize("tolerance", [0.001, 0.003])
def test_a_rock_has_fewer_triangles_and_strays_no_further_than_asked(tolerance):
    fine = Shape.of(*rock(3, form="lava", size=(0.3, 0.2, 0.2), detail=9000))
    coarse, strayed, count = reduced(fine, tolerance)
    assert len(coarse.faces) < 0.9 * len(fine.faces)
    assert 0.0 < strayed <= tolerance
    assert count == len(fine.vertices)


def test_how_far_a_surface_strays_is_the_known_distance():
    """A block 10 mm less on one side: its outer corners are 10 mm off, the others on it."""
    fine, coarse = box((0.3, 0.2, 0.1)), box((0.29, 0.2, 0.1))
    far, whose = farthest(np.asarray(fine.vertices), coarse)
    assert far == pytest.approx(0.01)
    assert fine.vertices[whose][0] == pytest.approx(0.3)


def test_of_a_large_mesh_evenly_picked_corners_are_measured():
    fine = Shape.of(*rock(1, form="boulder", size=(0.3, 0.2, 0.2), detail=50_000))
    _, strayed, count = reduced(fine, 0.001)
    assert 10_000 < count <= 20_000
    assert 0.0 < strayed <= 0.001


def test_nothing_is_spared_where_every_corner_counts():
    block = box((0.1, 0.1, 0.1))
    assert reduced(block, 0.001)[0].volume == pytest.approx(block.volume)
