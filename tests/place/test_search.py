"""Places searched: rules hold, wishes rank, seeds repeat, files keep all but the values."""

from __future__ import annotations

import json
import math
from pathlib import Path

import jsonschema
import pytest

from layout3d.cli import main
from layout3d.errors import LayoutError, UnknownName
from layout3d.place.engine import Engine
from layout3d.place.search import Region, search
from layout3d.place.wishes import wishes_of
from layout3d.report.schemas import schema_text

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
        tries=60,
        keep=2,
        focal=(0.6, 0.2),
        engine=ALONE,
    )
    best = found.candidates[0]
    assert found.before.faults
    assert not best.faults
    assert best.score > found.before.score
    assert math.dist(best.at["stone"], (0.6, 0.2)) < 0.15
    assert all(round(place * 1000, 9) == round(place * 1000) for place in best.at["stone"])
    again = search(
        scene,
        ["stone"],
        wishes_of("focal"),
        region=Region(turn=(0.0, math.pi)),
        tries=60,
        keep=2,
        focal=(0.6, 0.2),
        engine=Engine(jobs=2),
    )
    assert again == found, "same seed, same result, one core or two"


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
    jsonschema.validate(facts, json.loads(schema_text("place")))
    lines = Path(scene).read_text().splitlines()
    (changed,) = [new for old, new in zip(SCENE.splitlines(), lines, strict=True) if new != old]
    assert changed.endswith("# in it")
    assert f"left: {facts['candidates'][0]['changes']['parts.stone.at.left']}" in changed
    assert main(["check", scene]) == 0


def test_what_cannot_be_searched_is_refused(scene, tmp_path):
    with pytest.raises(UnknownName, match="stone"):
        search(scene, ["stome"], {"water": 1.0}, region=Region(), engine=ALONE)
    with pytest.raises(LayoutError, match="focal"):
        search(scene, ["stone"], {"focal": 1.0}, region=Region(), engine=ALONE)
    with pytest.raises(UnknownName, match="water"):
        wishes_of("watre")
    other = tmp_path / "other.yaml"
    other.write_text(SCENE.replace("left: 210", "left: 200 + 10"))
    with pytest.raises(LayoutError, match="arithmetic"):
        search(str(other), ["stone"], {"water": 1.0}, region=Region(), engine=ALONE)
