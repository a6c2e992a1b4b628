"""How a run ends: exit code 1 means a fault was found, nothing else; what breaks off leaves nothing."""

import signal
import subprocess
import sys
from pathlib import Path
from types import ModuleType
from typing import ClassVar

import pytest

from layout3d.__main__ import run
from layout3d.cli import main
from layout3d.commands.ending import EXIT_CODES, ended_at_once, guarded

ROOT = Path(__file__).resolve().parent.parent
TANK = """\
format: 1
units: mm
waterline: 180
parts:
  tank: {kind: tank, inside: [300, 200, 250], glass: 6}
"""
RUN = f'"{sys.executable}" -m layout3d'


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch) -> Path:
    monkeypatch.chdir(tmp_path)
    Path("scene.yaml").write_text(TANK, encoding="utf-8")
    return tmp_path


def shell(command: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        ["bash", "-o", "pipefail", "-c", command], capture_output=True, text=True, timeout=120
    )


@pytest.mark.parametrize(
    ("command", "code", "told"),
    [
        ("schema scene >/dev/full", 4, "can't be written: No space left on device"),
        ("--help >/dev/full", 4, "No space left"),
        ("--version >&-", 4, "it is closed"),
        ("check scene.yaml >&-", 4, "it is closed"),
        ("check none.yaml --json >/dev/full", 4, "No space left"),
        ("schema scene >/dev/full 2>&-", 4, ""),
        ("--no-such-option 2>/dev/full", 2, ""),
        ("check none.yaml 2>&-", 2, ""),
        ("check scene.yaml <&- >/dev/null", 0, ""),
        ("schema scene | true", 141, ""),
        ("--no-such-option", 2, "No such option"),
    ],
)
def test_output_that_can_not_be_written_is_no_fault_of_the_scene(command, code, told):
    done = shell(f"{RUN} {command}")
    assert done.returncode == code, done.stderr
    assert told in done.stderr
    assert "Traceback" not in done.stderr
    assert done.stderr.count("\n") <= 6


def test_a_closed_output_is_never_a_file_that_is_opened_next(folder):
    """With descriptor 1 free, the next file opened would get it, and the report be written into it."""
    before = Path("scene.yaml").read_bytes()
    assert shell(f"{RUN} new mine >&-").returncode == 4
    assert shell(f"{RUN} check scene.yaml >&- 2>&-").returncode == 4
    assert Path("scene.yaml").read_bytes() == before
    assert Path("mine.yaml").read_bytes() == (ROOT / "scenes" / "ledge.yaml").read_bytes()


@pytest.mark.parametrize("name", [".", "..", "", "/", "a" * 300, "loop", "folder.yaml", "no/folder"])
def test_new_refuses_a_name_that_is_none(capsys, folder, name):
    Path("loop.yaml").symlink_to("loop.yaml")
    Path("folder.yaml").mkdir()
    before = sorted(folder.rglob("*"))
    assert main(["new", name]) == 2
    assert "fault of layout3d" not in capsys.readouterr().err
    assert sorted(folder.rglob("*")) == before


LONG = "a" * 300
SMALL = ("--size", "320x320", "--no-faults")  # what the picture shows is not what is asked


@pytest.mark.parametrize(
    "command",
    [
        ["check", "loop"],
        ["check", LONG],
        ["export", "scene.yaml", "--to", LONG],
        ["export", "scene.yaml", "--to", "loop"],
        ["export", "scene.yaml", "--to", "loop/below"],
        ["picture", "scene.yaml", "--to", LONG, *SMALL],
        ["picture", "scene.yaml", "--to", f"{LONG}.png", *SMALL],
        ["picture", "scene.yaml", "--to", "loop", *SMALL],
        ["volume", "scene.yaml", "--plot", f"{LONG}.png"],
        ["volume", "scene.yaml", "--plot", "loop.png"],
        ["flow", "scene.yaml", "--chart", f"{LONG}"],
        ["flow", "scene.yaml", "--chart", "loop"],
    ],
    ids=lambda command: " ".join(command).replace(LONG, "long"),
)
def test_links_that_go_round_and_names_too_long_are_refused(capsys, folder, command):
    Path("loop").symlink_to("loop")
    Path("loop.png").symlink_to("loop.png")
    before = sorted(folder.rglob("*"))
    assert main(command) == 2
    assert "fault of layout3d" not in capsys.readouterr().err
    assert sorted(folder.rglob("*")) == before


@pytest.mark.parametrize(
    "part",
    [
        "{{kind: rock, mesh: {name}.stl, longest: 200, at: [150, 100, 0]}}",
        "{{kind: background, panels: [back], thickness: 30, relief: {{image: {name}.png, depth: 20}}}}",
    ],
)
def test_a_mesh_or_picture_behind_a_link_that_goes_round_is_a_mistake_of_the_scene(capsys, part):
    for suffix in ("stl", "png"):
        Path(f"loop.{suffix}").symlink_to(f"loop.{suffix}")
    Path("bad.yaml").write_text(f"{TANK}  other: {part.format(name='loop')}\n", encoding="utf-8")
    assert main(["check", "bad.yaml"]) == 2
    told = capsys.readouterr().err
    assert told.startswith("bad.yaml:6:")
    assert "can't be read" in told


