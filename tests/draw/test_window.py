from __future__ import annotations

import math
import os
import subprocess
import sys

import numpy as np
import pytest

from layout3d.draw.camera import Camera
from layout3d.draw.window import Window, near, nearest_point, open_window
from layout3d.errors import LayoutError

SIZE = (640, 480)


@pytest.fixture
def window(model, findings):
    made = Window(model, findings, size=SIZE, off_screen=True)
    yield made
    made.close()


def seen(window):
    return window.image().astype(int)


def changed(one, two):
    """Count the pixels that differ where the scene is, right of the boxes and above the message."""
    return int((np.abs(one - two)[100:400, 180:].max(axis=2) > 12).sum())


def test_hiding_a_group_takes_it_off_the_screen_and_showing_brings_it_back(window):
    window.press("h")
    before = seen(window)
    window.show_group("rock", False)
    without = seen(window)
    assert window.state.hidden == {"rock"}
    assert changed(before, without) > 200
    window.show_group("rock", False)
    window.press("a")
    assert changed(before, seen(window)) < 20


def test_boxes_follow_the_keys(window):
    window.press("4")
    assert window._boxes["rock"].GetRepresentation().GetState() == 0
    assert window._boxes["wood"].GetRepresentation().GetState() == 1
    window.press("4")
    assert window._boxes["rock"].GetRepresentation().GetState() == 1


def test_a_cut_opens_the_scene_and_closes_again(window):
    window.press("h")
    before = seen(window)
    window.press("y")
    middle = seen(window)
    assert changed(before, middle) > 500
    window.drag_cut(0.3)
    assert window.state.cut == ("y", 0.3)
    assert changed(middle, seen(window)) > 200
    window.press("v")
    assert window.state.towards == 1.0
    window.press("y")
    assert window.state.cut is None
    assert changed(before, seen(window)) < 20


def test_stepping_goes_to_the_finding(window, findings):
    far = window.camera()
    window.press("n")
    near = window.camera()
    assert near.focal == pytest.approx(findings[0].at)
    assert math.dist(near.position, near.focal) < math.dist(far.position, far.focal)
    # it looks the way it looked before
    assert near.axes()[2] == pytest.approx(far.axes()[2], abs=1e-6)
    window.press("n")
    assert window.state.current == 1
    window.press("c")
    assert math.dist(window.camera().position, far.position) < 1e-6


def test_a_click_on_a_number_tells_its_finding(window, findings):
    x, y = window.camera().project(np.array([findings[2].at]))[0]
    window.click(5.0, 5.0)
    assert window.state.current is None
    window.click(float(x) + 6.0, float(y) - 6.0)
    assert window.state.current == 2


def test_keys_reach_it_through_the_screen_and_the_librarys_own_do_nothing(window):
    interactor = window.plotter.iren.interactor
    for key in ("n", "4"):
        interactor.SetKeySym(key)
        interactor.InvokeEvent("KeyPressEvent")
    assert window.state.current == 0
    assert window.state.hidden == {"rock"}
    before = seen(window)
    interactor.SetKeyCode("w")
    interactor.InvokeEvent("CharEvent")
    assert changed(before, seen(window)) == 0


def test_views_turn_the_camera(window):
    window.press("f")
    assert window.camera().parallel
    assert window.camera().axes()[2] == pytest.approx((0, -1, 0), abs=1e-9)
    window.press("t")
    assert window.camera().axes()[2] == pytest.approx((0, 0, 1), abs=1e-9)
    window.press("c")
    assert not window.camera().parallel


def test_it_can_be_opened_without_findings(model):
    window = Window(model, (), size=SIZE, off_screen=True)
    window.press("n")
    assert window.state.message() == ("no findings",)
    window.press("q")
    assert window.state.closed


def test_without_a_display_it_is_refused_with_a_remedy(model, monkeypatch):
    monkeypatch.delenv("DISPLAY", raising=False)
    monkeypatch.delenv("WAYLAND_DISPLAY", raising=False)
    monkeypatch.setattr("sys.platform", "linux")
    with pytest.raises(LayoutError, match="no display") as caught:
        open_window(model)
    assert "layout3d picture" in caught.value.remedy


@pytest.mark.skipif(sys.platform != "linux", reason="asks an X server")
def test_a_display_that_can_not_be_reached_is_refused(tmp_path):
    """A process of its own: what the drawing library does without a screen may end it."""
    (tmp_path / "a.yaml").write_text(
        "format: 1\nunits: mm\nwaterline: 50\n"
        "parts: {tank: {kind: tank, inside: [300, 200, 200], glass: 6}}\n"
    )
    for display in (":77", "nowhere.invalid:0", "nonsense", ""):
        done = subprocess.run(
            [sys.executable, "-m", "layout3d", "view", "a.yaml"],
            cwd=tmp_path,
            env={**os.environ, "DISPLAY": display, "WAYLAND_DISPLAY": "wayland-0"},
            capture_output=True,
            text=True,
            timeout=120,
        )
        assert (done.returncode, done.stdout) == (2, "")
        assert "display" in done.stderr.splitlines()[0]


CAMERA = Camera(position=(0, -3, 0), focal=(0, 0, 0), up=(0, 0, 1), parallel=False, size=(400, 300))


def test_it_goes_near_a_point_and_looks_the_way_it_looked():
    there = near(CAMERA, (1.0, 0.5, 0.2), 0.8)
    assert there.focal == pytest.approx((1.0, 0.5, 0.2))
    assert math.dist(there.position, there.focal) == pytest.approx(0.8)
    assert there.axes() == pytest.approx(CAMERA.axes())
    # what a parallel view shows then is what the lens shows at that distance
    assert there.half_height == pytest.approx(0.8 * math.tan(CAMERA.angle / 2.0))


def test_the_nearest_point_is_found_within_reach_and_in_front_only():
    points = [(0.0, 0.0, 0.0), None, (0.3, 0.0, 0.0), (0.0, -5.0, 0.0)]
    assert nearest_point(CAMERA, points, (203.0, 151.0), reach=20.0) == 0
    assert nearest_point(CAMERA, points, (300.0, 20.0), reach=20.0) is None
    x, y = CAMERA.project(np.array([points[2]]))[0]
    assert nearest_point(CAMERA, points, (x, y), reach=20.0) == 2
