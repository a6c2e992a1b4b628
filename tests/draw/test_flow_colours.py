"""Pipework painted by what runs in it: data first, then pixels."""

from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from layout3d.draw.flow_colours import covers_of, flow_colours, ramp
from layout3d.draw.picture import picture
from layout3d.draw.stage import set_stage
from layout3d.draw.style import ramp_stops
from layout3d.errors import LayoutError, UnknownName
from layout3d.flow.running import running
from layout3d.model.build import build_model
from layout3d.scene.reader import read_scene

TEXT = """
format: 1
units: UNITS
waterline: 200 mm
parts:
  tank: {kind: tank, inside: [900 mm, 400 mm, 500 mm], glass: 10 mm}
  stone: {kind: rock, detail: 300, size: [80 mm, 70 mm, 60 mm], at: {left: 600 mm, front: 90 mm, bottom: 0}}
  pump:
    {kind: pump, model: small 1000, speed: SPEED, outlet: d20 pn 16, at: {left: 9 cm, back: 9 cm, bottom: 0}}
  line:
    kind: run
    pipe: d20 pn 16
    start: pump.outlet
    route:
      - up: 250 mm
      - {tee: right, name: split}
      - up: 60 mm
      - nozzle
  bar:
    kind: run
    pipe: d20 pn 16
    start: line.split
    route: [{right: 500 mm, drip: {diameter: 2.5 mm, pitch: 30 mm}}, cap]
"""


def build(units="mm", speed="80 %"):
    text = TEXT.replace("UNITS", units).replace("SPEED", speed)
    return build_model(read_scene(Path("made.yaml"), text=text))


@pytest.fixture(scope="module")
def model():
    return build()


def test_the_fastest_is_darkest_and_all_running_pipework_has_a_colour(model):
    flow = running(model)
    paint, key = flow_colours(model, flow, "velocity")
    bodies = {stretch.link.body for stretch in flow.stretches} | {bar.body for bar in flow.bars}
    assert set(paint) == bodies
    fastest = max(flow.stretches, key=lambda one: one.velocity.likely)
    assert paint[fastest.link.body] == ramp_stops()[-1]
    assert key.title.endswith("m/s")
    shares = [share for share, _ in key.marks]
    assert shares == sorted(shares)
    assert 0.0 <= shares[0] <= shares[-1] <= 1.0


def test_the_grade_line_falls_from_the_pump_on(model):
    paint, key = flow_colours(model, running(model), "head")
    light = {body: sum(colour) for body, colour in paint.items()}
    assert light["line.pipe_1"] < light["bar.pipe_1"]
    assert key.title.endswith("mm")


def test_marks_of_the_key_lie_where_their_figures_do(model):
    flow = running(model)
    _, key = flow_colours(model, flow, "velocity")
    high = max(one.velocity.likely for one in flow.stretches)
    for share, text in key.marks:
        assert float(text) == pytest.approx(share * high, abs=1e-9)


def test_inch_scenes_have_keys_in_feet():
    inch = build("in")
    assert flow_colours(inch, running(inch), "velocity")[1].title.endswith("ft/s")
    assert flow_colours(inch, running(inch), "head")[1].title.endswith(", in")


def test_the_ramp_darkens_all_the_way():
    """Relative luminance of sRGB, ITU-R BT.709 weights on the linear values, falls at each step."""
    colours = np.array([ramp(share) for share in np.linspace(0, 1, 41)])
    linear = np.where(colours <= 0.04045, colours / 12.92, ((colours + 0.055) / 1.055) ** 2.4)
    assert (np.diff(linear @ [0.2126, 0.7152, 0.0722]) < 0).all()


def test_what_stands_before_the_pipes_is_left_out(model):
    assert covers_of(model) == ("rock",)


def test_a_scene_that_nothing_runs_in_is_refused_in_words():
    still = build(speed="10 %")
    with pytest.raises(LayoutError, match="no pump moves water"):
        flow_colours(still, running(still), "velocity")


def test_another_quantity_is_named(model):
    with pytest.raises(UnknownName, match="'colour' is no quantity of flow"):
        flow_colours(model, running(model), "colour")


def test_a_painted_picture_differs_and_bears_a_key(model, tmp_path):
    paint, key = flow_colours(model, running(model), "velocity")
    images = []
    for name, colours, told in (("plain", None, None), ("painted", paint, key)):
        stage = set_stage(model, hide=covers_of(model), colour_by=colours)
        to = tmp_path / f"{name}.png"
        picture(stage, view="front", to=to, size=(640, 480), key=told, labels=False)
        images.append(np.asarray(Image.open(to).convert("RGB"), dtype=float))
    changed = np.abs(images[0] - images[1]).max(axis=2) > 20
    rows, columns = np.nonzero(changed)
    assert changed[:400].sum() > 500  # the pipes
    corner = (rows > 430) & (columns > 440)  # the key
    assert corner.sum() > 200
