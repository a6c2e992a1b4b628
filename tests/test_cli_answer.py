"""An unchanged scene is answered from what was told before; where anything changed it is computed anew."""

import os
import random
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from layout3d import keep
from layout3d.checks.examine import examine
from layout3d.cli import main
from layout3d.commands import answer
from layout3d.errors import LayoutError
from layout3d.keep import forget, key_of
from layout3d.model import build
from layout3d.solid import untangle
from layout3d.solid.mesh_file import save_mesh
from layout3d.solid.primitives import box

PACKAGE = Path(answer.__file__).parent.parent
SCENE = """\
format: 1
units: mm
values: {depth: 60}
waterline: 150
parts:
  tank: {kind: tank, inside: [300, 200, 250], glass: 8}
  bed: {kind: substrate, depth: depth, material: sand, pitch: 100}
  stone: {kind: rock, mesh: stone.stl, longest: 80, at: {left: 150, front: 80, ground: -5}}
  wall: {kind: background, panels: [back], thickness: 20, relief: {image: wall.png, depth: 10, pitch: 60}}
"""


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch) -> Path:
    (tmp_path / "work").mkdir()
    monkeypatch.chdir(tmp_path / "work")
    monkeypatch.setenv("LAYOUT3D_CACHE", str(tmp_path / "cache"))
    monkeypatch.setattr(answer, "KEEP", True)
    monkeypatch.setattr(untangle, "LINES", 16)  # the mesh is a block: it laps over itself nowhere
    forget()
    Path("scene.yaml").write_text(SCENE, encoding="utf-8")
    stone(0.1)
    wall(7)
    return tmp_path


def stone(height: float) -> None:
    save_mesh(box((0.1, 0.08, height)).solid(), Path("stone.stl"))


def wall(seed: int) -> None:
    grey = np.random.default_rng(seed).integers(0, 255, (20, 30), dtype=np.uint8)
    Image.fromarray(grey).save("wall.png")


@pytest.fixture
def built(monkeypatch) -> list[object]:
    """The scenes that are built, not answered from before."""
    calls: list[object] = []
    make = build.build_model

    def counted(scene, *, last=None):
        calls.append(scene)
        return make(scene, last=last)

    monkeypatch.setattr(build, "build_model", counted)
    return calls


def ask(capsys, *options: str, name: str = "scene.yaml", command: str = "check") -> tuple[int, str]:
    """Check a scene as a new run would, with nothing in memory."""
    forget()
    code = main([command, name, *options])
    told = capsys.readouterr()
    return code, told.out + told.err


def fresh(capsys, *options: str, name: str = "scene.yaml", command: str = "check") -> tuple[int, str]:
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("LAYOUT3D_CACHE", "off")
        return ask(capsys, *options, name=name, command=command)


@pytest.mark.parametrize("options", [(), ("--json",), ("--only", "overlap"), ("--set", "depth=50")])
def test_the_same_is_told_again_without_building(capsys, built, options):
    told = ask(capsys, *options)
    assert "mistake" not in told[1]
    assert ask(capsys, *options) == told
    assert len(built) == 1
    assert fresh(capsys, *options) == told


ASKED = {
    "volume": [(), ("--json",), ("--table",), ("--table", "--step", "50 mm"), ("--set", "depth=50")],
    "flow": [(), ("--json",), ("--set", "depth=50")],
    "outage": [(), ("--json",), ("--set", "depth=50")],
}


@pytest.mark.parametrize("command", ASKED)
def test_other_commands_tell_the_same_again_without_building(capsys, built, command):
    told = {options: ask(capsys, *options, command=command) for options in ASKED[command]}
    count = len(built)
    assert {options: ask(capsys, *options, command=command) for options in told} == told
    assert len(built) == count
    assert {options: fresh(capsys, *options, command=command) for options in told} == told
    replace_text("depth: 60", "depth: 61")
    assert ask(capsys, command=command) == fresh(capsys, command=command)
    assert len(built) == 2 * count + 2
    if command == "volume":
        assert len(set(told.values())) == len(told)


def test_what_is_drawn_is_drawn_each_time(capsys):
    """An answer from before says nothing of a file that was deleted since."""
    for _ in range(2):
        assert ask(capsys, "--plot", "water.svg", command="volume")[0] == 0
        Path("water.svg").unlink()


def test_a_fault_stays_a_fault(capsys, built):
    text = SCENE.replace("at: {left: 150, front: 80, ground: -5}", "at: {left: 30, front: 80, bottom: 20}")
    Path("scene.yaml").write_text(text, encoding="utf-8")
    told = ask(capsys)
    assert told[0] == 1
    assert ask(capsys) == told
    assert len(built) == 1


def replace_text(old: str, new: str) -> None:
    Path("scene.yaml").write_text(SCENE.replace(old, new), encoding="utf-8")