SLOW = {
    "export": ("layout3d.draw.export", "_scene_glb", ["export", "scene.yaml", "--to", "deep/out"]),
    "make": ("pathlib", "Path.write_bytes", ["make", "scene.yaml", "--to", "deep/out"]),
    "picture": ("PIL.Image", "Image.save", ["picture", "scene.yaml", "--to", "deep/out", *SMALL]),
    "plot": ("matplotlib.figure", "Figure.savefig", ["volume", "scene.yaml", "--plot", "a.png"]),
    "new": ("pathlib", "Path.write_text", ["new", "mine"]),
}


@pytest.mark.parametrize(
    ("what", "number"),
    [
        ("export", signal.SIGINT),
        ("make", signal.SIGINT),
        ("picture", signal.SIGHUP),
        ("plot", signal.SIGTERM),
        ("new", signal.SIGHUP),
    ],
)
def test_a_signal_while_files_are_written_leaves_nothing_behind(folder, what, number):
    """The write itself is held up, half done, until the signal comes."""
    module, name, command = SLOW[what]
    code = (
        f"import signal, sys, time, {module} as module\n"
        "signal.signal(signal.SIGINT, signal.default_int_handler)\n"  # which a run in the background ignores
        "signal.signal(signal.SIGHUP, signal.SIG_DFL)\n"  # and this one a run that outlives its terminal
        "def held(*given, **_):\n"
        "    for file in given:\n"
        "        if hasattr(file, 'open') and hasattr(file, 'suffix'):\n"
        "            file.open('w').write('half')\n"
        "    print('writing', file=sys.stderr, flush=True)\n"
        "    for _ in range(6000): time.sleep(0.01)\n"  # one long sleep may miss a signal just before it
        "from layout3d.cli import main\n"
        f"owner = module\nfor each in {name!r}.split('.')[:-1]: owner = getattr(owner, each)\n"
        f"setattr(owner, {name.split('.')[-1]!r}, held)\n"
        f"sys.exit(main({command!r}))\n"
    )
    run = subprocess.Popen([sys.executable, "-c", code], stderr=subprocess.PIPE, text=True)
    assert run.stderr is not None
    assert run.stderr.readline() == "writing\n"
    assert sorted(path.name for path in folder.rglob("*")) != ["scene.yaml"]  # something was half written
    run.send_signal(number)
    _, told = run.communicate(timeout=60)
    assert (run.returncode, told) == (128 + number, "")
    assert [path.name for path in folder.rglob("*")] == ["scene.yaml"]


def test_new_on_a_full_disk_leaves_nothing(folder):
    done = shell(f"ulimit -f 0; trap '' XFSZ; {RUN} new mine")
    assert done.returncode == 2
    assert "mine.yaml: can't be written: File too large" in done.stderr
    assert [path.name for path in folder.iterdir()] == ["scene.yaml"]


def test_the_exit_codes_are_told_in_help_and_docs(capsys):
    assert main(["--help"]) == 0
    told = " ".join(capsys.readouterr().out.split())
    page = " ".join((ROOT / "README.md").read_text(encoding="utf-8").split())
    for code, meaning in EXIT_CODES.items():
        assert f"{code}: {meaning}." in told
        assert f"| {code} | {meaning} |" in page


class Loading(ModuleType):
    """The command line as it is loaded: notes what Ctrl-C does meanwhile, and as the command runs."""

    seen: ClassVar[list[object]] = []

    def __getattr__(self, name):
        if name != "main":
            raise AttributeError(name)
        self.seen.append(signal.getsignal(signal.SIGINT))
        return lambda: self.seen.append(signal.getsignal(signal.SIGINT)) or 5


@pytest.fixture
def interrupted():
    """Set what Ctrl-C does as it is in a process of its own, which a run in the background ignores."""
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    yield signal.default_int_handler
    signal.signal(signal.SIGINT, before)


def test_while_the_command_loads_the_system_answers_a_signal(monkeypatch, interrupted):
    monkeypatch.setitem(sys.modules, "layout3d.cli", Loading("layout3d.cli"))
    assert run() == 5
    assert Loading.seen == [signal.SIG_DFL, interrupted]
    assert signal.getsignal(signal.SIGINT) == signal.SIG_DFL  # nothing is left to be done
    assert run() == 5
    assert Loading.seen[2:] == [signal.SIG_DFL] * 2  # what a host set stays


def test_while_the_windows_libraries_load_the_system_answers_a_signal(interrupted):
    numbers = [signal.SIGINT, signal.SIGTERM]
    with guarded():
        ours = [signal.getsignal(number) for number in numbers]
        with ended_at_once():
            assert [signal.getsignal(number) for number in numbers] == [signal.SIG_DFL] * 2
        assert [signal.getsignal(number) for number in numbers] == ours
