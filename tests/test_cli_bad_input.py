"""Bad scenes and files by command: one message a mistake, exit code 2, no traceback, nothing written.

What each bad value is answered is tested with the reader; here it is the way from the file to the screen.
"""

import json
import os
from pathlib import Path

import numpy as np
import pytest
from schemas import fits

from layout3d.cli import main
from layout3d.solid.mesh_file import save_mesh
from layout3d.solid.primitives import box

TANK = """\
format: 1
units: mm
waterline: 180
parts:
  tank: {kind: tank, inside: [900, 450, 500], glass: 10}
"""
STONE = "  stone: {kind: rock, mesh: MESH, longest: 200, at: [450, 225, 0]}\n"
COMMANDS = (
    ["check"],
    ["check", "--json"],
    ["volume", "--table"],
    ["volume", "--json", "--plot", "out.png"],
    ["picture", "--to", "out"],
    ["export", "--to", "out"],
)


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch) -> Path:
    monkeypatch.chdir(tmp_path)
    return tmp_path


def refused(capsys, text: str | None = None, command: list[str] | None = None, name: str = "bad.yaml") -> str:
    """Run a command on a scene that it must refuse; return what stands on stderr, or in the JSON."""
    if text is not None:
        Path(name).write_text(text, encoding="utf-8")
    before = sorted(Path().rglob("*"))
    first, *rest = command or ["check"]
    code = main([first, name, *rest])
    told = capsys.readouterr()
    assert code == 2, told.out + told.err
    assert sorted(Path().rglob("*")) == before
    assert "Traceback" not in told.out + told.err
    if "--json" in rest:
        assert told.err == ""
        facts = json.loads(told.out)
        fits(facts, "errors")
        return "\n".join(f"{error['line']}: {error['found']}" for error in facts["errors"])
    assert told.out == ""
    return told.err


@pytest.mark.parametrize("command", COMMANDS, ids=" ".join)
def test_every_command_refuses_a_bad_scene_and_writes_nothing(capsys, command):
    told = refused(capsys, TANK.replace("glass: 10", "glass: 0") + "  rock: {kind: rok}\n", command)
    assert "0 is 0 mm" in told
    assert "no part kind is called 'rok'" in told


def test_several_mistakes_are_told_with_their_lines_and_counted(capsys):
    text = TANK.replace("180", "high").replace("900", "-900") + "limits: {freebord: 3}\n"
    lines = refused(capsys, text).splitlines()
    assert lines[0].startswith("bad.yaml:3:12  waterline: ")
    assert any(line.startswith("bad.yaml:5:31  parts.tank.inside.length: ") for line in lines)
    assert any(line.startswith("bad.yaml:6:20  limits: ") for line in lines)
    assert lines[-1] == "3 mistakes; nothing was computed"


# -- files --------------------------------------------------------------------------------------------------


def test_a_file_that_is_not_there(capsys):
    Path("ledge.yaml").write_text(TANK, encoding="utf-8")
    told = refused(capsys, name="legde.yaml")
    assert "there is no such file" in told
    assert "did you mean ledge.yaml?" in told


def test_a_folder_and_a_device_are_no_scenes(capsys):
    Path("folder.yaml").mkdir()
    assert "is a folder" in refused(capsys, name="folder.yaml")
    os.mkfifo("pipe.yaml")
    assert refused(capsys, name="pipe.yaml").startswith("pipe.yaml: is not an ordinary file\n")


def test_a_file_of_2_gb_is_refused_before_it_is_read(capsys):
    with Path("huge.yaml").open("wb") as file:
        file.truncate(2 * 2**30)  # sparse: takes no room on the disk
    assert "2,147,483,648 bytes" in refused(capsys, name="huge.yaml")


@pytest.mark.parametrize(
    ("data", "told"),
    [
        (b"\xff\xfe\x00", "not UTF-8"),
        (b"format: 1\nunits: mm\x00\n", "U+0000"),
        (b"", "the file is empty"),
        (b"\x89PNG\r\n\x1a\n\x00\x00", "not UTF-8"),
        (b"format: [1\n", "is missing in the list"),
        (b"a: !!python/object/apply:os.system [ls]\n", "tag"),
    ],
)
def test_a_file_that_is_no_scene(capsys, data, told):
    Path("bad.yaml").write_bytes(data)
    assert told in refused(capsys)


