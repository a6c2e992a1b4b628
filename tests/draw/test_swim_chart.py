"""The cuts through the room to swim: their figures, and what is written on them."""

import numpy as np
import pytest

from layout3d.cli import main
from layout3d.draw.swim_chart import swim_figure
from layout3d.swim.room import clearances, room

DRY = "{format: 1, units: mm, waterline: 0, parts: {tank: {kind: tank, inside: [600, 300, 400], glass: 10}}}"


def test_the_widest_ball_in_a_box_of_water_is_its_depth_in_all_cuts(scene):
    """200 mm of water over 600 x 300 mm: a ball of 200 mm, to the grid's error; 0 is nowhere within it."""
    model = scene("", tank="kind: tank, inside: [600, 300, 400], glass: 10", more="swim: {sizes: [40]}\n")
    field = clearances(model)
    figure = swim_figure(model, field, room(model))
    panels = [axes for axes in figure.axes if axes.get_images() and axes.get_title(loc="left")]
    panels = panels or [axes for axes in figure.axes if axes.get_images() and axes.get_title()]
    assert len(panels) == 3
    give = 2000.0 * sum(field.error)
    for panel, (width, height) in zip(panels, ((600, 300), (600, 200), (300, 200)), strict=True):
        (image,) = panel.get_images()
        figures = np.asarray(image.get_array(), float)
        assert np.nanmax(figures) == pytest.approx(200.0, abs=give)
        left, right, low, high = image.get_extent()
        assert (right - left, high - low) == pytest.approx((width, height), abs=4000 * field.cell)
    told = figure.get_suptitle()
    assert "a fish 40 mm deep has" in told
    assert "widest ball" in told


def test_a_tank_without_water_is_refused_and_nothing_is_written(tmp_path, capsys):
    scene, to = tmp_path / "dry.yaml", tmp_path / "swim.png"
    scene.write_text(DRY)
    assert main(["volume", str(scene), "--swim", str(to)]) == 2
    assert "no room to draw" in capsys.readouterr().err
    assert not to.exists()
