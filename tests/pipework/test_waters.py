"""Which water a point is in: by the walls themselves, not by the box around them."""

import pytest

from layout3d.model.build import build_model
from layout3d.pipework.waters import sump_at, water_at_point
from layout3d.scene.reader import read_scene

DIAMOND = "footprint: [[300, 0], [600, 300], [300, 600], [0, 300]], height: 400"


def scene(tank: str = "inside: [600, 600, 400]", spin: int = 0):
    text = (
        f"format: 1\nunits: mm\nwaterline: 200\nparts:\n  tank: {{kind: tank, {tank}, glass: 10}}\n"
        f"  sump: {{kind: sump, at: [0, 0, -600], turn: {spin} deg, inside: [600, 200, 300], "
        "compartments: [{name: a, length: 300, baffle: {height: 150}}, {name: b, level: 100}]}\n"
    )
    return build_model(read_scene("waters.yaml", text=text))


def test_a_point_outside_a_slanted_wall_is_not_in_the_tank():
    model = scene(DIAMOND)
    assert water_at_point(model, (0.3, 0.3, 0.1)) == ("tank", 0.2)
    # outside the glass, in the box around it: what falls from there falls into the sump below
    found = water_at_point(model, (0.05, 0.05, 0.1))
    assert found is not None
    assert found[0] == "sump.a"


@pytest.mark.parametrize(("spin", "name"), [(0, "b"), (90, None)])
def test_a_sump_is_looked_at_in_its_own_axes(spin, name):
    """600 mm along x, or, turned by a quarter, along y: the point lies 500 mm along x, 100 mm along y."""
    found = sump_at(scene(spin=spin), (0.5, 0.1, -0.5))
    assert (found and found[2]) == name