def test_aliases_that_multiply_are_stopped_before_they_fill_the_memory(capsys):
    levels = "".join(f"a{i}: &a{i} [{', '.join([f'*a{i - 1}'] * 10)}]\n" for i in range(1, 9))
    assert "100,000 values" in refused(capsys, "a0: &a0 [x]\n" + levels)


def test_a_file_nested_past_reason(capsys):
    assert "nested more than 40 deep" in refused(capsys, "a: " + "[" * 60 + "]" * 60)
    assert "nested too deep" in refused(capsys, "a: " + "[" * 5000 + "]" * 5000)


# -- meshes -------------------------------------------------------------------------------------------------


def write_stl(file: str, faces: np.ndarray) -> None:
    lines = ["solid open"]
    for triangle in faces:
        lines += ["facet normal 0 0 0", "outer loop"]
        lines += [f"vertex {x} {y} {z}" for x, y, z in triangle]
        lines += ["endloop", "endfacet"]
    Path(file).write_text("\n".join([*lines, "endsolid open"]), encoding="ascii")


def test_a_scene_with_a_sound_mesh_is_checked(capsys):
    save_mesh(box((0.2, 0.1, 0.1)).solid(), Path("stone.stl"))
    Path("good.yaml").write_text(TANK + STONE.replace("MESH", "stone.stl"), encoding="utf-8")
    assert main(["check", "good.yaml", "--json"]) in (0, 1)
    assert json.loads(capsys.readouterr().out)["figures"]["displaced"]["stone"] == pytest.approx(0.002)


@pytest.mark.parametrize(
    ("mesh", "told"),
    [
        ("missing.stl", "there is no file"),
        ("../outside.stl", "folder"),
        ("/etc/hostname", "folder"),
        ("bad.yaml", "not a mesh format"),
        ("broken.stl", "broken.stl"),
        ("open.stl", "open.stl"),
        ("flat.stl", "flat.stl"),
        ("huge.stl", "MB"),
    ],
)
def test_a_mesh_that_can_not_be_used(capsys, folder, mesh, told):
    save_mesh(box((0.2, 0.1, 0.1)).solid(), folder.parent / "outside.stl")
    Path("broken.stl").write_bytes(b"solid \x00\x01\x02 not a mesh at all")
    corner = np.array([[0, 0, 0], [100, 0, 0], [0, 100, 0], [0, 0, 100]], dtype=float)
    write_stl("open.stl", corner[[[0, 1, 2], [0, 1, 3]]])
    write_stl("flat.stl", corner[[[0, 1, 2]]])
    with Path("huge.stl").open("wb") as file:
        file.truncate(2 * 2**30)
    message = refused(capsys, TANK + STONE.replace("MESH", mesh))
    assert told in message
    assert message.startswith("bad.yaml:6:")


def test_a_link_out_of_the_scene_s_folder_is_not_followed(capsys, folder):
    save_mesh(box((0.2, 0.1, 0.1)).solid(), folder.parent / "outside.stl")
    Path("link.stl").symlink_to(folder.parent / "outside.stl")
    assert "folder" in refused(capsys, TANK + STONE.replace("MESH", "link.stl"))


# -- places to write to --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("command", "told"),
    [
        (["export", "--to", "/proc/none/out"], "can't be made a folder"),
        (["volume", "--plot", "/proc/none/a.png"], "can't be written"),
    ],
)
def test_a_place_that_can_not_be_written_to(capsys, command, told):
    """Nobody may make files below /proc, root neither."""
    assert told in refused(capsys, TANK, command)


def test_a_leg_that_can_not_be_laid_hides_no_fault_of_the_drilled_glass(capsys):
    """A hole 20 mm wide 8 mm from the rim, and a run from another one whose leg is too short to be laid."""
    holes = (
        "    holes:\n      near: {panel: back, left: 200, top: 18, diameter: 20, plugged: true}\n"
        "      out: {panel: back, left: 500, bottom: 300, bulkhead: d25}\n"
    )
    tank = TANK.replace(
        "{kind: tank, inside: [900, 450, 500], glass: 10}",
        "\n    kind: tank\n    inside: [900, 450, 500]\n    glass: 10\n" + holes.rstrip("\n"),
    )
    run = "  down: {kind: run, pipe: d25 pn 10, start: out.outside, route: [{back: 5}, {down: 200}, open]}\n"
    told = refused(capsys, tank + run)
    assert "hole-edge-distance  tank.back, near" in told
    assert told.index("hole-edge-distance") < told.index("route[1]")
