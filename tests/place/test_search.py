"""Places searched: rules hold, wishes rank, seeds repeat, files keep all but the values."""

from __future__ import annotations

import json
import math
from pathlib import Path

import numpy as np
import pytest
from schemas import fits

from layout3d.cli import main
from layout3d.errors import LayoutError, UnknownName
from layout3d.fields_composite import Turn
from layout3d.model.build import build_model
from layout3d.place.engine import Engine
from layout3d.place.search import Region, _changes, _Piece, _Pose, _tied, search
from layout3d.place.wishes import wishes_of
from layout3d.scene.reader import read_scene
from layout3d.scene.write_back import changed

SCENE = """\
format: 1
units: mm
waterline: 150
parts:
  tank: {kind: tank, inside: [800, 400, 400], glass: 10}
  wall:
    kind: rock
    form: slab
    size: [200, 100, 60]
    at: {left: 200, front: 200, bottom: 0}
    fixed_to: tank.bottom
  stone:
    kind: rock
    form: slab
    size: [100, 80, 50]
    fixed_to: tank.bottom
    at: {left: 210, front: 200, bottom: 0}  # in it
"""
ALONE = Engine(jobs=1)


@pytest.fixture
def scene(tmp_path):
    file = tmp_path / "scene.yaml"
    file.write_text(SCENE)
    return str(file)


def test_from_a_bad_start_a_place_without_fault_is_found_near_the_focal_point(scene):
    found = search(
        scene,
        ["stone"],
        wishes_of("focal"),
        region=Region(turn=(0.0, math.pi)),
        tries=30,
        keep=2,
        focal=(0.6, 0.2),
        engine=ALONE,
    )
    best = found.candidates[0]
    assert found.before.faults
    assert not best.faults
    hand_made = Path(scene).with_name("hand_made.yaml")
    hand_made.write_text(SCENE.replace("left: 210", "left: 420"))
    wish, place = {"focal": 1.0}, (0.6, 0.2)
    stood = search(str(hand_made), ["stone"], wish, region=Region(), tries=1, focal=place, engine=ALONE)
    assert not stood.before.faults
    assert best.score > stood.before.score > found.before.score == 0.0
    assert math.dist(best.at["stone"], (0.6, 0.2)) < 0.15
    assert all(round(place * 1000, 9) == round(place * 1000) for place in best.at["stone"])


def test_the_same_seed_gives_the_same_on_one_core_or_two(scene):
    one, two = (
        search(
            scene,
            ["stone"],
            wishes_of("focal"),
            region=Region(turn=(0.0, math.pi)),
            tries=10,
            keep=2,
            focal=(0.6, 0.2),
            engine=engine,
        )
        for engine in (ALONE, Engine(jobs=2))
    )
    assert one == two
    assert one.candidates


def test_a_place_that_beats_nothing_is_not_written_and_says_so_by_its_exit_code(scene, capsys):
    given = ["place", scene, "wall", "--wish", "focal", "--focal", "200,200", "--tries", "6", "--jobs", "1"]
    Path(scene).write_text(SCENE.replace("left: 210", "left: 600"))
    before = Path(scene).read_text()
    assert main([*given, "--write"]) == 1
    assert "nothing was written" in capsys.readouterr().out
    assert Path(scene).read_text() == before
    assert main(given) == 0
    assert main([*given, "--write", "--set", "waterline=100"]) == 2
    assert "--write beside --set" in capsys.readouterr().err


def test_a_start_with_a_fault_scores_nothing(scene):
    found = search(
        scene, ["stone"], {"focal": 1.0}, region=Region(), tries=1, focal=(0.21, 0.2), engine=ALONE
    )
    assert found.before.faults
    assert found.before.wishes["focal"] > 0.9
    assert found.before.score == 0.0


