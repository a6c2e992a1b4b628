"""Frames as drawn: small ones of a small tank, looked at for what they show."""

from dataclasses import replace

import numpy as np
import pytest

from layout3d.draw.pieces import Lines, WaterBody
from layout3d.film.frame import Frame, Setting
from layout3d.film.shooting import shooting

SIZE = (320, 180)
PARTS = "stone: {kind: rock, at: {left: 600, front: 150, ground: 0}, size: [400, 250, 250], seed: 2}"


@pytest.fixture(scope="module")
def model(scene):
    return scene(PARTS)


@pytest.fixture(scope="module")
def camera(model):
    return Setting(model=model, size=SIZE, count=1).camera()


@pytest.fixture(scope="module")
def shoot(model):
    with shooting(model, size=SIZE) as one:
        yield one


def red_over_green(image):
    return float((image[..., 0].astype(float) - image[..., 1]).max())


def test_what_is_new_is_tinted(shoot, camera):
    plain = shoot.picture(Frame(camera=camera, waters=()))
    marked = shoot.picture(Frame(camera=camera, waters=(), marked=("stone",)))
    assert plain.shape == (180, 320, 3)
    assert red_over_green(marked) > red_over_green(plain) + 30.0


def test_what_is_new_shows_through_what_hides_it(scene, camera):
    """A pebble right behind a stone: its tint is seen where without the mark the stone's own colour is."""
    pebble = "pebble: {kind: rock, at: {left: 720, front: 410, ground: 0}, size: [80, 60, 60], seed: 3}"
    model = scene(f"{PARTS}\n{pebble}")
    x, y = (int(v) for v in camera.project([model.body("pebble").solid.centroid])[0])
    with shooting(model, size=SIZE) as shoot:
        plain, new = (
            shoot.picture(Frame(camera=camera, waters=(), marked=marked)).astype(float)
            for marked in ((), ("pebble",))
        )
        bodies = tuple(body.name for body in model.bodies if body.part != "pebble")
        without = shoot.picture(Frame(camera=camera, waters=(), bodies=bodies)).astype(float)
    assert np.abs(plain[y, x] - without[y, x]).max() < 6.0  # hidden
    assert red_over_green(new[y : y + 1, x : x + 1]) > red_over_green(plain[y : y + 1, x : x + 1]) + 15.0


def test_what_is_not_there_yet_is_not_drawn(shoot, camera, model):
    """Where the stone is, the page shows through the glass: lighter than stone."""
    without = tuple(body.name for body in model.bodies if body.part != "stone")
    whole = shoot.picture(Frame(camera=camera, waters=())).astype(float)
    empty = shoot.picture(Frame(camera=camera, waters=(), bodies=without)).astype(float)
    x, y = (int(v) for v in camera.project([model.body("stone").solid.centroid])[0])
    assert empty[y, x].mean() > whole[y, x].mean() + 40.0


def test_a_moved_part_is_drawn_where_it_was_moved_to(shoot, camera, model):
    up = Frame(camera=camera, waters=(), moved=(("stone", (0.0, 0.0, 0.3)),))
    images = [shoot.picture(frame).astype(float) for frame in (up, Frame(camera=camera, waters=()))]
    centre = np.array(model.body("stone").solid.centroid)
    for image, lift in zip(images, (0.3, 0.0), strict=True):
        x, y = (int(v) for v in camera.project([centre + np.array([0.0, 0.0, lift])])[0])
        assert image[y, x].mean() < 150.0


