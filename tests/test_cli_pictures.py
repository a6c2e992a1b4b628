"""Pictures and exports by command: where files go, and that a bad option writes none."""

import json
from pathlib import Path

import pytest
from PIL import Image

from layout3d.cli import main

SCENE = """\
format: 1
units: mm
waterline: 180
parts:
  tank:
    kind: tank
    inside: [900, 450, 500]
    glass: 10
    holes: {drain: {panel: back, left: 20, bottom: 300, diameter: 30}}
"""


@pytest.fixture
def scene(tmp_path: Path, monkeypatch) -> Path:
    monkeypatch.chdir(tmp_path)
    file = Path("corner.yaml")
    file.write_text(SCENE, encoding="utf-8")
    return file


def test_a_picture_goes_beside_the_user_with_the_view_in_its_name(scene, capsys):
    assert main(["picture", str(scene), "--view", "front", "--size", "400x320"]) == 0
    assert capsys.readouterr().out == "wrote corner-front.png\n"
    with Image.open("corner-front.png") as image:
        assert image.size == (400, 320)


def test_all_views_with_a_cut_are_those_that_see_its_face(scene, capsys):
    arguments = ["--view", "all", "--cut", "y=9 in", "--size", "320x320", "--to", "out", "--no-faults"]
    assert main(["picture", str(scene), *arguments]) == 0
    names = sorted(path.name for path in Path("out").iterdir())
    assert names == ["corner-back.png", "corner-front.png", "corner-three_quarter.png"]


def test_a_camera_of_the_scene_gives_its_picture_its_name(scene, capsys):
    with scene.open("a", encoding="utf-8") as file:
        file.write("cameras: {low: {at: [-300, -900, 200], target: drain}}\n")
    assert main(["picture", str(scene), "--camera", "low", "--size", "320x320", "--no-faults"]) == 0
    assert capsys.readouterr().out == "wrote corner-low.png\n"


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["--view", "frnt"], "nearest: 'front'"),
        (["--camera", "low"], "no camera is called 'low'"),
        (["--camera", "low", "--view", "front"], "--view beside --camera"),
        (["--size", "3x4"], "320 to 8000"),
        (["--size", "big"], "--size big"),
        (["--cut", "w=3"], "--cut w=3"),
        (["--cut", "x"], "--cut x"),
        (["--cut", "x=3 kg"], "a mass where a length is wanted"),
        (["--cut", "x=9000"], "passes everything"),
        (["--view", "plan", "--cut", "x=100"], "looks along"),
        (["--hide", "nothing"], "is called 'nothing'"),
        (["--view", "all", "--to", "one.png"], "one file for all views"),
        (["--to", "corner.yaml"], "--to ends in '.yaml', as a file does"),
        (["--to", "out.jpg"], "expected a .png file, or a folder without a suffix"),
        (["--to", "no/folder/a.png"], "no folder"),
        (["--set", "depth=3"], "no value is called so"),
    ],
)
def test_a_bad_option_is_told_and_nothing_is_written(scene, capsys, arguments, told):
    assert main(["picture", str(scene), *arguments]) == 2
    output = capsys.readouterr()
    assert told in output.err
    assert output.out == ""
    assert [path.name for path in Path().rglob("*")] == ["corner.yaml"]


def test_a_window_without_a_screen_is_refused_before_the_scene_is_read(monkeypatch, capsys):
    for name in ("DISPLAY", "WAYLAND_DISPLAY"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setattr("sys.platform", "linux")
    assert main(["view", "no-such.yaml"]) == 2
    assert "there is no display" in capsys.readouterr().err


def test_export_tells_how_much_it_wrote(scene, capsys):
    assert main(["export", str(scene), "--to", "meshes"]) == 0
    count = len(json.loads(Path("meshes/manifest.json").read_text(encoding="utf-8"))["solids"])
    assert f"wrote {count} solids to meshes" in capsys.readouterr().out
    assert main(["export", str(scene), "--to", "meshes"]) == 2
    assert "--replace" in capsys.readouterr().err
    assert main(["export", str(scene), "--to", "meshes", "--replace"]) == 0


def test_a_sequence_is_written_with_its_video_and_goes_on_where_it_was(scene, capsys):
    asked = [
        "sequence",
        str(scene),
        "--show",
        "turntable",
        "--frames",
        "2",
        "--size",
        "320x320",
        "--to",
        "out",
    ]
    assert main(asked) == 0
    assert capsys.readouterr().out.splitlines()[0] == "wrote 2 pictures to out"
    names = sorted(path.name for path in Path("out").iterdir())
    assert names == ["0001.png", "0002.png", "corner-turntable.mp4", "sequence.json"]
    Path("out/0002.png").unlink()
    assert main(asked) == 0
    assert "2 pictures, 1 of them as they were, to out" in capsys.readouterr().out
    facts = json.loads(Path("out/sequence.json").read_text(encoding="utf-8"))
    assert (facts["show"], facts["size"], facts["rate"]) == ("turntable", [320, 320], 24)


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["--show", "turntabel"], "nearest: 'turntable'"),
        (["--show", "fly-in"], "without cameras"),
        (["--show", "steps", "--frames", "9"], "--frames with steps"),
        (["--show", "cut", "--frames", "0"], "--frames 0"),
        (["--show", "cut", "--rate", "500"], "--rate 500"),
        (["--show", "cut", "--size", "321x321"], "even sides"),
        (["--show", "cut", "--size", "320x320", "--vertical"], "one of the two"),
        (["--show", "cut", "--size", "3x3"], "320 to 8000"),
        (["--show", "cut", "--camera", "low"], "no camera is called 'low'"),
        (["--show", "cut", "--to", "out.mp4"], "a folder without a suffix"),
        (["--show", "cut", "--set", "depth=3"], "no value is called so"),
    ],
)
def test_a_bad_sequence_is_told_and_nothing_is_written(scene, capsys, arguments, told):
    to = [] if "--to" in arguments else ["--to", "out"]
    assert main(["sequence", str(scene), *arguments, *to]) == 2
    output = capsys.readouterr()
    assert told in output.err
    assert output.out == ""
    assert [path.name for path in Path().rglob("*")] == ["corner.yaml"]
