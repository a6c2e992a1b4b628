from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from layout3d.draw.camera import VIEWS, Camera, camera_at, camera_for
from layout3d.model.spot import CameraSpot

BOX = np.array([[x, y, z] for x in (0.0, 1.5) for y in (0.0, 0.6) for z in (-0.7, 0.6)])
FRAME = (200.0, 120.0, 1400.0, 1000.0)


@pytest.mark.parametrize("view", VIEWS)
def test_all_points_fall_inside_the_frame_and_touch_it(view):
    camera = camera_for(view, BOX, size=(1600, 1200), frame=FRAME)
    seen = camera.project(BOX)
    low, high = seen.min(axis=0), seen.max(axis=0)
    assert (low >= np.array(FRAME[:2]) - 1.0).all()
    assert (high <= np.array(FRAME[2:]) + 1.0).all()
    filled = (high - low) / np.array([FRAME[2] - FRAME[0], FRAME[3] - FRAME[1]])
    assert filled.max() == pytest.approx(1.0, abs=0.01)


@pytest.mark.parametrize(
    ("view", "right", "up"),
    [
        ("front", (1, 0, 0), (0, 0, 1)),
        ("back", (-1, 0, 0), (0, 0, 1)),
        ("left", (0, -1, 0), (0, 0, 1)),
        ("right", (0, 1, 0), (0, 0, 1)),
        ("plan", (1, 0, 0), (0, 1, 0)),
    ],
)
def test_flat_views_lie_as_on_a_drawing(view, right, up):
    """First-angle sense does not matter here: seen from the left, the back glass is on the left."""
    axes = camera_for(view, BOX, size=(800, 600), frame=(50, 50, 750, 550)).axes()
    assert axes[0] == pytest.approx(right, abs=1e-12)
    assert axes[1] == pytest.approx(up, abs=1e-12)


def test_a_parallel_view_has_one_scale_everywhere():
    camera = camera_for("front", BOX, size=(1600, 1200), frame=FRAME)
    near, far = np.array([[0.0, 0.0, 0.0], [1.0, 0.0, 0.0]]), np.array([[0.0, 0.6, 0.0], [1.0, 0.6, 0.0]])
    assert np.diff(camera.project(near)[:, 0]) == pytest.approx(np.diff(camera.project(far)[:, 0]))
    assert camera.pixels_per_metre(near) == pytest.approx(np.diff(camera.project(near)[:, 0])[0])


@given(x=st.floats(-0.4, 0.4), z=st.floats(-0.4, 0.4), depth=st.floats(0.5, 5.0))
def test_perspective_is_similar_triangles(x, z, depth):
    """A pinhole: a point at depth d and height z falls at half the picture times z / (d tan(angle / 2))."""
    camera = Camera(
        position=(0.0, 0.0, 0.0), focal=(0.0, 1.0, 0.0), up=(0.0, 0.0, 1.0), parallel=False, size=(400, 300)
    )
    pixel = camera.project(np.array([[x, depth, z]]))[0]
    scale = 150.0 / (depth * math.tan(camera.angle / 2.0))
    assert pixel == pytest.approx((200.0 + x * scale, 150.0 - z * scale), abs=1e-6)


@pytest.mark.parametrize("size", [(1920, 1080), (1080, 1920), (500, 500)])
def test_a_lens_spans_its_angle_over_the_shorter_side_of_the_picture(size):
    """Half the angle off the axis is half the shorter side off the middle, whichever way the page is held."""
    spot = CameraSpot(at=(0.4, -2.0, 0.3), target=(0.4, 1.0, 0.3), angle=math.radians(30.0))
    camera = camera_at(spot, size=size)
    off = 3.0 * math.tan(math.radians(15.0))
    seen = camera.project([(0.4, 1.0, 0.3), (0.4 + off, 1.0, 0.3), (0.4, 1.0, 0.3 + off)])
    middle, half = np.array(size) / 2.0, min(size) / 2.0
    assert seen == pytest.approx(middle + np.array([[0.0, 0.0], [half, 0.0], [0.0, -half]]))


def test_a_camera_straight_above_has_the_back_of_the_tank_up():
    spot = CameraSpot(at=(0.4, 0.2, 2.0), target=(0.4, 0.2, 0.0), angle=math.radians(30.0))
    assert camera_at(spot, size=(400, 300)).axes() == pytest.approx(np.eye(3))


@pytest.mark.parametrize("view", ["three_quarter", "front", "plan"])
def test_projection_agrees_with_the_drawing_library(view):
    """VTK's own transform of world to display is the second way to the same pixels."""
    from layout3d.draw import screen

    size = (640, 480)
    camera = camera_for(view, BOX, size=size, frame=(60, 60, 580, 420))
    with screen.quiet(), screen.opened(size) as page:
        page.pixels(camera)
        for point, ours in zip(BOX, camera.project(BOX), strict=True):
            page.renderer.SetWorldPoint(*point, 1.0)
            page.renderer.WorldToDisplay()
            x, y, _ = page.renderer.GetDisplayPoint()
            own = (x / screen.SAMPLES, size[1] - y / screen.SAMPLES)
            assert own == pytest.approx(tuple(ours), abs=0.6)
