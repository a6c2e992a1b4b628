"""The flow command from its words to its exit code."""

import json
from pathlib import Path

import pytest
from schemas import fits

from layout3d.cli import main

SCENE = """\
format: 1
units: UNITS
title: Dripping
waterline: 200 mm
values: {speed: 70 %, opening: 60 %, hole: 2.5 mm}
parts:
  tank: {kind: tank, inside: [1200 mm, 500 mm, 600 mm], glass: 12 mm}
  pump:
    {kind: pump, model: small 1000, speed: speed, outlet: d25 pn 10, at: {left: 9 cm, back: 9 cm, bottom: 0}}
  supply:
    kind: run
    pipe: d25 pn 10
    start: pump.outlet
    route:
      - up: 300 mm
      - {tee: right, name: split}
      - up: 80 mm
      - front: 100 mm
      - {ball_valve: opening, name: valve}
      - front: 100 mm
      - nozzle
  bar:
    kind: run
    pipe: d25 pn 10
    start: supply.split
    route:
      - right: 100 mm
      - down: 150 mm
      - right: 600 mm
        drip: {diameter: hole, pitch: 25 mm, margin: 40 mm, angles: [20 deg]}
      - cap
"""


@pytest.fixture
def scene(tmp_path: Path, monkeypatch) -> Path:
    monkeypatch.chdir(tmp_path)
    file = Path("dripping.yaml")
    file.write_text(SCENE.replace("UNITS", "mm"), encoding="utf-8")
    return file


def run(capsys, *arguments, code=0):
    assert main(["flow", *map(str, arguments)]) == code
    told = capsys.readouterr()
    return told.out, told.err


def run_json(capsys, *arguments, code=0):
    out, err = run(capsys, *arguments, "--json", code=code)
    assert err == ""
    facts = json.loads(out)
    fits(facts, "flow")
    return facts


def test_the_report_has_what_a_builder_asks_for(scene, capsys):
    out, err = run(capsys, scene)
    assert err == ""
    for heading in (
        "Dripping  (dripping.yaml)",
        "Pumps: flow and head",
        "Where it goes",
        "Turnover",
        "Drip bar bar.pipe_3",
        "Where the power of pump goes",
        "Head lost, what costs most first",
        "Taken as given",
        "Losses of fittings from",
        "Caution",
    ):
        assert f"{heading}\n" in out
    for words in (
        "low  ",
        "likely",
        "high",
        "head at the inlet over the holes, static",
        "head at the inlet over the holes, total",
        "supply.split.branch  tee",
        "Crane, Technical Paper 410",
        "HVAC Pump Handbook, Rishel",
        "use your pump's own curve",
        "over a drain",
        "Mains voltage",
        "Check valves fail",
        "pump can put all of its water on the floor",
    ):
        assert words in out, words


def test_losses_come_worst_first(scene, capsys):
    facts = run_json(capsys, scene)
    out, _ = run(capsys, scene)
    table = out.split("what costs most first\n")[1].split("\n\n")[0].splitlines()[1:]
    shares = [
        float(line.rsplit(maxsplit=1)[1].rstrip("%")) for line in table if not line.startswith("  and ")
    ]
    assert shares == sorted(shares, reverse=True)
    (system,) = facts["systems"]
    worst = max(system["elements"], key=lambda one: one["share"])
    assert table[0].split()[0] == worst["name"]


def test_json_holds_its_schema_and_balances(scene, capsys):
    (system,) = run_json(capsys, scene)["systems"]
    for setting in ("low", "likely", "high"):
        assert system["water_in"][setting] == pytest.approx(system["water_out"][setting], rel=1e-9)
    assert sum(share["share"] for share in system["shares"]) == pytest.approx(1.0, abs=1e-6)
    (bar,) = system["bars"]
    assert sum(hole["flow"]["likely"] for hole in bar["holes"]) == pytest.approx(bar["flow"]["likely"])


def test_figures_are_never_finer_than_they_are_known(scene, capsys):
    """Flows to three figures, losses to two: no figure of a band has a fourth."""
    out, _ = run(capsys, scene)
    rows = out.split("Pumps: flow and head\n")[1].split("\n\n")[0].splitlines()[1:2]
    for word in rows[0].replace(",", "").split():
        digits = word.strip("%").replace(".", "").lstrip("0").rstrip("0")
        assert not digits.isdigit() or len(digits) <= 3 or word == "1000", word


