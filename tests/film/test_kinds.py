"""What each kind of sequence shows, as data: no pictures are drawn here."""

import itertools
import math
from dataclasses import replace

import numpy as np
import pytest
from shipped import shipped_coarse

from layout3d.errors import LayoutError, UnknownName
from layout3d.film.frame import Setting, box_corners, corners_of, sequence_kinds
from layout3d.film.standing import filled_to
from layout3d.model.spot import CameraSpot
from layout3d.outage.outages import outages

SIZE = (320, 180)
PLACES = """
bed: {kind: substrate, front: 40, back: 60, material: sand}
stone: {kind: rock, at: {left: 300, front: 200, ground: 0}, size: [150, 120, 100], seed: 2}
pump: {kind: pump, model: small 1000, speed: 70 %, outlet: d25 pn 10, at: {left: 150, back: 120, bottom: 0}}
riser: {kind: run, pipe: d25 pn 10, start: pump.outlet, route: [{up: 300}, {right: 200}, nozzle]}
"""
SPOT = CameraSpot(at=(0.1, -0.9, 0.4), target=(0.3, 0.2, 0.1), angle=math.radians(30.0))


@pytest.fixture(scope="module")
def model(scene):
    return replace(scene(PLACES), cameras={"low": SPOT, "high": replace(SPOT, at=(0.2, -0.4, 1.0))})


def frames_of(show, model, **asked):
    return sequence_kinds()[show].frames(Setting(model=model, size=SIZE, **{"count": 8} | asked))


def test_there_are_six_kinds():
    assert list(sequence_kinds()) == ["cut", "exploded", "fly-in", "steps", "turntable", "water"]


def test_a_turntable_goes_round_evenly_and_never_cuts_the_scene_off(model):
    frames = frames_of("turntable", model, count=12)
    corners = box_corners(model)
    middle = (corners.min(axis=0) + corners.max(axis=0)) / 2.0
    at = np.array([frame.camera.position for frame in frames]) - middle
    turns = np.unwrap(np.arctan2(at[:, 1], at[:, 0]))
    assert np.diff(turns) == pytest.approx(np.full(11, 2.0 * math.pi / 12))
    assert np.ptp(np.linalg.norm(at, axis=1)) == pytest.approx(0.0, abs=1e-9)
    assert np.ptp(at[:, 2]) == pytest.approx(0.0, abs=1e-9)
    for frame in frames:
        seen = frame.camera.project(corners)
        assert (seen > 0.0).all()
        assert (seen < np.array(SIZE)).all()


def test_a_flight_begins_at_the_whole_and_stops_at_each_camera_in_order(model):
    frames = frames_of("fly-in", model, count=21, cameras=("high", "low"))
    whole, high, low = frames[0].camera, frames[10].camera, frames[20].camera
    seen = whole.project(box_corners(model))
    assert ((seen > 0.0) & (seen < np.array(SIZE))).all()
    for camera, name in ((high, "high"), (low, "low")):
        assert camera.position == pytest.approx(model.cameras[name].at)
        assert camera.focal == pytest.approx(model.cameras[name].target)
    steps = [math.dist(a.camera.position, b.camera.position) for a, b in itertools.pairwise(frames)]
    assert steps[0] < 0.3 * max(steps[:10])
    assert steps[9] < 0.3 * max(steps[:10])
    assert (frames[0].caption, frames[15].caption) == ("the whole tank to high", "high to low")


def test_a_flight_needs_cameras_and_known_ones(model):
    with pytest.raises(LayoutError, match="without cameras"):
        frames_of("fly-in", replace(model, cameras={}))
    with pytest.raises(UnknownName, match="no camera is called 'lwo'"):
        frames_of("fly-in", model, cameras=("lwo",))


def test_each_step_of_building_is_a_picture_of_what_is_there_by_then(model):
    frames = frames_of("steps", model)
    by_words = {frame.caption.split(". ")[1].split(":")[0]: frame for frame in frames}
    shown = [set(frame.bodies) for frame in frames]
    dry = next(number for number, frame in enumerate(frames) if "Dry-fit" in frame.caption)
    riser = {body.name for body in model.bodies if body.part == "riser"}
    assert riser <= shown[dry]
    assert "take it apart" in frames[dry].caption
    cemented = next(n for n, frame in enumerate(frames) if "Cement" in frame.caption)
    assert set(frames[cemented].marked) == riser
    for number, (before, after) in enumerate(itertools.pairwise(shown)):
        assert before - after <= (riser if number == dry else set())
    assert shown[-1] == {body.name for body in model.bodies}
    assert set(by_words["Set rock and wood, each on a mat or firm ground"].marked) == {"stone"}
    # water from the filling on
    assert [frame.waters is None for frame in frames] == [False] * (len(frames) - 2) + [True, True]
    assert all(frame.seconds == 3.0 for frame in frames)


