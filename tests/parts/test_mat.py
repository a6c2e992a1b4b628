"""A mat on the floor: what it takes of the tank, and what stands on it."""

import math

import pytest

from layout3d.errors import SceneRefused
from layout3d.model.build import build_model
from layout3d.scene.reader import read_scene

ROUND = "{kind: cylinder_tank, inside_diameter: 400, height: 400, wall: 10, floor: 10}"


def build(mat, more="", tank="{kind: tank, inside: [600, 400, 400], glass: 10}"):
    text = f"format: 1\nunits: mm\nwaterline: 200\nparts:\n  tank: {tank}\n  mat: {{kind: mat{mat}}}\n{more}"
    return build_model(read_scene("made.yaml", text=text))


def test_it_lies_on_the_floor_within_the_beads():
    solid = build(", region: [100, 50, 300, 250], thickness: 8").body("mat").solid
    assert solid.volume == pytest.approx(0.2 * 0.2 * 0.008)
    assert solid.bounds.ravel().tolist() == pytest.approx([0.1, 0.05, 0.0, 0.3, 0.25, 0.008])
    whole = build(", thickness: 8").body("mat").solid
    assert 0.97 * 0.6 * 0.4 * 0.008 < whole.volume < 0.6 * 0.4 * 0.008


def test_in_a_round_tank_it_is_cut_round():
    """The floor of a cylinder 400 mm wide inside: pi r²."""
    volume = build(", thickness: 8", tank=ROUND).body("mat").solid.volume
    assert volume == pytest.approx(math.pi * 0.2**2 * 0.008, rel=1e-6)


def test_what_stands_on_the_ground_stands_on_it_and_sand_lies_around_it():
    stone = (
        "  stone: {kind: rock, detail: 400, size: [100, 80, 60], at: {left: 200, front: 150, ground: 0}}\n"
    )
    model = build(", region: [100, 50, 300, 250], thickness: 8", stone)
    assert float(model.body("stone").solid.bounds[0, 2]) == pytest.approx(0.008, abs=1e-9)
    sand = build(", region: [100, 50, 300, 250]", "  sand: {kind: substrate, depth: 40, pitch: 50}\n")
    beads = build("", "  sand: {kind: substrate, depth: 40, pitch: 50}\n")
    assert sand.body("sand").solid.volume - beads.body("sand").solid.volume == pytest.approx(
        beads.body("mat").solid.volume - sand.body("mat").solid.volume, rel=1e-6
    )


@pytest.mark.parametrize(
    ("mat", "told"),
    [
        (", region: [300, 50, 100, 250]", "an empty region"),
        (", region: [700, 50, 900, 250]", "the mat lies outside the tank"),
    ],
)
def test_a_region_of_nothing_is_refused(mat, told):
    with pytest.raises(SceneRefused, match=told):
        build(mat)
