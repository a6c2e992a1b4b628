"""Skins over circles against closed forms and the kernel's own shapes."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from layout3d.errors import MeshRefused
from layout3d.fittings.rings import bent_bar, turned
from layout3d.solid.outline import circle
from layout3d.solid.primitives import cylinder, sides, tube


@given(st.floats(0.002, 0.06), st.sampled_from([24, 48, 88, 160]))
def test_a_circle_has_the_corners_of_the_kernels_cylinder(radius, n):
    bar = cylinder(radius, 0.01, n=n)
    bottom = bar.vertices[bar.vertices[:, 2] == 0.0, :2]
    assert np.allclose(
        np.sort(bottom.view(complex).ravel()), np.sort(circle(radius, n).view(complex).ravel())
    )


@pytest.mark.parametrize(("outer", "inner"), [(48, 88), (88, 48), (12, 32), (48, 48), (40, 160)])
def test_a_ring_of_unlike_sides_has_its_true_volume(outer, inner):
    """Pi (R² - r²) h."""
    ring = turned([(0.02, 0.0, outer), (0.02, 0.03, outer), (0.015, 0.03, inner), (0.015, 0.0, inner)])
    assert ring.volume == pytest.approx(math.pi * (0.02**2 - 0.015**2) * 0.03, rel=1e-9)
    assert ring.manifold.genus() == 1


def test_a_frustum_has_its_true_volume():
    """Pi h (R² + R r + r²) / 3."""
    frustum = turned([(0.0, 0.0, 1), (0.02, 0.0, 48), (0.01, 0.05, 48), (0.0, 0.05, 1)])
    assert frustum.volume == pytest.approx(math.pi * 0.05 * (4e-4 + 2e-4 + 1e-4) / 3.0, rel=1e-9)


def test_an_outline_may_run_either_way_round():
    ring = [(0.02, 0.0, 48), (0.02, 0.03, 48), (0.015, 0.03, 32), (0.015, 0.0, 32)]
    assert turned(ring).volume == pytest.approx(turned(ring[::-1]).volume)


def test_an_outline_that_crosses_itself_is_refused():
    with pytest.raises(MeshRefused, match="crosses itself"):
        turned([(0.02, 0.0, 48), (0.015, 0.03, 48), (0.02, 0.03, 48), (0.015, 0.0, 48)])


def test_a_bend_is_a_part_of_a_torus():
    """Pappus: pi r² R angle; eight chords over a quarter turn lose 0.64 %."""
    bend = bent_bar(0.03, math.pi / 2.0, 0.01, 48, 8)
    exact = math.pi * 0.01**2 * 0.03 * math.pi / 2.0
    assert 0.990 < bend.volume / exact < 1.0
    fine = bent_bar(0.03, math.pi / 2.0, 0.01, 48, 64)
    assert fine.volume == pytest.approx(exact, rel=2e-4)


def test_the_tube_of_the_kernel_is_the_ring():
    """What a pipe is made of is what a socket is cut with."""
    pipe = tube(0.013335, 0.010287, 0.1)
    n = sides(0.013335)
    ring = turned([(0.013335, 0.0, n), (0.013335, 0.1, n), (0.010287, 0.1, n), (0.010287, 0.0, n)])
    assert ring.volume == pytest.approx(pipe.volume, rel=1e-12)
    assert np.allclose(np.sort(np.hypot(*ring.vertices[:, :2].T)), np.sort(np.hypot(*pipe.vertices[:, :2].T)))
