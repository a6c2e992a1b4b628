from __future__ import annotations

import numpy as np
import pytest

from layout3d.draw import light
from layout3d.draw.light import CONTACT, CONTACT_SHADE, contact_shade, daylight, lamplight

UP = np.array([[0.0, 0.0, 1.0]], dtype=np.float32)


def roof(at: float, half: float) -> tuple[np.ndarray, np.ndarray]:
    """A level square as a mesh."""
    corners = [(-half, -half, at), (half, -half, at), (half, half, at), (-half, half, at)]
    return np.array(corners, dtype=np.float32), np.array([(0, 1, 2), (0, 2, 3)], dtype=np.int32)


def test_under_the_open_sky_an_upward_face_gets_more_light_than_one_turned_down():
    points = np.zeros((2, 3), dtype=np.float32)
    (given,) = daylight([(points, np.concatenate([UP, -UP]))], [], cell=0.01)
    assert 0.8 < given[0] < 1.4
    assert given[1] < 0.3


def test_a_wide_roof_takes_nearly_all_light_and_a_small_one_some():
    point = np.zeros((1, 3), dtype=np.float32)
    free = daylight([(point, UP)], [], cell=0.02)[0][0]
    small = daylight([(point, UP)], [roof(0.5, 0.2)], cell=0.02)[0][0]
    wide = daylight([(point, UP)], [roof(0.2, 2.0)], cell=0.02)[0][0]
    assert wide < 0.35 * free
    assert wide < small < free


def test_a_plain_plate_does_not_shade_itself():
    x = np.linspace(-0.4, 0.4, 161, dtype=np.float32)
    inner = np.stack(np.meshgrid(x, x, np.float32(0.0)), axis=-1).reshape(-1, 3)
    lit = [(inner, np.repeat(UP, len(inner), axis=0))]
    (shaded,), (free,) = (daylight(lit, thrown, cell=0.01) for thrown in ([roof(0.0, 0.5)], []))
    assert shaded == pytest.approx(free, rel=0.02)


def test_lamplight_falls_off_with_the_square_and_stops_at_what_is_in_its_way():
    """By hand: half a metre below a point that shines down it is 1/3 (of three a lamp), a metre 1/12."""
    lamp = np.array([[0.0, 0.0, 1.0]], dtype=np.float32)
    points = np.array([[0.0, 0.0, 0.5], [0.0, 0.0, 0.0], [0.0, 0.0, 1.5]], dtype=np.float32)
    up = np.tile(np.array([0.0, 0.0, 1.0], dtype=np.float32), (3, 1))
    lit, none = [(points, up)], lamp[:0]
    assert lamplight(lit, [], lamp, cell=0.01)[0] == pytest.approx([1 / 3, 1 / 12, 0.0], abs=1e-6)
    assert lamplight([(points, -up)], [], lamp, cell=0.01)[0] == pytest.approx([0.0, 0.0, 0.0])
    (shaded,) = lamplight(lit, [roof(0.25, 0.2)], lamp, cell=0.01)
    assert shaded == pytest.approx([1 / 3, 0.25 / 12, 0.0], abs=1e-6)
    assert not lamplight(lit, [], none, cell=0.01)[0].any()


def test_shade_of_contact_is_deepest_where_things_touch_and_ends_where_it_is_said_to(monkeypatch):
    """A plate and a row over its middle: by their heights alone; far ones are left as they are."""
    monkeypatch.setattr(light, "CONTACT_PITCH", 0.0005)
    row = np.array([(0.0, 0.0, h) for h in (0.0, CONTACT / 2.0, 0.99 * CONTACT, 2.0 * CONTACT)], np.float32)
    down, plate = np.repeat(-UP, len(row), axis=0), roof(0.0, 0.1)
    shade = contact_shade((row, down), [plate])
    assert shade == pytest.approx([1.0 - CONTACT_SHADE, 1.0 - CONTACT_SHADE / 4.0, 1.0, 1.0], abs=0.015)
    assert contact_shade((row, down), []) == pytest.approx(1.0)
    assert len(contact_shade((row[:0], down[:0]), [plate])) == 0
    # the other side of a thin wall that the plate lies before; beside it, as sand round a stone, it counts
    assert contact_shade((row[1:], -down[1:]), [plate]) == pytest.approx(1.0)
    across = np.tile(np.array([[1.0, 0.0, 0.0]], np.float32), (len(row), 1))
    assert contact_shade((row, across), [plate])[1] == pytest.approx(shade[1], abs=0.02)


def test_shade_of_contact_with_two_things_is_that_of_the_nearer_one():
    row = np.array([(0.0, 0.0, h) for h in np.linspace(0.0, 0.05, 11)], np.float32)
    surface = row, np.repeat(-UP, len(row), axis=0)
    low, high = roof(0.0, 0.1), roof(0.05, 0.1)
    both, one, other = (contact_shade(surface, meshes) for meshes in ([low, high], [low], [high]))
    nearer = np.where(row[:, 2] < 0.025, one, other)
    apart = np.abs(row[:, 2] - 0.025) > 0.004
    assert both[apart] == pytest.approx(nearer[apart], abs=1e-6)
    assert np.array_equal(both[apart], contact_shade(surface, [high, low])[apart])
