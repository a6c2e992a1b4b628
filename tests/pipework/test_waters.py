"""Which water a point is in: by the walls themselves, not by the box around them."""

import pytest

from layout3d.model.build import build_model
from layout3d.pipework.waters import sump_at, vessel_at, water_at_point
from layout3d.scene.reader import read_scene

DIAMOND = "footprint: [[300, 0], [600, 300], [300, 600], [0, 300]], height: 400"
BAFFLE = (0.311, 0.1, -0.5)  # 8 mm of glass, 300 mm of compartment, half of 6 mm


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
    assert vessel_at(model, (0.05, 0.05, 0.1)) == "sump.a"


@pytest.mark.parametrize(("z", "name"), [(-0.293, "sump.a"), (-0.291, None)])
def test_above_a_sumps_rim_is_no_water_to_draw_from(z, name):
    """Its floor of 8 mm stands at -600 mm, and its walls 300 mm over that: the rim at -292."""
    found = water_at_point(scene(), (0.05, 0.05, z))
    assert (found and found[0]) == name


@pytest.mark.parametrize(("spin", "name"), [(0, "b"), (90, None)])
def test_a_sump_is_looked_at_in_its_own_axes(spin, name):
    """600 mm along x, or, turned by a quarter, along y: the point lies 500 mm along x, 100 mm along y."""
    found = sump_at(scene(spin=spin), (0.5, 0.1, -0.5))
    assert (found and found[2]) == name


@pytest.mark.parametrize(("above", "found"), [(-0.001, True), (0.001, False)])
def test_what_lies_above_a_sump_s_rim_is_in_no_water(above, found):
    """The rim is 300 mm over the floor, a pane of 8 mm over -600."""
    model = scene(DIAMOND)
    point = (0.05, 0.05, -0.292 + above)
    assert (water_at_point(model, point) is not None) == found
    assert vessel_at(model, point) == "sump.a"  # what falls from there falls into it


def test_a_point_beside_everything_is_in_the_room_and_one_over_a_baffle_over_no_compartment():
    model = scene()
    assert water_at_point(model, (5.0, 0.1, 0.1)) is None
    assert vessel_at(model, (5.0, 0.1, 0.1)) == ""
    assert vessel_at(model, (0.3, 0.3, 0.1)) == "tank"
    assert vessel_at(model, (0.1, 0.1, -0.5)) == "sump.a"
    assert vessel_at(model, (0.5, 0.1, -0.5)) == "sump.b"
    sump = model.built["sump"].data
    assert sump.holds(BAFFLE)  # between the two, over neither
    assert vessel_at(model, BAFFLE) == "sump"
    assert water_at_point(model, BAFFLE) is None


def test_the_level_of_a_compartment_is_its_own():
    """The last is told, 100 mm over the floor at -592; the first is held by its baffle, 150 mm high."""
    model = scene()
    assert water_at_point(model, (0.5, 0.1, -0.5)) == ("sump.b", pytest.approx(-0.492))
    name, level = water_at_point(model, (0.1, 0.1, -0.5))
    assert name == "sump.a"
    assert level == pytest.approx(-0.442)
