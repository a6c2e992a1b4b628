"""What the scene's camera spots look at, drawn in lines."""

import math

import numpy as np
import pytest

from layout3d.draw.camera import camera_at
from layout3d.errors import UnknownName
from layout3d.model.build import build_model
from layout3d.scene.reader import read_scene
from layout3d.sheets.figure import sheet_kinds
from layout3d.sheets.sheets_of import sheets_of, style_of

SCENE = """\
format: 1
units: mm
title: Small
waterline: 120
parts:
  tank: {kind: tank, inside: [400, 250, 250], glass: 6}
  near: {kind: rock, seed: 3, size: [90, 40, 90], at: {left: 200, front: 60, bottom: 0}, fixed_to: tank}
  far: {kind: rock, seed: 5, size: [30, 30, 30], at: {left: 200, front: 180, bottom: 30}, fixed_to: tank}
cameras:
  low: {at: {left: 200, front: -600, bottom: 40}, target: {left: 200, front: 120, bottom: 40}, angle: 8 deg}
  over_all: {at: {left: -900, front: -1400, bottom: 900}, target: {left: 200, front: 120, bottom: 100}}
  inside: {at: {left: 60, front: 125, bottom: 100}, target: {left: 300, front: 125, bottom: 60}, angle: 70°}
"""


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    file = tmp_path_factory.mktemp("spot") / "small.yaml"
    file.write_text(SCENE)
    return build_model(read_scene(file))


@pytest.fixture(scope="module")
def figures(made):
    return {figure.of: figure for figure in sheet_kinds()["spot"].figure(made, None)}


def corners(figure):
    every = np.concatenate([segments.reshape(-1, 2) for _, segments in figure.lines])
    return every.min(axis=0), every.max(axis=0)


def test_each_spot_has_a_sheet_which_tells_whether_it_is_to_scale(made):
    sheets = sheets_of(made, style_of(made), names=["spot"])
    assert [sheet.name for sheet in sheets] == ["spot-low", "spot-over_all", "spot-inside"]
    texts = [element.text for element in sheets[1].page.elements if hasattr(element, "text")]
    assert {"Seen from the spot over all", "aslant, none", "near"} <= set(texts)
    straight = [element.text for element in sheets[0].page.elements if hasattr(element, "text")]
    assert "1:1" in straight  # along an axis what is square to it is to scale
    assert not any(sheet.printed for sheet in sheets)


@pytest.mark.parametrize("name", ["low", "over_all", "inside"])
def test_the_frame_is_that_of_a_picture_at_the_target(made, figures, name):
    """Square to the line of sight at the target, a picture in perspective and the drawing show the same."""
    figure, spot = figures[name], made.cameras[name]
    camera = camera_at(spot, size=(400, 300))
    right, up, _ = camera.axes()
    low, high = corners(figure)
    for x, y in ((-0.5, 0.25), (0.1, -0.4), (0.7, 0.7)):
        point = np.array(spot.target) + x * 0.05 * right + y * 0.05 * up
        share = (figure.view.flat(point)[0, :2] - low) / (high - low)
        pixel = camera.project(point)[0] / (400, 300)
        assert share == pytest.approx((pixel[0], 1.0 - pixel[1]), abs=1e-9)
    half = math.dist(spot.at, spot.target) * math.tan(spot.angle / 2.0)
    assert high - low == pytest.approx((8 / 3 * half, 2 * half))


def test_what_is_hidden_or_behind_the_spot_is_not_drawn(figures):
    assert "near" in figures["low"].seen
    assert "far" not in figures["low"].seen
    assert {"near", "far"} <= set(figures["over_all"].seen)
    assert "far" in figures["inside"].seen
    assert figures["low"].faces == ()  # nothing reaches behind a spot in front of the tank
    assert {face.body.part for face in figures["inside"].faces} == {"tank"}


def test_a_scene_without_spots_says_so(tmp_path):
    file = tmp_path / "none.yaml"
    file.write_text(SCENE[: SCENE.index("cameras:")])
    model = build_model(read_scene(file))
    with pytest.raises(UnknownName, match="the sheet spot has nothing to show"):
        sheets_of(model, style_of(model), names=["spot"])
