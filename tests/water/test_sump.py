"""Compartments of a sump hold what box sums say."""

import pytest

from layout3d.water.cavity import space_left
from layout3d.water.dipstick import dipstick
from layout3d.water.figures import figures
from layout3d.water.share import shares
from layout3d.water.sump import (
    compartment_tables,
    sump_compartments,
    sump_space,
    sump_water,
    tank_with_boxes,
)

SUMP = """
  sump:
    kind: sump
    at: [100 mm, 50 mm, -500 mm]
    inside: [700 mm, 300 mm, 350 mm]
    glass: 6 mm
    compartments:
      - {name: inlet, length: 200 mm, baffle: {height: 250 mm, thickness: 6 mm}}
      - name: filter
        length: 194 mm
        baffle: {height: 220 mm, thickness: 6 mm}
        media: {bottom: 50 mm, top: 150 mm, material: lava rock}
      - {name: pump, level: 180 mm}
"""


def test_water_by_compartment(model_of):
    inlet, media, pump = sump_compartments(model_of(more=SUMP))
    floor = -0.5 + 0.006
    assert (inlet.name, media.name, pump.name) == ("sump.inlet", "sump.filter", "sump.pump")
    assert inlet.level == pytest.approx(floor + 0.25)
    assert inlet.net == pytest.approx(0.2 * 0.3 * 0.25)
    assert pump.net == pytest.approx(0.294 * 0.3 * 0.18)
    assert pump.surface == pytest.approx(0.294 * 0.3)
    block = (0.194 - 0.002) * (0.3 - 0.002) * 0.1  # the media stand 1 mm clear of the walls
    assert media.gross == pytest.approx(0.194 * 0.3 * 0.22)
    assert media.net == pytest.approx(media.gross - 0.7 * block)  # lava rock, porosity 0.30
    assert media.pores == pytest.approx(0.3 * block)


@pytest.mark.parametrize("corner", ["[103.7 mm, 50 mm, -500 mm]", "[-911 mm, 1237.31 mm, -500 mm]"])
def test_the_water_is_the_same_to_the_last_digit_wherever_the_sump_goes_with_what_is_in_it(model_of, corner):
    heater = "  heater: {kind: heater, at: {in: sump.pump, left: 70 mm, front: 90 mm, bottom: 20 mm}}\n"
    first, moved = (
        model_of(more=SUMP.replace("[100 mm, 50 mm, -500 mm]", at) + heater)
        for at in ("[100 mm, 50 mm, -500 mm]", corner)
    )
    here, there = (
        [(each.level, each.gross, each.net, each.pores, each.surface) for each in sump_compartments(model)]
        for model in (first, moved)
    )
    assert there == here
    assert here[2][2] < 0.294 * 0.3 * 0.18  # the heater takes some of it
    assert compartment_tables(moved) == compartment_tables(first)


def test_a_sump_holds_where_it_is_known_what_it_holds_where_it_stands(model_of):
    """The plain way, with a heater that runs through a baffle and media."""
    heater = (
        "  heater: {kind: heater, length: 300 mm, at: [417 mm, 190.3 mm, -410 mm], turn: {tip_left: 80}}\n"
    )
    model = model_of(more=SUMP + heater)
    (built,) = model.sumps
    for compartment in built.data.compartments:
        plain = space_left(compartment.interior, shares(model))
        moved = sump_space(model, built.data, compartment.interior)
        for level in (-0.43, -0.4, compartment.water_z):
            for figure in ("gross", "net", "pores", "surface"):
                found, known = getattr(moved, figure)(level), getattr(plain, figure)(level)
                assert found == pytest.approx(known, rel=1e-9, abs=1e-15)


def test_all_the_water_of_the_sump(model_of):
    model = model_of(more=SUMP)
    assert sump_water(model) == pytest.approx(sum(item.net for item in sump_compartments(model)))


def test_a_compartment_by_level_and_back(model_of):
    table = compartment_tables(model_of(more=SUMP))["sump.pump"]
    floor = -0.494
    assert table.volume(floor + 0.18) == pytest.approx(0.294 * 0.3 * 0.18)
    assert table.level(0.294 * 0.3 * 0.35) == pytest.approx(floor + 0.35)


def test_a_scene_without_a_sump(model_of):
    model = model_of()
    assert sump_compartments(model) == ()
    assert sump_water(model) == 0.0
    assert compartment_tables(model) == {}


def test_the_tank_by_level_holds_what_its_overflow_box_does(model_of):
    """At the scene's level the figure of the scene; over the box's rim all but the glass of both."""
    box = "{kind: overflow_box, panel: back, left: 0, width: 200, depth: 150, top: 450, level: 250, glass: 5,"
    model = model_of(more=f"  weir: {box} weir: {{depth: 60}}}}\n")
    table, glass = tank_with_boxes(model), sum(body.solid.volume for body in model.bodies_of("weir"))
    assert table.volume(model.waterline) == pytest.approx(figures(model)["water_volume_net"], rel=1e-4)
    assert table.volume(0.5) == pytest.approx(
        1.0 * 0.5 * 0.5 - glass, abs=1e-4
    )  # but what stands in the weir's edge
    marks = {round(mark.level, 2): mark for mark in dipstick(model)}
    assert marks[0.4].net == pytest.approx(figures(model)["water_volume_net"])
    assert [marks[level].gross for level in (0.4, 0.5)] == pytest.approx([0.2, 0.25])
    assert marks[0.5].net == pytest.approx(table.volume(0.5), rel=1e-4)
    assert tank_with_boxes(model_of()).volume(0.4) == pytest.approx(0.2)
