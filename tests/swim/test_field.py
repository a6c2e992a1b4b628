"""The largest ball between known obstacles: closed forms, within the error that the field states."""

import math

import manifold3d
import numpy as np
import pytest

from layout3d.solid.boolean import difference
from layout3d.solid.primitives import box
from layout3d.solid.shape import Placement, Shape
from layout3d.swim.field import clearance


def tube(radius, wall=0.06):
    """Two rooms 0.16 m wide, joined by a round hole through a wall."""
    rooms = manifold3d.Manifold.cube((0.32 + wall, 0.16, 0.16))
    middle = manifold3d.Manifold.cube((wall, 0.16, 0.16)).translate((0.16, 0, 0))
    hole = manifold3d.Manifold.cylinder(wall + 0.02, radius, circular_segments=128)
    hole = hole.rotate((0, 90, 0)).translate((0.15, 0.08, 0.08))
    return Shape.from_manifold((rooms - middle) + hole).solid()


def through(space, cell):
    field = clearance(space, cell)
    x = field.low[0] + field.cell * np.arange(field.distance.shape[0])
    low, high = space.bounds[:, 0]
    start, end = (
        np.broadcast_to(side[:, None, None], field.distance.shape)
        for side in (x < low + 0.15, x > high - 0.15)
    )
    return field, field.widest(start, end)


@pytest.mark.parametrize(("radius", "cell"), [(0.05, 0.004), (0.03, 0.004), (0.05, 0.0031)])
def test_through_a_round_hole_goes_a_ball_as_wide_as_the_hole(radius, cell):
    """At any thickness of the wall: the hole's own radius."""
    field, found = through(tube(radius), cell)
    below, above = field.error
    assert found <= 2 * radius
    assert found + 2 * (below + above) >= 2 * radius


def test_through_a_slot_goes_a_ball_as_wide_as_its_narrow_side():
    rooms = manifold3d.Manifold.cube((0.4, 0.2, 0.2)) - manifold3d.Manifold.cube((0.04, 0.2, 0.2)).translate(
        (0.18, 0, 0)
    )
    slot = manifold3d.Manifold.cube((0.08, 0.08, 0.06)).translate((0.16, 0.06, 0.07))
    field, found = through(Shape.from_manifold(rooms + slot).solid(), 0.004)
    assert found <= 0.06 <= found + 2 * sum(field.error)


def test_between_four_balls_in_a_square_goes_one_of_their_throat():
    """Between four touching balls of radius R passes one of (sqrt 2 - 1) R."""
    radius = 0.12
    balls = [
        manifold3d.Manifold.sphere(radius, 96).translate((0.0, y, z))
        for y in (-radius, radius)
        for z in (-radius, radius)
    ]
    # cut to the square between their middles: there is no other way through
    space = manifold3d.Manifold.cube((0.6, 2 * radius, 2 * radius), True)
    left = difference(
        Shape.from_manifold(space).solid(), [Shape.from_manifold(each).solid() for each in balls]
    )
    field, found = through(left, 0.004)
    throat = 2 * (math.sqrt(2) - 1) * radius
    assert found <= throat * 1.002  # the balls are polyhedra inside of them
    assert found + 2 * sum(field.error) >= throat


def test_in_a_box_the_clearance_is_the_distance_to_its_nearest_side():
    space = box((0.3, 0.2, 0.1)).solid(Placement.at((1.0, 2.0, 0.05)))
    field = clearance(space, 0.005)
    places = field.low + field.cell * np.argwhere(field.distance > 0)
    exact = np.minimum(places - space.bounds[0], space.bounds[1] - places).min(axis=1)
    found = field.distance[field.distance > 0]
    below, _ = field.error
    assert (found - exact <= below - field.cell / 2 + 1e-9).all()
    assert (exact - found <= field.cell * math.sqrt(3) / 2 + 1e-9).all()


def test_a_turned_solid_is_seen_as_it_is():
    """Volume inside by counted cells is that of the solid, wherever it stands."""
    space = box((0.3, 0.2, 0.1)).solid(Placement.turned((1, 2, 3), 0.7))
    field = clearance(space, 0.004)
    open_cells = (field.distance > 0).sum() * field.cell**3
    skin = space.area * field.cell
    assert space.volume - 1.5 * skin < open_cells < space.volume


def test_a_thin_sheet_parts_two_waters():
    """A sheet of 0.2 mm, far thinner than a cell, is not passed through."""
    sheet = box((0.0002, 0.2, 0.2)).solid(Placement.at((0.2013, 0.0, 0.0)))
    _, found = through(difference(box((0.4, 0.2, 0.2)).solid(), [sheet]), 0.006)
    assert found == 0.0


def test_a_ball_fills_what_it_can_reach():
    """All but the edges, (1 - pi / 4) r² a metre, and the corners, (1 - pi / 6) r³ each."""
    a, b, c, r = 0.3, 0.2, 0.1, 0.03
    field = clearance(box((a, b, c)).solid(), 0.0025)
    inner = 4 * ((a - 2 * r) + (b - 2 * r) + (c - 2 * r))
    exact = a * b * c - (1 - math.pi / 4) * r**2 * inner - (8 - 4 * math.pi / 3) * r**3
    found = field.filled(field.fits(r), r)
    surface = 2 * (a * b + b * c + c * a)
    assert exact - surface * sum(field.error) < found < exact


def test_what_bodies_take_is_what_a_water_cut_around_them_lacks():
    """Two ways to one field: the water with bodies cut out of it, and the tank with the bodies beside it."""
    tank = box((0.3, 0.2, 0.1)).solid()
    bodies = [
        box((0.05, 0.05, 0.05)).solid(Placement.at((x, 0.08, 0.03)) @ Placement.turned((1, 2, 3), x))
        for x in (0.05, 0.09, 0.27)
    ]
    cut, beside = clearance(difference(tank, bodies), 0.004), clearance(tank, 0.004, bodies)
    assert (cut.squared == beside.squared).all()
    assert cut.low == pytest.approx(beside.low)


def test_the_distance_is_that_to_the_nearest_closed_cell():
    """Against the library's own distance transform."""
    from scipy.ndimage import distance_transform_edt

    field = clearance(tube(0.05), 0.006)
    assert field.distance == pytest.approx(distance_transform_edt(field.squared > 0, sampling=field.cell))


def test_pockets_get_home_by_gaps_as_wide_as_told():
    """A row of rooms, each behind a slot of its own width."""
    rooms = box((0.5, 0.1, 0.1)).solid()
    slots = (0.05, 0.03, 0.015)
    walls = [
        wall
        for x, slot in zip((0.1, 0.2, 0.3), slots, strict=True)
        for wall in (
            box((0.03, (0.1 - slot) / 2, 0.1)).solid(Placement.at((x, 0.0, 0.0))),
            box((0.03, (0.1 - slot) / 2, 0.1)).solid(Placement.at((x, (0.1 + slot) / 2, 0.0))),
        )
    ]
    field = clearance(rooms, 0.0025, walls)
    cells = [
        tuple(int(v) for v in np.rint((np.array((x, 0.05, 0.05)) - field.low) / field.cell))
        for x in (0.05, 0.165, 0.265, 0.41)
    ]
    found = field.gaps(cells[3], cells[:3], 0.04)
    for gap, slot in zip(found, (0.015, 0.015, 0.015), strict=True):
        assert gap <= slot <= gap + 2 * sum(field.error)
    found = field.gaps(cells[0], cells[1:], 0.04)
    for gap, slot in zip(found, slots, strict=True):
        assert gap <= slot <= gap + 2 * sum(field.error)
