"""The command line as a user meets it: exit codes, what stands where, and never a traceback."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from schemas import fits

from layout3d import cli
from layout3d.cli import main
from layout3d.report.schemas import SCHEMAS

TANK = """\
format: 1
units: mm
values:
  depth: 200
waterline: 180
parts:
  tank:
    kind: tank
    inside: [300, depth, 500]
    glass: 10
"""


@pytest.fixture
def scene(tmp_path: Path) -> Path:
    file = tmp_path / "scene.yaml"
    file.write_text(TANK, encoding="utf-8")
    return file


def test_check_prints_plain_text(scene, capsys):
    assert main(["check", str(scene)]) == 0
    told = capsys.readouterr()
    assert "0 faults" in told.out
    assert "\x1b" not in told.out
    assert told.err == ""


def test_room_to_swim_is_told_in_the_scene_s_own_units_first(scene, capsys):
    scene.write_text(TANK.replace("units: mm", "units: mm\nstyle: inch"), encoding="utf-8")
    assert main(["check", str(scene), "--only", "freeboard"]) == 0
    line = next(line for line in capsys.readouterr().out.splitlines() if "for a fish" in line)
    assert line.index(" gal") < line.index(" L")


def test_version_is_the_package_s(capsys):
    from importlib.metadata import version

    assert main(["--version"]) == 0
    assert capsys.readouterr().out == f"layout3d {version('layout3d')}\n"


def test_set_changes_a_named_value(scene, capsys):
    assert main(["check", str(scene), "--set", "depth=9 in", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["faults"] == 0


@pytest.mark.parametrize("setting", ["depth", "=3", "depth=", ""])
def test_a_setting_that_sets_nothing_is_refused(scene, capsys, setting):
    assert main(["check", str(scene), "--set", setting]) == 2
    told = capsys.readouterr()
    assert "name=value" in told.err
    assert told.out == ""


def test_set_of_an_unknown_value_names_the_nearest(scene, capsys):
    assert main(["check", str(scene), "--set", "dept=300"]) == 2
    assert "nearest: 'depth'" in capsys.readouterr().err


def test_volume_prints_the_dipstick_only_when_asked(scene, capsys):
    assert main(["volume", str(scene)]) == 0
    assert "Dipstick" not in capsys.readouterr().out
    assert main(["volume", str(scene), "--table", "--step", "2 in"]) == 0
    told = capsys.readouterr().out
    assert "Dipstick" in told
    assert "101.6 mm" in told
    assert main(["volume", str(scene), "--json", "--table", "--step", "100"]) == 0
    levels = [mark["level"] for mark in json.loads(capsys.readouterr().out)["dipstick"]]
    assert levels == pytest.approx([0.0, 0.1, 0.2, 0.3, 0.4, 0.5])


@pytest.mark.parametrize("step", ["0", "-10", "3 kg", "depth", "1e-9", "nan"])
def test_volume_refuses_a_step_that_is_none(scene, capsys, step):
    assert main(["volume", str(scene), "--table", "--step", step]) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert "expected" in told.err


def test_volume_draws_a_chart_or_nothing(scene, tmp_path, capsys):
    for name, head in (("a.png", b"\x89PNG"), ("a.svg", b"<?xml"), ("a.pdf", b"%PDF")):
        assert main(["volume", str(scene), "--plot", str(tmp_path / name)]) == 0
        assert (tmp_path / name).read_bytes().startswith(head)
    capsys.readouterr()
    before = set(tmp_path.iterdir())
    for bad in ("a.gif", "no/such/folder/a.png"):
        assert main(["volume", str(scene), "--plot", str(tmp_path / bad)]) == 2
    assert set(tmp_path.iterdir()) == before
    assert capsys.readouterr().out == ""


def test_only_runs_the_rules_that_are_named(scene, capsys):
    scene.write_text(TANK.replace("waterline: 180", "waterline: 495"), encoding="utf-8")
    assert main(["check", str(scene), "--only", "overlap"]) == 0
    assert "from 1 rule\n" in capsys.readouterr().out
    assert main(["check", str(scene), "--only", "freeboard", "--only", "overlap", "--json"]) in (0, 1)
    assert {found["rule"] for found in json.loads(capsys.readouterr().out)["findings"]} == {"freeboard"}


def test_the_exit_code_tells_a_fault_and_not_a_warning(scene, capsys):
    """A hole's edge 5 mm from the glass's edge: under two thicknesses of glass, which is a fault."""
    hole = "    holes: {drain: {panel: back, left: 20, bottom: 300, diameter: 30, plugged: true}}\n"
    scene.write_text(TANK + hole, encoding="utf-8")
    assert main(["check", str(scene), "--json"]) == 1
    facts = json.loads(capsys.readouterr().out)
    fits(facts, "check")
    assert facts["faults"] == sum(found["severity"] == "fault" for found in facts["findings"]) > 0
    scene.write_text(TANK.replace("waterline: 180", "waterline: 490"), encoding="utf-8")
    assert main(["check", str(scene), "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["warnings"] > 0


def test_a_rule_that_is_accepted_has_to_be_one(scene, capsys):
    accept = "accept: [{rule: freebord, parts: [tank], why: known}]\n"
    scene.write_text(TANK + accept, encoding="utf-8")
    assert main(["check", str(scene)]) == 2
    assert "nearest: 'freeboard'" in capsys.readouterr().err


def test_the_starter_s_report_fits_the_schema(tmp_path, capsys):
    """And it has neither fault nor warning."""
    assert main(["check", str(Path(cli.__file__).parent / "scene" / "starter.yaml"), "--json"]) == 0
    facts = json.loads(capsys.readouterr().out)
    fits(facts, "check")
    assert [f for f in facts["findings"] if f["severity"] != "note"] == []
    figures = facts["figures"]
    taken = figures["water_volume_net"] + figures["displaced_total"] + figures["sealed_pockets"]
    assert figures["water_volume_gross"] == pytest.approx(taken)
    assert figures["mass_total"] == pytest.approx(figures["mass_dry"] + figures["mass_water"])
    assert figures["displaced_total"] == pytest.approx(sum(figures["displaced"].values()))


def test_an_interrupt_ends_quietly(scene):
    import layout3d.model.build as build

    def interrupted(*_scene, **_last):
        raise KeyboardInterrupt

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(build, "build_model", interrupted)
        assert main(["check", str(scene)]) == 130


def test_only_an_unknown_rule_is_refused(scene, capsys):
    assert main(["check", str(scene), "--only", "no-such-rule"]) == 2
    assert "no rule is called 'no-such-rule'" in capsys.readouterr().err


def test_new_writes_a_scene_that_passes_and_leaves_a_file_alone(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    assert main(["new", "mine"]) == 0
    assert capsys.readouterr().out == "wrote mine.yaml; next: layout3d check mine.yaml\n"
    starter = Path(cli.__file__).parent / "scene" / "starter.yaml"
    assert Path("mine.yaml").read_bytes() == starter.read_bytes()  # which passes: the test before this one
    Path("mine.yaml").write_text("my own", encoding="utf-8")
    capsys.readouterr()
    assert main(["new", "mine"]) == 2
    assert "there is such a file already" in capsys.readouterr().err
    assert Path("mine.yaml").read_text(encoding="utf-8") == "my own"
    assert main(["new", "no/such/folder/mine"]) == 2
    assert [path.name for path in tmp_path.iterdir()] == ["mine.yaml"]


def test_the_starter_is_the_scene_of_the_walk_through():
    root = Path(cli.__file__).parent
    starter = (root / "scene" / "starter.yaml").read_text(encoding="utf-8")
    assert starter == (root.parent / "scenes" / "ledge.yaml").read_text(encoding="utf-8")


@pytest.mark.parametrize("what", SCHEMAS)
def test_schemas_are_printed(what, capsys):
    assert main(["schema", what]) == 0
    assert json.loads(capsys.readouterr().out)["$schema"].endswith("2020-12/schema")


def test_the_help_of_schema_names_them_all(capsys):
    assert main(["schema", "--help"]) == 0
    told = " ".join(capsys.readouterr().out.split())
    assert f"One of: {', '.join(SCHEMAS)}." in told


def test_kinds_lists_the_kinds_and_tells_one(capsys):
    assert main(["kinds"]) == 0
    assert "tank " in capsys.readouterr().out
    assert main(["kinds", "tank"]) == 0
    told = capsys.readouterr().out
    assert "glass  (needed)" in told
    assert "inside_length" in told
    assert main(["kinds", "tnak"]) == 2
    assert "nearest: 'tank'" in capsys.readouterr().err


def test_rules_tells_every_limit_with_its_source(capsys):
    from layout3d.catalog import default

    assert main(["rules"]) == 0
    told = capsys.readouterr().out
    names = default().names("limits")
    assert all(f"{name}  " in told for name in names)
    assert told.count("source: ") == len(names)


def test_a_fault_of_the_program_is_one_line(scene, capsys, monkeypatch):
    import layout3d.model.build as build

    def broken(*_scene, **_last):
        raise ZeroDivisionError("two\nlines")

    monkeypatch.setattr(build, "build_model", broken)
    assert main(["check", str(scene)]) == 3
    told = capsys.readouterr()
    assert told.out == ""
    assert told.err == (
        "a fault of layout3d in commands.scene.model_of: ZeroDivisionError: two lines; "
        "run with LAYOUT3D_TRACE=1 for the traceback\n"
    )
    monkeypatch.setenv("LAYOUT3D_TRACE", "1")
    assert main(["check", str(scene)]) == 3
    assert "Traceback" in capsys.readouterr().err


def run(*arguments: str, **options) -> subprocess.CompletedProcess[bytes]:
    return subprocess.run(
        [sys.executable, "-m", "layout3d", *arguments], capture_output=True, timeout=120, **options
    )


def test_a_terminal_without_a_sign_shows_another(tmp_path):
    file = tmp_path / "ascii.yaml"
    file.write_text(TANK.replace("units: mm", "units: mm\ntitle: Höhle über Wasser"), encoding="utf-8")
    done = run("check", str(file), env={**os.environ, "PYTHONIOENCODING": "ascii", "PYTHONUTF8": "0"})
    assert (done.returncode, done.stderr) == (0, b"")
    assert b"H?hle" in done.stdout


def test_the_module_run_as_a_program_ends_with_the_command_s_code(scene):
    """With 0 too: the test before this one."""
    done = run("schema", "scen", cwd=scene.parent)
    assert (done.returncode, done.stdout) == (2, b"")
    assert b"scene" in done.stderr


def test_a_closed_pipe_is_no_fault(scene):
    command = f'"{sys.executable}" -m layout3d schema scene | head -n 1'
    done = subprocess.run(["bash", "-c", command], capture_output=True, timeout=120)
    assert (done.stdout, done.stderr) == (b"{\n", b"")
