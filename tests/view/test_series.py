"""Any series of edits: what the window is told of the text is what ``check`` tells of the saved file."""

import random

import pytest

from layout3d import keep, wanted
from layout3d.errors import LayoutError
from layout3d.hold.hold import holds
from layout3d.model.build import build_model
from layout3d.scene.entries import copied, inserted, items_of, removed, rewritten, swapped
from layout3d.scene.reader import read_scene
from layout3d.scene.write_back import changed
from layout3d.swim.room import room
from layout3d.view import edits
from layout3d.view.answers import Ahead, Bench, Mistakes, Text, judged
from layout3d.view.document import Document
from layout3d.view.levels import stands_of, table_of
from layout3d.view.looks import things_of

SCENE = """\
# a tank in which something runs
format: 1
units: mm
values: {water: 120, riser: 90, gap: 30}
waterline: water
parts:
  tank: {kind: tank, inside: [400, 250, 250], glass: 6}
  bed: {kind: substrate, depth: 15, pitch: 60}
  stone: {kind: rock, seed: 3, size: [70, 60, 50], detail: 300, at: {left: 150 + gap, front: 120, ground: 0}}
  other:
    kind: rock
    seed: 5
    size: [70, 60, 50]
    detail: 300
    at: {left: 290, front: 120, bottom: 0}   # by hand
    turn: 10 deg

  fern: {kind: plant, seed: 1, height: 60, spread: 50, at: {left: 120, front: 60, ground: 0}}
  pump: {kind: pump, model: small 1000, speed: 50 %, outlet: d16 pn 16, at: {left: 70, back: 60, bottom: 0}}
  bar:
    kind: run
    pipe: d16 pn 16
    start: pump.outlet
    route:
      - up: riser
      - {right: 200, drip: {diameter: 2, pitch: 40, margin: 30}}
      - cap
clearances:
  - {between: [stone, other], at_least: 20, why: room for a hand}
"""
STEPS = [
    "up: 25",
    "right: 30",
    "left: 300",
    "cap",
    "{back: 20}",
    "{right: 120, drip: {diameter: 3, pitch: 30}}",
]
TYPED = ["0", "-40", "1/4 in", "gap * 2", "wide", "[1, 2]", "{a}", "tank.inside_depth / 3", "gravel", "# no"]


def edited(chance, document, scene):
    """Return the text after one edit by hand, or a LayoutError where it is refused."""
    path, text = document.path, document.text
    names = [part.name for part in scene.parts]
    part, way = chance.choice(names), ("parts", "bar", "route")
    what = chance.choice(["move", "move", "turn", "slide", "type", "type", "type", "step", "step"])
    if chance.random() < 0.3:
        what = chance.choice(["let go", "copy", "add", "take out", "level"])
    if what == "move":
        part = chance.choice(sorted(edits.movable(scene)))
        by = tuple(chance.choice([-0.02, 0.0, 0.02]) for _ in range(3))
        return changed(text, edits.moved(path, text, scene, part, by), here=True)
    if what == "turn":
        how = chance.choice(["about_up", "about_length", "tip_right", "tip_back"])
        return changed(text, edits.turned(path, text, scene, part, how, chance.uniform(-1, 1)))
    if what == "slide":
        at, old = chance.choice(list(edits.fields_under(path, text, "values").items()))
        return changed(text, {at: edits.times(old, chance.uniform(0.5, 1.5), units=scene.units)})
    if what == "type":
        at, old = chance.choice(list(edits.fields_under(path, text, f"parts.{part}").items()))
        near = edits.times(old, chance.choice([0.9, 1.02, 1.3]), units=scene.units)
        return changed(text, {at: near if chance.random() < 0.6 else chance.choice(TYPED)}, here=True)
    if what == "let go":
        return changed(
            text, {f"parts.{chance.choice(['stone', 'other'])}.rest": chance.choice(["true", "false"])}
        )
    if what == "copy":
        return copied(text, ("parts", part), edits.free_name(scene, part))
    if what == "level":
        return changed(text, {"waterline": str(chance.randrange(60, 240))})
    if what == "add":
        kind = chance.choice(["rock", "plant", "light", "filter_basket"])
        begun = edits.starter(scene, kind, (chance.uniform(0.05, 0.35), 0.1, 0.0))
        begun |= {"detail": "300"} if kind == "rock" else {}
        text = edits.with_part(text, edits.free_name(scene, kind), kind, begun)
    elif what == "take out":
        text = removed(text, ("parts", part))
    elif what == "step":
        number = chance.randrange(len(items_of(text, way)))
        text = chance.choice(
            [
                lambda: inserted(text, way, number, chance.choice(STEPS)),
                lambda: removed(text, (*way, number)),
                lambda: swapped(text, way, max(number - 1, 0)),
                lambda: rewritten(text, (*way, number), chance.choice(STEPS)),
            ]
        )()
    read_scene(path, text=text)  # the window refuses what can't be read then
    return text