def test_what_stands_apart_is_lit_as_it_stands_there(scene, camera):
    """Under a lid close over it a stone is dark; drawn apart the lid's shadow is gone, and comes back."""
    lid = "lid: {kind: rock, at: {left: 600, front: 150, bottom: 420}, size: [600, 400, 60], seed: 3}"
    model = scene(f"{PARTS}\n{lid}")
    away = (("lid", (0.0, 0.0, 1.5)),)
    x, y = (
        int(v) for v in camera.project([model.body("stone").solid.centroid + np.array([0, -0.1, 0.1])])[0]
    )
    with shooting(model, size=SIZE) as shoot:
        frames = [
            Frame(camera=camera, waters=(), moved=away if joined < 1.0 else (), apart=away, joined=joined)
            for joined in (0.0, 0.5, 1.0)
        ]
        light = [float(shoot.picture(frame)[y - 4 : y + 5, x - 4 : x + 5].mean()) for frame in frames]
        plain = float(shoot.picture(Frame(camera=camera, waters=()))[y - 4 : y + 5, x - 4 : x + 5].mean())
    assert light[0] > light[1] + 1.0 > light[2] + 2.0
    assert light[2] == pytest.approx(plain, abs=1.0)


def test_water_of_a_frame_s_own_stands_as_high_as_it_says(shoot, camera, model):
    """Looked at under and over a level on the back glass: only what is under it is tinted."""
    water = WaterBody(plan=np.array(model.tank.plan), floor=0.0, level=0.35)
    dry, wet = (shoot.picture(Frame(camera=camera, waters=waters)).astype(float) for waters in ((), (water,)))
    change = np.abs(wet - dry).mean(axis=2)
    for height, tinted in ((0.30, True), (0.50, False)):
        x, y = (int(v) for v in camera.project([(0.9, 0.5, height)])[0])
        assert bool(change[y, x] > 1.0) is tinted


def test_no_line_is_drawn_on_the_water_around_what_is_not_there_yet(shoot, camera, model):
    water = WaterBody(plan=np.array(model.tank.plan), floor=0.0, level=0.1)
    bare = tuple(body.name for body in model.bodies if body.part != "stone")
    for bodies, lines in ((None, 2), (bare, 1)):  # the water's own, and around the stone
        shoot.picture(Frame(camera=camera, waters=(water,), bodies=bodies))
        assert sum(isinstance(item, Lines) for item, _ in shoot._own) == lines


def test_a_frame_is_the_same_whatever_was_drawn_before(model, camera, shoot):
    frame = Frame(camera=camera, cut=("y", 0.2))
    shoot.picture(Frame(camera=camera))
    after = shoot.picture(frame)
    with shooting(model, size=SIZE) as alone:
        assert np.array_equal(alone.picture(frame), after)


def test_without_a_page_the_picture_over_the_page_is_the_picture(model, camera):
    """Corners are clear, stone is solid, glass lets through."""
    frame = Frame(camera=camera, waters=())
    with shooting(model, size=SIZE, clear=True) as clear:
        image = clear.picture(frame)
    x, y = (int(v) for v in camera.project([model.body("stone").solid.centroid])[0])
    assert image.shape == (180, 320, 4)
    assert image[0, 0, 3] == 0
    assert image[y, x, 3] == 255
    glass = image[..., 3][(image[..., 3] > 0) & (image[..., 3] < 255)]
    assert len(glass) > 2000


def test_a_key_tells_what_a_picture_hangs_on(model, camera, shoot):
    frame = Frame(camera=camera)
    assert shoot.key(frame) == shoot.key(replace(frame, caption="another", seconds=2.0))
    others = (
        replace(frame, marked=("stone",)),
        replace(frame, moved=(("stone", (0.0, 0.0, 0.1)),)),
        replace(frame, waters=()),
        replace(frame, bodies=("stone",)),
        replace(frame, camera=replace(camera, angle=0.3)),
    )
    assert len({shoot.key(one) for one in (frame, *others)}) == 6
    with shooting(model, size=SIZE, told=True) as told:
        assert told.key(frame) != told.key(replace(frame, caption="another"))


def test_a_caption_is_written_at_the_foot(model, camera):
    frame = Frame(camera=camera, caption="Fill the bed")
    with shooting(model, size=SIZE, told=True) as told:
        image = told.picture(frame).astype(int)
        plain = told.picture(replace(frame, caption="")).astype(int)
    changed = np.argwhere(np.abs(image - plain).max(axis=2) > 20)
    assert changed[:, 0].min() > 180 * 0.75
    assert abs(changed[:, 1].mean() - 160) < 12