def test_places_stay_in_the_region_and_pieces_apart(scene):
    region = Region(left=(0.4, 0.7), front=(0.1, 0.3))
    found = search(
        scene, ["wall", "stone"], wishes_of("water"), region=region, tries=40, keep=1, engine=ALONE
    )
    best = found.candidates[0]
    assert not best.faults
    assert all(0.4 <= x <= 0.7 and 0.1 <= y <= 0.3 for x, y in best.at.values())


def test_the_command_writes_one_line_and_keeps_the_comment(scene, capsys):
    given = [
        "place",
        scene,
        "stone",
        "--wish",
        "spread",
        "--tries",
        "40",
        "--keep",
        "1",
        "--jobs",
        "1",
        "--turn",
        "keep",
        "--json",
    ]
    assert main([*given, "--write"]) == 0
    facts = json.loads(capsys.readouterr().out)
    fits(facts, "place")
    lines = Path(scene).read_text().splitlines()
    (changed,) = [new for old, new in zip(SCENE.splitlines(), lines, strict=True) if new != old]
    assert changed.endswith("# in it")
    assert f"left: {facts['candidates'][0]['changes']['parts.stone.at.left']}" in changed
    assert main(["check", scene]) == 0


TIPPED = """\
format: 1
units: mm
waterline: 150
parts:
  tank: {kind: tank, inside: [800, 400, 400], glass: 10}
  sand: {kind: substrate, depths: [[0, 0, 40], [800, 0, 40], [0, 400, 90], [800, 400, 90]]}
  stone:
    {kind: rock, form: slab, size: [160, 90, 50], at: {left: 300, front: 200, ground: -10},
     turn: {tip_right: 20}}
  fern:
    {kind: plant, height: 100, spread: 80, detail: 0.5, root: false, fixed_to: stone,
     at: {left: 330, front: 210, bottom: 110}}
"""


@pytest.mark.parametrize(("turn", "tip"), [(0.0, 0.5), (1.2, 0.3)])
def test_what_is_looked_at_first_is_where_the_scene_puts_it(tmp_path, turn, tip):
    """A tipped stone on sloping ground, and the fern on it: by one move, and by the text that says it."""
    path = tmp_path / "tipped.yaml"
    path.write_text(TIPPED)
    model = build_model(read_scene(path))
    stone = _Piece(model, "stone", TIPPED)
    tied = {"stone": _tied(model, "stone", ["stone"], TIPPED)}
    about = round(math.degrees(turn)) * math.pi / 180
    pose = _Pose(0.5, 0.25, Turn(about_up=about, tip_right=round(math.degrees(tip)) * math.pi / 180))
    text = changed(TIPPED, _changes([stone], tied, {"stone": pose}))
    built = build_model(read_scene(path, text=text))
    move = stone.move(pose)
    there = built.body("stone").solid.vertices
    assert np.abs(move.apply(model.body("stone").solid.vertices) - there).max() < 1e-6
    (fern,) = tied["stone"]
    foot = built.built["fern"].bodies[0].solid.placement.offset
    assert np.abs(move.apply(fern.base) - foot).max() < 2e-4  # written to a tenth of a millimetre


def test_what_cannot_be_searched_is_refused(scene, tmp_path):
    with pytest.raises(UnknownName, match="stone"):
        search(scene, ["stome"], {"water": 1.0}, region=Region(), engine=ALONE)
    with pytest.raises(LayoutError, match="focal"):
        search(scene, ["stone"], {"focal": 1.0}, region=Region(), engine=ALONE)
    with pytest.raises(UnknownName, match="water"):
        wishes_of("watre")
    with pytest.raises(UnknownName, match="no plant is called 'fern'"):
        search(scene, ["stone"], {"light": 1.0}, region=Region(), lit=["fern"], engine=ALONE)
    other = tmp_path / "other.yaml"
    other.write_text(SCENE.replace("left: 210", "left: 200 + 10"))
    with pytest.raises(LayoutError, match="arithmetic"):
        search(str(other), ["stone"], {"water": 1.0}, region=Region(), engine=ALONE)
