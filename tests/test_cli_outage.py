"""The outage command from its words to its exit code."""

import json
from pathlib import Path

import pytest
from PIL import Image
from schemas import fits

from layout3d.cli import main

SCENES = Path(__file__).resolve().parent.parent / "scenes"
FAULTY = SCENES / "faulty"
RULES = (
    "drain-uphill",
    "drain-capacity",
    "overflow-level",
    "sump-drain-back",
    "sump-rim",
    "drain-blocked",
    "fill-line",
    "pump-dry",
    "siphon",
)
FLOODING = ("overflow-level", "sump-drain-back", "drain-blocked", "fill-line")


def run(capsys, *arguments, code=0):
    assert main(["outage", *map(str, arguments)]) == code
    told = capsys.readouterr()
    return told.out, told.err


def run_json(capsys, *arguments, code=0):
    out, err = run(capsys, *arguments, "--json", code=code)
    assert err == ""
    facts = json.loads(out)
    fits(facts, "outage")
    return facts


@pytest.mark.parametrize("rule", RULES)
def test_every_faulty_scene_fits_the_schema_and_its_books_balance(rule, capsys):
    facts = run_json(capsys, FAULTY / f"{rule}.yaml", code=1 if rule in FLOODING else 0)
    assert facts["events"][0]["event"] == "power cut"
    for event in facts["events"]:
        for side in event["books"].values():
            before, after = side["before"], side["after"]
            assert after["total"] == pytest.approx(before["total"], rel=1e-4)  # asked: 0.01 %
            assert sum(after[k] for k in ("tank", "sump", "pipes", "floor")) == pytest.approx(after["total"])


def test_the_report_has_what_a_builder_asks_for(capsys):
    out, err = run(capsys, FAULTY / "siphon.yaml")
    assert err == ""
    for words in (
        "As it runs",
        "flow into the tank",
        "Drain overflow",
        "running full: never to be relied on",
        "Levels in the sump as it runs",
        "power cut",
        "overflow blocked",
        "supply lets go",
        "Fill line on the return chamber",
        "with the pumps stopped and all drained back",
        "until the first pump draws air",
        "Check valves fail",
        "Mains voltage",
        "over a drain or outdoors",
    ):
        assert words in out


def test_a_value_set_changes_what_drains_back(capsys):
    deep = run_json(capsys, FAULTY / "siphon.yaml")["events"][0]["moved"]["likely"]
    shallow = run_json(capsys, FAULTY / "siphon.yaml", "--set", "mouth=160")["events"][0]["moved"]["likely"]
    # 30 mm of a tank of 0.8 by 0.4 m, less what stands in it
    assert deep - shallow == pytest.approx(0.030 * 0.32, rel=0.02)


def test_a_scene_without_a_sump_has_nothing_to_tell(capsys):
    out, _ = run(capsys, FAULTY / "freeboard.yaml")
    assert "the scene has no sump" in out
    facts = run_json(capsys, FAULTY / "freeboard.yaml")
    assert facts["circuit"] is None
    assert facts["events"] == []


def test_no_mark_that_holds_is_told_with_remedies(capsys):
    out, _ = run(capsys, FAULTY / "sump-drain-back.yaml", code=1)
    assert "on the floor" in out
    out, _ = run(capsys, FAULTY / "fill-line.yaml", code=1)
    assert "below the lowest (evaporation until pump draws air)" in out


def test_inches_are_told_in_inches(capsys, tmp_path):
    text = (FAULTY / "siphon.yaml").read_text(encoding="utf-8").replace("units: mm", "units: mm\nstyle: inch")
    file = tmp_path / "inch.yaml"
    file.write_text(text, encoding="utf-8")
    out, _ = run(capsys, file)
    assert " gph" in out
    assert " gal" in out
    assert " mm" not in out.partition("Taken as given")[0]


@pytest.mark.parametrize("suffix", ["png", "svg", "pdf"])
def test_the_chart_is_drawn_whole(capsys, tmp_path, suffix):
    to = tmp_path / f"levels.{suffix}"
    out, _ = run(capsys, FAULTY / "siphon.yaml", "--chart", to)
    assert out.rstrip().endswith(f"drawn to {to}")
    assert [path.name for path in tmp_path.iterdir()] == [to.name]
    if suffix == "png":
        with Image.open(to) as image:
            assert min(image.size) > 500


@pytest.mark.parametrize(
    ("scene", "file", "words"),
    [
        ("siphon", "levels.bmp", "'.bmp' can't be drawn"),
        ("siphon", "no/such/folder/levels.png", "can't be written"),
        ("freeboard", "levels.png", "--chart of a scene without a circuit"),
    ],
)
def test_a_chart_that_can_not_be_drawn_is_refused(capsys, tmp_path, scene, file, words):
    out, err = run(capsys, FAULTY / f"{scene}.yaml", "--chart", tmp_path / file, code=2)
    assert out == ""
    assert words in err
    assert "Traceback" not in err
    assert list(tmp_path.iterdir()) == []


def test_a_scene_that_is_not_there_is_refused(capsys, tmp_path):
    _, err = run(capsys, tmp_path / "none.yaml", code=2)
    assert "there is no such file" in err
