"""What goes with a part that is taken out of a scene."""

from pathlib import Path

import pytest

from layout3d.errors import LayoutError
from layout3d.model.build import build_model
from layout3d.scene.reader import read_scene
from layout3d.view.taking_out import Without, left_without

SCENE = """\
format: 1
units: mm
waterline: 120
parts:
  tank: {kind: tank, inside: [400, 250, 250], glass: 6}
  wall: {kind: background, panels: [back], thickness: 30, channels: [{follow: bar, gap: 3}]}
  stone: {kind: rock, size: [70, 60, 50], sink: 2, at: {left: 110, front: 90, bottom: 0}}
  moss: {kind: plant, form: moss, height: 15, spread: 40, root: false, fixed_to: stone,
    at: {left: 110, front: 90, face_of: stone}}
  leaf: {kind: plant, form: moss, height: 15, spread: 40, root: false, fixed_to: moss,
    at: {left: 190, front: 90, bottom: 0}}
  beside: {kind: rock, size: [40, 40, 30], at: {left: 100 * stone.sink, front: 90, bottom: 0}}
  pump: {kind: rock, size: [40, 40, 30], at: {left: 40, front: 60, bottom: 0}}
  bar: {kind: run, pipe: d20 pn 16, start: [60, 230, 20], route: [{up: 100}, cap]}
clearances:
  - {between: [stone, pump], at_least: 1}
"""


@pytest.mark.parametrize(
    ("part", "needs"),
    [
        ("pump", ("clearances[1]",)),  # its name is a kind as well
        ("moss", ("leaf",)),
        ("stone", ("beside", "clearances[1]", "moss", "leaf")),
        ("bar", ("wall.channels[1]",)),
        ("leaf", ()),
    ],
)
def test_what_needs_a_part_goes_with_it_and_all_else_stays(part, needs):
    path = Path("a.yaml")
    model = build_model(read_scene(path, text=SCENE))
    left = left_without(path, Without(1, SCENE, part), model)
    assert set(left.needs) == set(needs)
    gone = {part, *needs}
    assert [one.name for one in build_model(read_scene(path, text=left.together)).scene.parts] == [
        one.name for one in model.scene.parts if one.name not in gone
    ]
    lines = left.together.splitlines()
    assert len(lines) < len(SCENE.splitlines()) or part == "bar"
    assert ("channels" in left.together) == (part != "bar")


def test_a_tank_is_not_taken_out():
    model = build_model(read_scene(Path("a.yaml"), text=SCENE))
    with pytest.raises(LayoutError, match="tank can't be taken out: no tank"):
        left_without(Path("a.yaml"), Without(1, SCENE, "tank"), model)