def test_a_pump_too_slow_ends_with_exit_code_1_and_says_why(scene, capsys):
    out, err = run(capsys, scene, "--set", "speed=20 %", code=1)
    assert err == ""
    assert "pump pump lifts water to 0.264 m over the tank's floor and its pipe has a top at 0.402 m" in out
    assert "0.14 m short" in out
    assert "to mend it:" in out
    facts = run_json(capsys, scene, "--set", "speed=20 %", code=1)
    assert facts["failures"][0]["kind"] == "no flow"
    assert facts["failures"][0]["measured"] == pytest.approx(0.264)  # water at 0.2 m, 1.60 m x 0.2² of head


def test_a_valve_without_a_figure_is_refused_where_it_stands(scene, capsys):
    _, err = run(capsys, scene, "--set", "opening=20 %", code=2)
    assert "parts.supply.route" in err
    assert "open by 0.2: no loss is known" in err


def test_inch_scenes_are_told_in_gallons_feet_and_inches(scene, capsys):
    scene.write_text(SCENE.replace("UNITS", "in"), encoding="utf-8")
    out, _ = run(capsys, scene)
    assert " gph" in out
    assert " ft/s" in out
    assert " L/h" not in out.split("Taken as given")[0]


@pytest.mark.parametrize(
    ("vary", "wanted", "words"),
    [
        ("speed", 500, "parts.pump.speed: "),
        ("diameter", 800, "with a drill of "),
        ("pitch", 500, "pitch of the holes, "),
    ],
)
def test_a_wanted_flow_is_answered_with_what_to_write(scene, capsys, vary, wanted, words):
    arguments = [scene, "--bar", "bar", "--wanted", f"{wanted} L/h/m", "--vary", vary]
    out, _ = run(capsys, *arguments)
    assert f"For {wanted} L/h/m from bar" in out
    assert words in out
    assert "it then gives " in out
    change = run_json(capsys, *arguments)["change"]
    share = change["bar"]["per_metre"]["likely"] / change["wanted_per_metre"]
    assert share == pytest.approx(1.0, abs=0.001 if vary != "pitch" else 0.06)


def test_what_is_written_in_the_scene_then_gives_the_wanted_flow(scene, capsys):
    arguments = [scene, "--bar", "bar", "--wanted", "500 L/h/m", "--vary", "speed"]
    speed = run_json(capsys, *arguments)["change"]["after"]
    (system,) = run_json(capsys, scene, "--set", f"speed={100 * speed} %")["systems"]
    assert system["bars"][0]["per_metre"]["likely"] * 3.6e6 == pytest.approx(500, rel=1e-4)


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["--bar", "bar"], "--bar without --wanted"),
        (["--wanted", "60 L/h/m"], "--wanted without --bar"),
        (["--pump", "pump"], "--pump without --bar"),
        (["--bar", "bra", "--wanted", "60 L/h/m"], "nearest: 'bar'"),
        (["--bar", "bar", "--wanted", "60 L/h"], "a flow where a flow per length is wanted"),
        (["--bar", "bar", "--wanted", "much"], "the name 'much'"),
        (["--bar", "bar", "--wanted", "500 L/h/m", "--vary", "colour"], "--vary colour"),
        (["--bar", "bar", "--wanted", "500 L/h/m", "--pump", "other"], "no pump 'other' feeds bar"),
        (["--bar", "bar", "--wanted", "500 L/h/m", "--even", "0.001 %"], "not evenly"),
        (["--bar", "bar", "--wanted", "9000 L/h/m"], "wanted"),
        (["--chart", "dripping.yaml"], "--chart ends in '.yaml'"),
        (["--set", "depth=3"], "no value is called so"),
    ],
)
def test_a_bad_option_is_told_in_words(scene, capsys, arguments, told):
    out, err = run(capsys, scene, *arguments, code=2)
    assert told in err
    assert "Traceback" not in err
    assert out == ""
    assert [path.name for path in Path().rglob("*")] == ["dripping.yaml"]


def test_charts_are_drawn_into_a_folder(scene, capsys):
    out, _ = run(capsys, scene, "--chart", "charts")
    assert out.endswith("drawn to charts/pump-pump.png\ndrawn to charts/bar-bar.png\n")
    assert sorted(path.name for path in Path("charts").iterdir()) == ["bar-bar.png", "pump-pump.png"]


def test_a_picture_is_coloured_by_what_runs(scene, capsys):
    assert main(["picture", str(scene), "--colour", "velocity", "--size", "400x320", "--no-faults"]) == 0
    assert capsys.readouterr().out == "wrote dripping-three_quarter.png\n"
    assert main(["picture", str(scene), "--colour", "speed"]) == 2
    assert "'speed' is no quantity of flow" in capsys.readouterr().err


def test_a_slow_pump_is_a_fault_of_the_check_too(scene, capsys):
    assert main(["check", str(scene), "--set", "speed=20 %"]) == 1
    assert "flow-operating-point" in capsys.readouterr().out
