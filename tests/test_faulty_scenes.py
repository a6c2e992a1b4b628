"""Each rule has a scene that shows its one fault; sound scenes have none, through the command itself."""

import json
from pathlib import Path

import pytest

from layout3d.checks.base import rules
from layout3d.cli import main

SCENES = Path(__file__).resolve().parent.parent / "scenes"
FAULTY = SCENES / "faulty"


def checked(scene, capsys):
    code = main(["check", str(scene), "--json"])
    told = capsys.readouterr()
    assert told.err == ""
    return code, json.loads(told.out)


def test_every_rule_has_its_scene_and_every_scene_its_rule():
    assert {scene.stem for scene in FAULTY.glob("*.yaml")} == set(rules())


@pytest.mark.parametrize("rule", ["hole-size", "overlap", "under-water"])
def test_a_fault_is_told_by_the_command_and_its_exit_code(rule, capsys):
    """What is found in each of them, ``checks/test_properties`` holds; here, that it gets out."""
    code, report = checked(FAULTY / f"{rule}.yaml", capsys)
    assert code == 1
    told = [f for f in report["findings"] if f["severity"] != "note"]
    assert [(f["rule"], f["severity"]) for f in told] == [(rule, "fault")]
    assert (report["faults"], report["warnings"]) == (1, 0)


def test_a_faulty_scene_says_on_top_what_is_wrong_in_it():
    for rule in rules():
        lines = (FAULTY / f"{rule}.yaml").read_text(encoding="utf-8").splitlines()
        assert lines[0].startswith("# "), rule
        assert len(lines) <= 40, rule
        assert max(map(len, lines)) <= 110, rule


def test_a_sound_scene_has_neither_fault_nor_warning(capsys):
    """Another of all that rules look at, ``test_floors`` checks in a process of its own."""
    code, report = checked(SCENES / "drains.yaml", capsys)
    assert code == 0
    assert [f for f in report["findings"] if f["severity"] != "note"] == []
