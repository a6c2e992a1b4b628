"""Charts of what runs: which files, that they are whole, and that the lines are those of the data."""

from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from layout3d.draw.charts import bar_figure, flow_charts, pump_figure
from layout3d.errors import LayoutError
from layout3d.flow.running import running
from layout3d.model.build import build_model
from layout3d.scene.reader import read_scene

TEXT = """
format: 1
units: UNITS
title: Charted
waterline: 200 mm
parts:
  tank: {kind: tank, inside: [900 mm, 400 mm, 500 mm], glass: 10 mm}
  pump:
    {kind: pump, model: small 1000, speed: SPEED, outlet: d20 pn 16, at: {left: 9 cm, back: 9 cm, bottom: 0}}
  bar:
    kind: run
    pipe: d20 pn 16
    start: pump.outlet
    route: [{up: 250 mm}, {right: 500 mm, drip: {diameter: 2.5 mm, pitch: 30 mm}}, cap]
"""


def build(units="mm", speed="70 %"):
    text = TEXT.replace("UNITS", units).replace("SPEED", speed)
    return build_model(read_scene(Path("made.yaml"), text=text))


@pytest.fixture(scope="module")
def model():
    return build()


def test_one_chart_for_each_pump_and_bar(model, tmp_path):
    files = flow_charts(model, running(model), to=tmp_path / "charts")
    assert [file.name for file in files] == ["pump-pump.png", "bar-bar.png"]
    assert sorted(path.name for path in (tmp_path / "charts").iterdir()) == ["bar-bar.png", "pump-pump.png"]
    for file in files:
        with Image.open(file) as image:
            pixels = np.asarray(image.convert("RGB"))
        assert pixels.std() > 5  # something is drawn


def lines_of(figure):
    (axes,) = figure.axes
    return {line.get_label(): line.get_xydata() for line in axes.lines}


def test_the_pump_chart_draws_its_curve_and_the_point_of_operation(model):
    (pump,) = running(model).pumps
    lines = lines_of(pump_figure(model, pump))
    curve = lines["pump at 70% speed"]
    assert curve[0] == pytest.approx([0.0, 0.7**2 * 1.60])  # affinity: the rated shut-off head is 1.60 m
    assert curve[-1, 0] == pytest.approx(700.0)
    assert lines["at full speed"][-1, 0] == pytest.approx(1000.0)
    (point,) = next(data for label, data in lines.items() if "against" in label)
    assert point == pytest.approx([pump.flow.likely * 3.6e6, pump.head.likely])


def test_the_bar_chart_draws_every_hole(model):
    (bar,) = running(model).bars
    figure = bar_figure(model, bar)
    drawn = [data for label, data in lines_of(figure).items() if label.startswith(str(len(bar.holes)))]
    np.testing.assert_allclose(drawn[0][:, 0], [1000 * hole.along for hole in bar.holes])
    np.testing.assert_allclose(drawn[0][:, 1], [3.6e6 * hole.flow.likely for hole in bar.holes])
    patches = figure.axes[0].patches
    tops = [patch.get_y() + patch.get_height() for patch in patches][: len(bar.holes)]
    np.testing.assert_allclose(tops, [3.6e6 * hole.flow.high for hole in bar.holes])


def test_inch_scenes_have_charts_in_gallons_and_feet():
    model = build("in", "100 %")
    (pump,) = running(model).pumps
    (axes,) = pump_figure(model, pump).axes
    assert (axes.get_xlabel(), axes.get_ylabel()) == ("flow, gph", "head, ft")
    assert "at full speed" not in lines_of(axes.figure)


def test_a_folder_that_can_not_be_made_is_told(model, tmp_path):
    (tmp_path / "taken").write_text("a file", encoding="utf-8")
    with pytest.raises(LayoutError, match="can't be made a folder"):
        flow_charts(model, running(model), to=tmp_path / "taken")
