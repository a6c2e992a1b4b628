"""Any series of edits: what the window is told of the text is what ``check`` tells of the saved file."""

import random

import pytest

from layout3d.checks.examine import examine
from layout3d.errors import LayoutError
from layout3d.model.build import build_model
from layout3d.scene.entries import copied, removed
from layout3d.scene.reader import read_scene
from layout3d.scene.write_back import changed
from layout3d.view import edits
from layout3d.view.answers import Bench, Judged, Mistakes, Text
from layout3d.view.document import Document
from layout3d.water.figures import figures

SCENE = """\
format: 1
units: mm
values: {water: 120}
waterline: water
parts:
  tank: {kind: tank, inside: [400, 250, 250], glass: 6}
  stone: {kind: rock, seed: 3, size: [70, 60, 50], at: {left: 110, front: 120, bottom: 0}}
  other: {kind: rock, seed: 5, size: [70, 60, 50], at: {left: 290, front: 120, bottom: 0}, turn: 10 deg}
"""


def edited(chance, document, scene):
    """Return the text after one edit by hand, or a LayoutError where it is refused."""
    stones = sorted(edits.movable(scene))
    part, path, text = chance.choice(stones), document.path, document.text
    what = chance.choice(["move", "turn", "value", "size", "let go", "copy", "take out"])
    if what == "move":
        by = tuple(chance.choice([-0.02, 0.0, 0.02]) for _ in range(3))
        return changed(text, edits.moved(path, text, scene, part, by))
    if what == "turn":
        return changed(text, edits.turned(path, text, scene, part, "about_up", chance.uniform(-1, 1)))
    if what == "value":
        return changed(text, {"values.water": str(chance.randrange(60, 200))})
    if what == "size":
        return changed(text, {f"parts.{part}.size[1]": str(chance.randrange(40, 90))})
    if what == "let go":
        return changed(text, {f"parts.{part}.rest": chance.choice(["true", "false"])})
    if what == "copy":
        return copied(text, ("parts", part), edits.free_name(scene, part))
    return removed(text, ("parts", part)) if len(stones) > 1 else text


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_what_is_told_after_a_series_of_edits_is_what_check_says_of_the_saved_file(tmp_path, seed):
    file = tmp_path / "series.yaml"
    file.write_text(SCENE)
    chance, document, bench = random.Random(seed), Document(file), Bench(file)
    told = []
    for number in range(8):
        scene = read_scene(file, text=document.text)
        try:
            document.take(edited(chance, document, scene))
        except LayoutError:
            continue
        if chance.random() < 0.3:
            document.undo()
        told += bench.answers(Text(number, document.text, ("judged",) if number % 3 == 2 else ()))
    told += bench.answers(Text(99, document.text, ("judged",)))
    document.save()
    assert not [one for one in told if isinstance(one, Mistakes)]
    model = build_model(read_scene(file))
    last = [one for one in told if isinstance(one, Judged)][-1]
    assert last.version == 99
    assert last.findings == examine(model)
    assert last.figures == figures(model)
    while document.undo():
        pass
    assert document.text == SCENE