def same_size_and_time(change):
    """Change a mesh so that its size and its time say nothing of it."""

    def changed() -> None:
        before = Path("stone.stl").stat()
        change()
        os.utime("stone.stl", ns=(before.st_atime_ns, before.st_mtime_ns))
        assert Path("stone.stl").stat().st_size == before.st_size

    return changed


def another_link() -> None:
    """The same mesh, now behind a link out of the scene's folder, where nothing may be read."""
    Path("stone.stl").rename(Path("..") / "stone.stl")
    Path("stone.stl").symlink_to(Path("..") / "stone.stl")


CHANGES = {
    "a value": lambda: replace_text("depth: 60", "depth: 61"),
    "a limit": lambda: replace_text("waterline: 150\n", "waterline: 150\nlimits: {freeboard: 300}\n"),
    "a comment": lambda: replace_text("units: mm", "units: mm  # as ever"),
    "the mesh": same_size_and_time(lambda: stone(0.09)),
    "the picture": lambda: wall(8),
    "the mesh is gone": lambda: Path("stone.stl").unlink(),
    "the mesh behind a link": another_link,
    "the picture is none": lambda: Path("wall.png").write_bytes(b"no picture"),
}


@pytest.mark.parametrize("change", CHANGES)
def test_whatever_changed_is_computed_anew(capsys, built, change):
    first = ask(capsys, "--json")
    CHANGES[change]()
    told = ask(capsys, "--json")
    assert told == fresh(capsys, "--json")
    assert len(built) == 3
    if change != "a comment":
        assert told != first


def test_other_options_are_other_answers(capsys, built):
    for options in ((), ("--json",), ("--only", "overlap"), ("--only", "gap"), ("--set", "depth=50")):
        ask(capsys, *options)
    assert len(built) >= 4
    assert ask(capsys, "--set", "depth=55") == fresh(capsys, "--set", "depth=55")


def test_other_code_answers_anew(capsys, built, monkeypatch):
    ask(capsys)
    to_be_drawn()
    assert len(built) == 1
    monkeypatch.setattr(answer, "code_of", lambda: "another version")
    to_be_drawn()
    assert len(built) == 2
    ask(capsys)
    assert len(built) == 3


def test_the_same_text_beside_other_files_is_another_scene(capsys, built, folder, monkeypatch):
    ask(capsys)
    (folder / "other").mkdir()
    monkeypatch.chdir(folder / "other")
    Path("scene.yaml").write_text(SCENE, encoding="utf-8")
    stone(0.05)
    wall(7)
    assert ask(capsys) == fresh(capsys)
    assert len(built) == 3


def test_a_refusal_is_not_kept(capsys):
    Path("stone.stl").rename("stone")
    assert ask(capsys)[0] == 2
    Path("stone").rename("stone.stl")
    assert ask(capsys)[0] == 0


def test_a_scene_that_is_changed_while_it_is_read_is_not_kept(capsys, built, monkeypatch):
    """What was told of the new text must not be filed under the old."""
    before, told = SCENE, fresh(capsys)
    hashed = answer.ordinary_content

    def late(path, most):
        content = hashed(path, most)
        replace_text("depth: 60", "depth: 90")
        return content

    with monkeypatch.context() as patch:
        patch.setattr(answer, "ordinary_content", late)
        assert ask(capsys) != told
    Path("scene.yaml").write_text(before, encoding="utf-8")
    assert ask(capsys) == told


def test_random_edits_are_answered_as_if_nothing_were_kept(capsys):
    """The same few states come again and again, so that most answers come from before."""
    chance = random.Random(4)
    states = [(depth, seed) for depth in (40, 60) for seed in (1, 2)]
    truth = {}
    for _ in range(10):
        depth, seed = state = chance.choice(states)
        replace_text("depth: 60", f"depth: {depth}")
        wall(seed)
        if state not in truth:
            truth[state] = fresh(capsys, "--json")
        assert ask(capsys, "--json") == truth[state]
    assert len(set(truth.values())) == len(truth) > 2


def test_an_answer_from_before_loads_nothing_heavy(folder):
    heavy = ("numpy", "yaml", "pint", "manifold3d", "coal", "rich", "layout3d.scene.reader", "layout3d.units")
    code = (
        "import sys\nfrom layout3d.cli import main\ncode = main(['check', 'scene.yaml'])\n"
        f"print(code, [name for name in {heavy!r} if name in sys.modules], file=sys.stderr)\n"
    )
    runs = [subprocess.run([sys.executable, "-c", code], capture_output=True, text=True) for _ in range(2)]
    assert runs[0].stdout == runs[1].stdout != ""
    assert runs[1].stderr == "0 []\n"


