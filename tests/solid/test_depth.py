import math

import numpy as np
import pytest
from closed_solids import ball, revolve, torus_sector
from hypothesis import given
from hypothesis import strategies as st

from layout3d.solid.boolean import difference, union
from layout3d.solid.depth import _widths, depth, mean_thickness, without_skins
from layout3d.solid.placement import along
from layout3d.solid.primitives import box, cylinder, tube
from layout3d.solid.shape import Placement, Shape

LIMITS = {"thickness": 2e-5, "width": 1.2e-4, "volume": 1e-12}
turn = Placement.turned((1, 2, 3), 0.7)


@pytest.mark.parametrize(
    ("shape", "expected"),
    [
        (box((0.1, 0.05, 0.02)), 0.02),
        (cylinder(0.03, 0.01), 0.01),
        (cylinder(0.01, 0.2), 0.02),
        (ball(0.04), 0.08),
        (revolve([(0, 0), (0.05, 0), (0, 0.01)]), 0.01),
    ],
)
def test_depth_of_convex_parts_is_their_least_width(shape, expected):
    """Closed forms: the thickness of a plate, the diameter of a bar and a ball, the height of a flat cone."""
    found, _ = depth(shape.solid(turn))
    assert found == pytest.approx(expected, rel=2e-3)


@pytest.mark.parametrize("at_once", [1, 500, 16_000])
def test_widths_along_many_directions_are_those_along_each(at_once, monkeypatch):
    """To the last digit, however many are measured together."""
    monkeypatch.setattr("layout3d.solid.depth.AT_ONCE", at_once)
    points, ways = ball(0.04).solid(turn).vertices, ball(1.0).vertices[:30]
    assert _widths(ways, points).tolist() == [np.ptp(along(points, way)) for way in ways]


@pytest.mark.parametrize("wall", [0.0001, 0.001])
def test_depth_of_thin_rings_is_their_wall(wall):
    """The largest ball that fits between two walls has the wall for its diameter."""
    for shape in (
        tube(0.02, 0.02 - wall, 0.03),
        difference(ball(0.02).solid(), [ball(0.02 - wall).solid()]).shape,
    ):
        found, middle = depth(shape.solid(turn))
        assert found == pytest.approx(wall, abs=2e-5)
        assert np.linalg.norm(turn.inverse().apply(middle)[:2]) <= 0.02


def test_a_lump_on_a_skin_is_found():
    skin = tube(0.02, 0.0199, 0.03).solid()
    lump = ball(0.002).solid(Placement.at((0.0, 0.0199, 0.015)))
    found, middle = depth(union([skin, lump]))
    assert found == pytest.approx(0.004, rel=0.1)
    assert middle == pytest.approx([0.0, 0.0199, 0.015], abs=1e-3)


@given(
    st.sampled_from(
        [box((0.1, 0.05, 0.02)), ball(0.01), cylinder(0.01, 0.002), revolve([(0, 0), (1, 0), (0, 0.1)])]
    )
)
def test_no_convex_solid_is_wider_than_its_mean_thickness_allows(shape):
    """Steinhagen's theorem, as used in ``depth``: width <= 3 sqrt(3) * 2 V / A."""
    assert depth(shape.solid())[0] <= 3 * math.sqrt(3) * mean_thickness(shape.solid()) * (1 + 1e-9)


def together(*shapes):
    shifts = np.cumsum([0, *(len(shape.vertices) for shape in shapes[:-1])])
    faces = [shape.faces + shift for shape, shift in zip(shapes, shifts, strict=True)]
    return Shape.of(np.concatenate([shape.vertices for shape in shapes]), np.concatenate(faces))


def test_skins_and_crumbs_go_and_the_rest_stays_as_it_was():
    film, crumb = box((0.1, 0.1, 1e-5)), box((9e-5, 1e-4, 1e-4))
    block = Shape.of(box((0.01, 0.01, 0.01)).vertices + 0.5, box((1, 1, 1)).faces)
    assert without_skins(together(film, crumb, block), **LIMITS) == block
    assert without_skins(film, **LIMITS) is None
    assert without_skins(block, **LIMITS) is block


def test_a_curved_film_is_left_to_be_looked_at_closely():
    """It does not fit between two planes, so it may hide a lump."""
    film = tube(0.02, 0.02 - 1e-5, 0.03)
    assert without_skins(film, **LIMITS) is film


def test_a_part_with_a_cavity_is_left_alone():
    hollow = difference(ball(0.02).solid(), [ball(0.01).solid()]).shape
    assert without_skins(hollow, **LIMITS) is hollow


def test_a_ring_lying_askew_is_told_by_its_thickness():
    """A torus is no convex part; the ball that fits is as wide as its bar."""
    thin = torus_sector(0.1, 0.004, 2 * math.pi).solid(turn)
    assert depth(thin)[0] == pytest.approx(0.008, rel=5e-3)
