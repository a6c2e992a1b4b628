from __future__ import annotations

import math
import os
import subprocess
import sys

import numpy as np
import pytest

from layout3d.draw.window import KEYS, VIEW_KEYS, Window, open_window
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
    """Count the pixels that differ where the scene is, right of the help and above the message."""
    return int((np.abs(one - two)[100:400, 180:].max(axis=2) > 12).sum())


def test_groups_are_those_of_the_scene_in_the_house_order(window):
    assert window.groups == ("glass", "plumbing", "wood", "rock", "substrate", "equipment", "water")


def test_a_digit_takes_its_group_off_the_screen_and_brings_it_back(window):
    window.press("h")
    before = seen(window)
    window.press("4")
    assert window.hidden == {"rock"}
    assert changed(before, seen(window)) > 200
    window.press("4")
    assert changed(before, seen(window)) < 20
    window.press("1")
    window.press("2")
    window.press("a")
    assert not window.hidden
    assert changed(before, seen(window)) < 20


def test_the_help_lists_every_key_that_means_something_and_goes_away(window):
    words = " ".join(line[:10] for line in KEYS.splitlines()).split()
    assert {"a", "n", "p", "x", "y", "z", "Up", "Down", "v", "h", "q", *VIEW_KEYS} == set(words)
    with_help = seen(window)
    window.press("h")
    assert (np.abs(with_help - seen(window))[:200, :180].max(axis=2) > 12).any()


def test_a_cut_opens_the_scene_moves_in_steps_and_closes_again(window):
    window.press("h")
    before = seen(window)
    low, high = window.stage.bounds[:, 1]
    window.press("y")
    assert window.cut == ("y", pytest.approx((low + high) / 2), -1.0)
    middle = seen(window)
    assert changed(before, middle) > 500
    for _ in range(10):
        window.press("Up")
    assert window.cut[1] == pytest.approx((low + high) / 2 + (high - low) / 5)
    assert changed(middle, seen(window)) > 200
    window.press("v")
    assert window.cut[2] == 1.0
    for _ in range(60):
        window.press("Down")
    assert window.cut[1] == low
    window.press("z")
    assert window.cut[0] == "z"
    window.press("z")
    assert window.cut is None
    assert changed(before, seen(window)) < 20


def test_findings_go_round_both_ways_and_are_told_with_number_and_remedy(window):
    assert window.message() == ("3 findings: press n",)
    told = []
    for key in "nnnnpp":
        window.press(key)
        told.append(window.current)
    assert told == [0, 1, 2, 0, 2, 1]
    window.press("p")
    assert window.message() == (
        "1 of 3  fault  overlap",
        "stone_1 and stone_2 do not go together by 3.14 mm",
        "move one of them",
    )


def test_stepping_goes_to_the_finding(window, findings):
    far = window.camera()
    window.press("p")
    window.press("n")
    near = window.camera()
    assert near.focal == pytest.approx(findings[0].at)
    assert math.dist(near.position, near.focal) < math.dist(far.position, far.focal)
    # it looks the way it looked before, and what a parallel view shows then is what the lens shows there
    assert near.axes()[2] == pytest.approx(far.axes()[2], abs=1e-6)
    away = math.dist(near.position, near.focal)
    assert near.half_height == pytest.approx(away * math.tan(near.angle / 2.0))
    window.press("c")
    assert math.dist(window.camera().position, far.position) < 1e-6


def test_keys_reach_it_through_the_screen_and_the_librarys_own_do_nothing(window):
    interactor = window.plotter.iren.interactor
    for key in ("n", "4"):
        interactor.SetKeySym(key)
        interactor.InvokeEvent("KeyPressEvent")
    assert window.current == 0
    assert window.hidden == {"rock"}
    before = seen(window)
    interactor.SetKeyCode("w")
    interactor.InvokeEvent("CharEvent")
    assert changed(before, seen(window)) == 0


def test_keys_that_mean_nothing_change_nothing(window):
    before = seen(window)
    for key in ("w", "s", "e", "j", "3D", "9", "Up", "v", "Return", ""):
        window.press(key)
    assert changed(before, seen(window)) == 0
    assert (window.hidden, window.current, window.cut) == (set(), None, None)


def test_views_turn_the_camera(window):
    window.press("f")
    assert window.camera().parallel
    assert window.camera().axes()[2] == pytest.approx((0, -1, 0), abs=1e-9)
    window.press("t")
    assert window.camera().axes()[2] == pytest.approx((0, 0, 1), abs=1e-9)
    window.press("c")
    assert not window.camera().parallel


def test_none_found_is_another_thing_than_not_checked(model):
    for findings, told in (((), "no findings"), (None, "not checked")):
        window = Window(model, findings, size=SIZE, off_screen=True)
        window.press("n")
        assert window.message() == (told,)
        window.press("q")
        assert window.plotter._closed


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
