from __future__ import annotations

import numpy as np
import pytest

from layout3d.draw.light import (
    CONTACT,
    CONTACT_SHADE,
    contact_shade,
    daylight,
    lamplight,
    surface_points,
    thinned,
)
from layout3d.solid.primitives import box

UP = np.array([[0.0, 0.0, 1.0]], dtype=np.float32)
NONE = np.zeros((0, 3), dtype=np.float32)


def roof(at: float, half: float) -> np.ndarray:
    x = np.linspace(-half, half, 201, dtype=np.float32)
    grid = np.stack(np.meshgrid(x, x), axis=-1).reshape(-1, 2)
    return np.column_stack([grid, np.full(len(grid), at, dtype=np.float32)])


def test_under_the_open_sky_an_upward_face_gets_more_light_than_one_turned_down():
    points = np.zeros((2, 3), dtype=np.float32)
    light = daylight(points, np.concatenate([UP, -UP]), NONE, cell=0.01)
    assert 0.8 < light[0] < 1.4
    assert light[1] < 0.3


def test_a_wide_roof_takes_nearly_all_light_and_a_small_one_some():
    point = np.zeros((1, 3), dtype=np.float32)
    free = daylight(point, UP, NONE, cell=0.02)[0]
    small = daylight(point, UP, roof(0.5, 0.2), cell=0.02)[0]
    wide = daylight(point, UP, roof(0.2, 2.0), cell=0.02)[0]
    assert wide < 0.35 * free
    assert wide < small < free


def test_a_plain_plate_does_not_shade_itself():
    plate = roof(0.0, 0.5)
    inner = plate[np.abs(plate[:, :2]).max(axis=1) < 0.4]
    normals = np.repeat(UP, len(inner), axis=0)
    shaded = daylight(inner, normals, plate, cell=0.01)
    assert shaded == pytest.approx(daylight(inner, normals, NONE, cell=0.01), rel=0.02)


def test_surface_points_lie_on_the_surface_and_are_spread_by_area():
    shape = box((1.0, 0.5, 0.25))
    points = surface_points(shape.vertices.astype(np.float32), shape.faces, 0.02)
    assert len(points) == pytest.approx(shape.area / 0.02**2, rel=0.01)
    off = np.minimum(np.abs(points), np.abs(points - np.array([1.0, 0.5, 0.25])))
    assert off.min(axis=1).max() < 1e-6
    top = np.abs(points[:, 2] - 0.25) < 1e-6
    assert top.mean() == pytest.approx(0.5 / shape.area, abs=0.01)
    assert surface_points(points, np.zeros((0, 3), dtype=np.int32), 0.1).shape == (0, 3)


def test_thinning_leaves_one_point_a_cube():
    points = np.random.default_rng(3).random((5000, 3)).astype(np.float32)
    kept = thinned(points, 0.2)
    cubes = {tuple(c) for c in ((points - points.min(axis=0)) / np.float32(0.2)).astype(int)}
    assert len(kept) == len(cubes)
    assert len(thinned(NONE, 0.2)) == 0


def test_lamplight_falls_off_with_the_square_and_stops_at_what_is_in_its_way():
    """By hand: half a metre below a point that shines down it is 1/3 (of three a lamp), a metre 1/12."""
    lamp = np.array([[0.0, 0.0, 1.0]], dtype=np.float32)
    points = np.array([[0.0, 0.0, 0.5], [0.0, 0.0, 0.0], [0.0, 0.0, 1.5]], dtype=np.float32)
    up = np.tile(np.array([0.0, 0.0, 1.0], dtype=np.float32), (3, 1))
    none = np.zeros((0, 3), dtype=np.float32)
    assert lamplight(points, up, none, lamp, cell=0.01) == pytest.approx([1 / 3, 1 / 12, 0.0])
    assert lamplight(points, -up, none, lamp, cell=0.01) == pytest.approx([0.0, 0.0, 0.0])
    plate = np.stack(np.meshgrid(np.arange(-0.2, 0.2, 0.005), np.arange(-0.2, 0.2, 0.005), [0.25]), axis=-1)
    shaded = lamplight(points, up, plate.reshape(-1, 3).astype(np.float32), lamp, cell=0.01)
    assert shaded == pytest.approx([1 / 3, 0.25 / 12, 0.0])
    assert not lamplight(points, up, none, none, cell=0.01).any()


def test_shade_of_contact_is_deepest_where_things_touch_and_ends_where_it_is_said_to():
    """A plate of points and a row over its middle: by their heights alone; far ones are left as they are."""
    grid = np.linspace(-0.1, 0.1, 81)
    plate = np.array([(x, y, 0.0) for x in grid for y in grid], dtype=np.float32)
    row = np.array([(0.0, 0.0, h) for h in (0.0, CONTACT / 2.0, 0.99 * CONTACT, 2.0 * CONTACT)], np.float32)
    down = np.repeat(-UP, len(row), axis=0)
    shade = contact_shade(row, down, plate)
    assert shade == pytest.approx([1.0 - CONTACT_SHADE, 1.0 - CONTACT_SHADE / 4.0, 1.0, 1.0], abs=1e-3)
    assert contact_shade(row, down, plate[:0]) == pytest.approx(1.0)
    assert len(contact_shade(row[:0], down[:0], plate)) == 0
    # the other side of a thin wall that the plate lies before; beside it, as sand round a stone, it counts
    assert contact_shade(row[1:], -down[1:], plate) == pytest.approx(1.0)
    across = np.tile(np.array([[1.0, 0.0, 0.0]], np.float32), (len(row), 1))
    assert contact_shade(row, across, plate)[1] == pytest.approx(shade[1], abs=0.01)
