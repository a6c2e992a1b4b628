"""Fine grain: there from near, gone from afar, and never in the way of telling which part a pixel shows."""

from dataclasses import replace

import numpy as np
import pytest

from layout3d.draw import screen
from layout3d.draw.camera import Camera
from layout3d.draw.pieces import surface_of
from layout3d.draw.stage import set_stage

SIZE = (160, 120)


def plate(rough: float):
    """A grey square of 4 m that looks at the viewer."""
    points = np.array([[-2.0, 0.0, -2.0], [2.0, 0.0, -2.0], [2.0, 0.0, 2.0], [-2.0, 0.0, 2.0]])
    faces = np.array([[0, 1, 2], [0, 2, 3]], dtype=np.int32)
    grey = np.array([0.5, 0.5, 0.5, 1.0])
    return surface_of("stone", points, [0.0, -1.0, 0.0], faces, grey, rough=rough, grain=0.014)


@pytest.fixture(scope="module")
def shot(model):
    whole = set_stage(model)
    with screen.opened(SIZE) as page, screen.quiet():

        def take(rough: float, away: float):
            page.show(replace(whole, pieces=(plate(rough),), lines=()), scale=1.0)
            at = Camera(position=(0, -away, 0), focal=(0, 0, 0), up=(0, 0, 1), parallel=False, size=SIZE)
            return page.pixels(at), page

        yield take


def test_grain_is_seen_from_near_and_not_from_afar(shot):
    near, _ = shot(0.3, 0.5)
    afar, _ = shot(0.3, 9.0)
    plain, _ = shot(0.0, 0.5)
    assert near.astype(float).std(axis=(0, 1)).mean() > 4.0
    assert afar[50:70, 70:90].astype(float).std(axis=(0, 1)).max() < 0.5
    assert plain[50:70, 70:90].astype(float).std(axis=(0, 1)).max() < 0.5
    # it lightens as much as it darkens
    assert near.mean() == pytest.approx(plain.mean(), abs=6.0)


def test_grain_is_bumps_lit_from_the_upper_left(shot):
    """Light falls from above: what is bright is dark on the side that looks away, less so to the sides."""
    near = shot(0.3, 0.5)[0].astype(float).mean(axis=2)
    flat = near - near.mean()
    along, across = (
        (flat[8:-8, 8:-8] * flat[8 + row : -8 + row or None, 8 + column : -8 + column or None]).mean()
        for row, column in ((-4, -2), (-2, 4))  # towards the light on the page, and square to it
    )
    assert along < across - 0.1 * flat.var()


def test_grain_is_not_in_the_maps_of_parts_and_comes_back(shot):
    before, page = shot(0.3, 0.5)
    ((numbers, _),) = page.part_maps({"stone": 77}, [{"stone"}])
    assert (numbers == 77).all()
    assert np.array_equal(shot(0.3, 0.5)[0], before)