def told_of(model):
    """Return all that the window is told of a model but how it looks, and what ``check`` tells besides."""
    own = judged(model)
    return {
        "findings": own.findings,
        "figures": own.figures,
        "rows": own.rows,
        "cautions": own.cautions,
        "stands": stands_of(model),
        "table": table_of(model),
        "places": [(one.name, one.stands, one.box, one.ports, one.anchors) for one in things_of(model)],
        "holds": holds(model),
        "swim": room(model),
    }


def ask(bench, question, chance):
    """Return what is told; now and then it is broken off in the midst, as for a newer question."""
    left = chance.choice([0, 3, 10, 10_000, 10_000])

    def past():
        nonlocal left
        left -= 1
        return left < 0

    told = []
    try:
        with wanted.wanted_unless(past):
            told += bench.answers(question)
    except wanted.NotWanted:
        pass
    return told


@pytest.mark.parametrize("seed", [1, 3])
def test_what_is_told_after_a_series_of_edits_is_what_check_says_of_the_saved_file(
    tmp_path, monkeypatch, seed
):
    monkeypatch.setattr(wanted, "OFTEN", 0.0)
    file = tmp_path / "series.yaml"
    file.write_text(SCENE)
    chance, document, bench, scene = random.Random(seed), Document(file), Bench(file), read_scene(file)
    for number in range(14):
        try:
            document.take(edited(chance, document, scene))
        except LayoutError:
            continue
        back = chance.random()
        if back < 0.2:
            document.undo()
            if back < 0.1:
                document.redo()
        elif back < 0.3:
            document.save()
        elif back < 0.4:  # an editor beside the window
            file.write_text(
                chance.choice([document.text.replace("title", "# title"), "# more\n" + document.text])
            )
            assert not document.look()  # half a file may be there
            assert document.look()
            document.take_news()
        if chance.random() < 0.5:  # what a drag paused at, which may be let go elsewhere
            ask(bench, Ahead(chance.choice([document.text, document.saved])), chance)
        told = ask(bench, Text(number, document.text, ("judged",) if number == 7 else ()), chance)
        if any(isinstance(one, Mistakes) for one in told) and number != 13:
            document.undo()
        scene, alone = (read_scene(file, text=document.text, last=last) for last in (scene, None))
        assert scene == alone
    told = list(bench.answers(Text(99, document.text, ("judged",))))
    if document.changed:
        document.save(over=True)
    mine = [(one.line, one.message) for each in told if isinstance(each, Mistakes) for one in each.mistakes]
    mine = mine or told_of(bench._model)
    keep.forget()
    monkeypatch.setenv("LAYOUT3D_CACHE", "off")  # nothing that was kept is told again
    try:
        fresh = told_of(build_model(read_scene(file)))
    except LayoutError as error:
        fresh = [(one.place.line, str(one)) for one in getattr(error, "mistakes", (error,))]
    assert mine == fresh
    while document.undo():
        pass
    assert document.text == SCENE