def to_be_drawn() -> tuple[object, ...]:
    """Return all that a picture shows of the scene, as a new run would find it."""
    forget()
    known = answer.Known(Path("scene.yaml"), None)
    stage = known.stage(())
    surfaces = key_of("surfaces", stage.pieces, stage.lines)
    return surfaces, stage.extents, stage.title, stage.waterline, known.net_volume(), known.findings()


@pytest.mark.parametrize(
    "change", [name for name in CHANGES if name not in ("the mesh is gone", "the picture is none")]
)
def test_a_picture_is_of_the_scene_as_it_is(built, monkeypatch, change):
    """Whatever a picture draws is kept, and made anew after any change."""
    before = to_be_drawn()
    assert to_be_drawn() == before
    assert len(built) == 1
    CHANGES[change]()
    try:
        after = to_be_drawn()
    except LayoutError as refused:
        after = str(refused)
    assert len(built) == 2
    assert (after == before) == (change == "a comment")
    monkeypatch.setenv("LAYOUT3D_CACHE", "off")
    if isinstance(after, tuple):
        assert to_be_drawn() == after


@pytest.mark.parametrize("change", ["nothing", "a comment", "another depth", "another mesh", "another wall"])
def test_a_first_picture_of_a_scene_that_was_checked_builds_nothing(built, monkeypatch, change):
    """It is made of what was kept of the bodies, hangs on the same files, and is the same to the last bit."""

    def surfaces() -> bytes:
        forget()
        stage = answer.Known(Path("scene.yaml"), None).stage(())
        return key_of("surfaces", stage.pieces, stage.lines, stage.extents, stage.waters, stage.made_of)

    answer.Known(Path("scene.yaml"), None).scenery()
    before = surfaces()
    assert len(built) == 1
    {
        "nothing": lambda: None,
        "a comment": lambda: replace_text("units: mm", "units: mm  # millimetres"),
        "another depth": lambda: replace_text("depth: 60", "depth: 50"),
        "another mesh": lambda: stone(0.12),
        "another wall": lambda: wall(8),
    }[change]()
    after = surfaces()
    assert len(built) == (1 if change == "nothing" else 2)
    assert (after == before) == (change in ("nothing", "a comment"))
    monkeypatch.setenv("LAYOUT3D_CACHE", "off")
    assert surfaces() == after
    assert len(built) == (2 if change == "nothing" else 3)


READERS = {
    "files.py": "reads for all, and notes it; and the package's own data",
    "keep.py": "its own file, and the code",
    "commands/ending.py": "leads closed streams nowhere",
    "scene/starter.py": "the package's own scene",
    "report/schemas.py": "the package's own schemas",
    "solid/store.py": "a module outside of the package",
    "draw/contact_sheet.py": "pictures that it has drawn itself",
    "page/library.py": "the library that is installed",
    "page/page.py": "the package's own look and scripts",
    "report/writing.py": "the package's own pages",
    "folders.py": "what an export wrote before; nothing is computed from it",
    "film/reel.py": "what it wrote and drew itself; nothing is computed from it",
}


def test_nothing_reads_a_file_of_the_user_but_by_the_one_function_that_notes_it():
    """A file that is read past it could change, and the old answer be told."""
    words = (".read_bytes(", ".read_text(", ".open(", " open(", "fromfile(", "np.load(")
    found = {
        path.relative_to(PACKAGE).as_posix()
        for path in PACKAGE.rglob("*.py")
        for line in path.read_text(encoding="utf-8").splitlines()
        if any(word in line for word in words)
        and "def open(" not in line
        and "march.open(" not in line
        and "Image.open(io.BytesIO(read(" not in line
    }
    assert found <= set(READERS)
    assert "scene/file.py" not in found


def test_a_damaged_answer_is_made_anew(capsys, folder, built):
    told = ask(capsys)
    forget()
    (file,) = (folder / "cache" / keep.FOLDER).iterdir()
    content = file.read_bytes()
    assert b"water" in content
    file.write_bytes(content.replace(b"water", b"WATER"))
    assert ask(capsys) == told
    assert len(built) == 2


def test_findings_are_kept_for_all_commands_and_found_anew_after_any_change(monkeypatch):
    asked: list[object] = []

    def rules_run(model):
        asked.append(model)
        return examine(model)

    monkeypatch.setattr("layout3d.checks.examine.examine", rules_run)
    scene = Path("scene.yaml")
    first = answer.Known(scene, None).findings()
    known = answer.Known(scene, None)
    model, again = known.model(), known.findings()
    assert len(asked) == 1
    assert again == first == examine(model)
    assert {type(one.at) for one in again} <= {tuple, type(None)}
    answer.Known(scene, ["depth=70"]).findings()
    stone(0.11)
    answer.Known(scene, None).findings()
    assert len(asked) == 3