def test_a_bed_is_filled_to_the_undersides_first_and_then_to_its_top(scene):
    """Closed form: a stone whose underside is at 70 mm, in a level bed of 100; no bed reaches over 70 mm."""
    model = scene(
        "bed: {kind: substrate, depth: 100, material: sand}\n"
        "stone: {kind: rock, at: {left: 300, front: 200, bottom: 70}, size: [150, 120, 100], seed: 2}"
    )
    frames = frames_of("steps", model)
    at = {frame.caption.split(". ")[1].split(":")[0]: frame.bed_to for frame in frames}
    (point,) = at["Fill the bed as high as the undersides of what stands in it"]
    assert point[2] == pytest.approx(0.07, abs=1e-6)
    assert at["Set rock and wood, each on a mat or firm ground"] == (point,)
    assert at["Fill the rest of the bed"] == ()
    bed = model.body("bed")
    low = filled_to(bed, (point,))
    assert low.solid.bounds[1, 2] == pytest.approx(0.07)
    assert low.solid.volume == pytest.approx(0.7 * (bed.uncut or bed.solid).volume, rel=3e-3)
    # the leak test is of the bare tank, a quarter full
    leak = next(frame for frame in frames if "Leak test" in frame.caption)
    assert [water.level for water in leak.waters] == [model.tank.height / 4.0]
    assert "bed" not in leak.bodies


def test_a_step_tells_what_it_hides():
    """The starter scene's wall goes over its drip bar, of which some pieces are told as one part."""
    told = [
        frame.caption for frame in frames_of("steps", shipped_coarse("ledge")) if "hidden" in frame.caption
    ]
    assert len(told) == 1
    assert "Put in the background: wall\nhidden from now on: drip_bar" in told[0]


def test_parts_come_together_in_the_order_of_building(model):
    frames = frames_of("exploded", model, count=40)
    arrives = {}
    for number, frame in enumerate(frames):
        for name, _ in frame.moved:
            arrives[name] = number
    assert not frames[-1].moved
    assert frames[0].seconds == frames[-1].seconds > 0.0
    assert arrives["pump"] <= min(at for name, at in arrives.items() if name.startswith("riser"))
    assert max(at for name, at in arrives.items() if name.startswith("riser")) < arrives["stone"]
    # at last straight down over the rim, none sideways through glass
    last = [dict(frame.moved)["stone"] for frame in frames if "stone" in dict(frame.moved)][-1]
    assert last[:2] == (0.0, 0.0)
    assert last[2] > 0.0


@pytest.mark.parametrize("size", [(320, 180), (180, 320)])
def test_parts_stand_apart_so_that_they_fill_the_picture(model, size):
    """None off the picture, rows clear of each other, and it is full one way or the other."""
    frame = sequence_kinds()["exploded"].frames(Setting(model=model, size=size, count=3))[0]
    moved = dict(frame.moved)
    assert moved == dict(frame.apart)
    boxes = {b.name: b.solid.bounds + np.array(moved.get(b.name, (0.0, 0.0, 0.0))) for b in model.bodies}
    seen = frame.camera.project(corners_of(list(boxes.values())))
    assert ((seen > 0.0) & (seen < np.array(size))).all()
    assert (np.ptp(seen, axis=0) / np.array(size)).max() > 0.85
    flat = {name: frame.camera.project(corners_of([box])) for name, box in boxes.items()}
    stone, pump = flat["stone"], flat["pump"]
    assert (stone.min(axis=0) > pump.max(axis=0)).any() or (pump.min(axis=0) > stone.max(axis=0)).any()


def test_a_cut_goes_from_glass_to_glass(model):
    frames = frames_of("cut", model, count=3)
    assert [frame.cut[0] for frame in frames] == ["y"] * 3
    assert [frame.cut[1] for frame in frames] == pytest.approx([0.002, 0.25, 0.498])


def test_water_rises_to_the_waterline(model):
    frames = frames_of("water", model, count=6)
    levels = [frame.waters[0].level for frame in frames]
    assert levels == sorted(levels)
    assert levels[-1] == pytest.approx(model.waterline)
    assert levels[0] > 0.0


def test_water_comes_to_rest_where_the_outage_has_it(sump_scene):
    """The tank's level, and the return chamber's: the last of the sump's compartments."""
    model = sump_scene()
    found = outages(model).power_cut
    frames = frames_of("water", model, count=10)
    last = frames[-1].waters
    assert frames[4].waters[0].level == pytest.approx(model.waterline)
    assert last[0].level == pytest.approx(found.tank_level.likely)
    assert last[-1].level == pytest.approx(found.chamber_level.likely)
    assert last[0].level < model.waterline
    assert last[-1].level > frames[4].waters[-1].level
    assert "power cut" in frames[-1].caption
