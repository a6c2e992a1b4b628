"""What is kept never changes a result, whatever lies in the folder, and touches nothing that isn't ours."""

import os
import random
import sqlite3
import stat
import subprocess
import sys
from pathlib import Path
from types import MappingProxyType

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from layout3d import keep
from layout3d.cli import main
from layout3d.keep import FIGURES, Form, cache_folder, code_of, forget, kept, key_of, remembered


@pytest.fixture(autouse=True)
def folder(tmp_path, monkeypatch):
    forget()  # what others left to be filed goes to their folder
    monkeypatch.setenv("LAYOUT3D_CACHE", str(tmp_path / "cache"))
    forget()
    yield tmp_path / "cache"
    forget()


def ask(name: object, value: tuple[float, ...] = (1.0, 2.5)) -> tuple[float, ...]:
    return kept(key_of("test", name), FIGURES, lambda: value, worth=0.0)


def the_file(folder: Path) -> Path:
    return folder / keep.FOLDER / keep.NAMES[0]


def rows(file: Path, statement: str = "SELECT count(*) FROM kept") -> list[tuple[object, ...]]:
    connection = sqlite3.connect(file)
    with connection:
        found = connection.execute(statement).fetchall()
    connection.close()
    return found


def test_the_next_run_finds_it_and_a_none_or_an_error_is_not_kept(folder):
    ask("a")
    assert kept(key_of("none"), FIGURES, lambda: None, worth=0.0) is None
    with pytest.raises(ZeroDivisionError):
        kept(key_of("error"), FIGURES, lambda: 1 / 0, worth=0.0)
    forget()
    assert ask("a", (9.0,)) == (1.0, 2.5)
    assert ask("b", ()) == ()
    forget()
    assert rows(the_file(folder)) == [(2,)]
    text = Form("text", str.encode, bytes.decode, len)
    assert kept(key_of("test", "a"), text, lambda: "of another form") == "of another form"


def test_what_is_filed_once_is_not_filed_again(folder):
    key, packed = key_of("once"), []
    text = Form("text", lambda value: packed.append(value) or value.encode(), bytes.decode, len)
    for value in ("first", "second"):
        keep.file_away(key, text, value, once=True)
        forget()
    assert packed == ["first"]
    assert keep.recalled(key, text) == "first"


def test_keys_differ_wherever_an_input_does():
    values = [
        1, 1.0, True, "1", b"1", (1,), ((1,),), ("1",), None, "", b"", (), (None,), ("a", "b"), ("ab",),
        np.array([1.0]), np.array([1]), np.array([[1.0]]), np.array([1.0, 0.0]), np.float32(1.0),
    ]  # fmt: skip
    assert len({key_of("x", value) for value in values}) == len(values)
    assert key_of("x", "y") != key_of("xy") != key_of("x", "", "y")
    assert key_of("x", -0.0) == key_of("x", 0.0)


def test_mappings_differ_by_what_they_hold_and_its_order():
    keys = {key_of("m", content) for content in ({"a": 1.0}, {"a": 2.0}, {"b": 1.0}, (("a", 1.0),), {})}
    assert len(keys) == 5
    assert key_of("m", {"a": 1, "b": 2}) == key_of("m", MappingProxyType({"a": 1, "b": 2}))
    assert key_of("m", {"a": 1, "b": 2}) != key_of("m", {"b": 2, "a": 1})


def test_what_is_remembered_is_made_once_and_never_filed(folder):
    made = []

    def make():
        made.append(1)
        return object()

    first = remembered("thing", 1.0, ("a",), make=make)
    assert remembered("thing", 1.0, ("a",), make=make) is first
    assert remembered("thing", 2.0, ("a",), make=make) is not first
    assert len(made) == 2
    forget()
    assert not any(path.is_file() for path in folder.rglob("*"))
    assert remembered("thing", 1.0, ("a",), make=make) is not first


def test_the_code_is_told_by_content_and_by_part():
    assert len({code_of(), code_of("solid"), code_of("parts"), code_of("solid", "parts")}) == 4


def test_folder_and_file_are_the_user_s_alone(folder):
    ask("a")
    forget()
    assert stat.S_IMODE((folder / keep.FOLDER).stat().st_mode) == 0o700
    assert stat.S_IMODE(the_file(folder).stat().st_mode) == 0o600
    assert [path.name for path in (folder / keep.FOLDER).iterdir()] == [keep.NAMES[0]]


@pytest.mark.parametrize("what", ["folder", "file"])
def test_what_others_may_look_into_is_neither_used_nor_changed(folder, what):
    ask("a")
    forget()
    shared = folder / keep.FOLDER if what == "folder" else the_file(folder)
    shared.chmod(0o755 if what == "folder" else 0o644)
    before = the_file(folder).read_bytes()
    assert ask("a", (9.0,)) == (9.0,)
    forget()
    assert the_file(folder).read_bytes() == before


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() != 0, reason="gives files away, as root may")
@pytest.mark.parametrize("what", ["folder", "file"])
def test_what_is_another_s_is_not_used(folder, what):
    ask("a")
    forget()
    os.chown(folder / keep.FOLDER if what == "folder" else the_file(folder), 65534, 65534)
    assert ask("a", (9.0,)) == (9.0,)


def test_entries_that_were_swapped_are_made_anew(folder):
    """Each is whole, and lies under the other's key."""
    ask("a", (100.59,))
    ask("b", (119.58,))
    forget()
    (a, *of_a), (b, *of_b) = rows(the_file(folder), "SELECT key, seal, content FROM kept ORDER BY content")
    connection = sqlite3.connect(the_file(folder))
    with connection:
        for key, (seal, content) in ((a, of_b), (b, of_a)):
            connection.execute("UPDATE kept SET seal = ?, content = ? WHERE key = ?", (seal, content, key))
    connection.close()
    assert ask("a", (1.0,)) == (1.0,)
    assert ask("b", (2.0,)) == (2.0,)
    forget()
    assert (ask("a", (9.0,)), ask("b", (9.0,))) == ((1.0,), (2.0,))  # and was written over


DAMAGES = {
    "rewritten": "UPDATE kept SET content = zeroblob(16)",
    "sealless": "UPDATE kept SET seal = NULL",
    "text": "UPDATE kept SET content = 'text', seal = 'text', used = 'text'",
    "dropped": "DROP TABLE kept",
    "another table": "DROP TABLE kept; CREATE TABLE kept (key TEXT, price INTEGER)",
    "a view": "DROP TABLE kept; CREATE VIEW kept AS SELECT 1 AS key, 2 AS seal, 3 AS used, 4 AS content",
    "a trigger": "CREATE TRIGGER t BEFORE INSERT ON kept BEGIN SELECT RAISE(ABORT, 'no'); END",
}


@pytest.mark.parametrize("damage", [*DAMAGES, "cut", "garbage", "empty", "zeros", "no magic"])
def test_damage_costs_time_once(folder, damage):
    ask("a")
    forget()
    file = the_file(folder)
    if damage in DAMAGES:
        connection = sqlite3.connect(file)
        connection.executescript(DAMAGES[damage])
        connection.close()
    else:
        content = file.read_bytes()
        file.write_bytes(
            {
                "cut": content[:5000],
                "garbage": b"garbage " * 1000,
                "empty": b"",
                "zeros": bytes(len(content)),
                "no magic": b"x" + content[1:],
            }[damage]
        )
    for _ in range(2):
        assert ask("a", (7.0,)) in ((7.0,), (1.0, 2.5))
        ask("new", (3.0,))
        forget()
    assert ask("new", (9.0,)) == (3.0,)


def test_what_is_not_ours_is_left_alone_and_done_without(folder, tmp_path):
    own = folder / keep.FOLDER
    own.mkdir(parents=True, mode=0o700)
    mine = tmp_path / "mine"
    mine.write_bytes(b"a thesis")
    (own / keep.NAMES[0]).symlink_to(mine)
    os.mkfifo(own / keep.NAMES[1], 0o600)  # one that is opened hangs
    foreign = own / keep.NAMES[2]
    connection = sqlite3.connect(foreign)  # a sound database with a table of this name, of another program
    connection.executescript("CREATE TABLE kept (key BLOB, seal BLOB, used INTEGER, content BLOB)")
    connection.close()
    foreign.chmod(0o600)
    for name in ("big.npz", f"{'a' * 64}.npz", "part-1.tmp"):
        (folder / name).write_bytes(b"mine")
        (own / name).write_bytes(b"mine")
    before = {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()}
    assert ask("a") == (1.0, 2.5)
    forget()
    assert ask("a", (9.0,)) == (9.0,)
    forget()
    assert {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()} == before
    (own / keep.NAMES[1]).unlink()
    ask("a")
    forget()
    assert ask("a", (9.0,)) == (1.0, 2.5)  # a name that is free is taken


@pytest.mark.parametrize("tail", ["-journal", "-wal", "-shm"])
def test_files_that_the_database_would_take_for_its_own_are_left_alone(folder, tail):
    ask("a")
    forget()
    beside = Path(f"{the_file(folder)}{tail}")
    beside.write_bytes(b"mine" * 200)
    assert ask("a", (9.0,)) == (9.0,)
    forget()
    assert beside.read_bytes() == b"mine" * 200


def test_off_and_folders_that_can_not_be_had(folder, tmp_path, monkeypatch):
    (tmp_path / "text").write_text("in the way")
    (tmp_path / "loop").symlink_to("loop")
    for wish in (
        "off",
        f"{tmp_path}/text/a",
        f"{tmp_path}/loop",
        "~nobody-of-this-name/a",
        "/proc/a",
        "a" * 5000,
    ):
        monkeypatch.setenv("LAYOUT3D_CACHE", wish)
        assert ask("a", (4.0,)) == (4.0,)
        forget()
    assert cache_folder() == Path("a" * 5000)
    assert not folder.exists()


def test_the_file_stays_under_its_limit_and_the_oldest_go(folder, monkeypatch):
    monkeypatch.setattr(keep, "FOLDER_LIMIT", 400_000)
    clock = iter(range(1_000_000, 2_000_000, 100_000))
    for name in range(8):
        now = next(clock)
        monkeypatch.setattr(keep.time, "time", lambda now=now: now)
        ask(name, (float(name),) * 10_000)
        forget()
        ask(0, (9.0,))  # the first is used again and again
        forget()
    kept_rows = rows(the_file(folder))[0][0]
    assert 2 <= kept_rows <= 5
    assert the_file(folder).stat().st_size < 600_000
    assert ask(7, (9.0,)) == (7.0,) * 10_000
    assert ask(0, (9.0,)) == (0.0,) * 10_000
    assert ask(1, (9.0,)) == (9.0,)


def test_what_waits_is_written_when_asked_and_then_not_before_there_is_more_of_it(folder):
    keep.write_waiting(10**6)
    ask("a", (1.0,) * 100_000)
    assert not folder.exists() or not rows(the_file(folder))[0][0]
    ask("b", (1.0,) * 100_000)  # over the limit together
    assert rows(the_file(folder))[0][0] == 2
    ask("c")
    keep.write_waiting(10**6)
    assert rows(the_file(folder))[0][0] == 3
    ask("d", (1.0,) * 100_000)
    forget()  # writes it, and all is as it was
    assert rows(the_file(folder))[0][0] == 4
    ask("e", (1.0,) * 600_000)
    assert rows(the_file(folder))[0][0] == 5


def test_memory_is_bounded(monkeypatch):
    monkeypatch.setattr(keep, "MEMORY_LIMIT", 5_000)
    for name in range(100):
        ask(name, (1.0,) * 20)
    assert keep._held == sum(size for _, size in keep._memory.values()) <= 5_000
    assert len(keep._memory) > 10


def test_a_large_result_that_is_filed_pushes_no_others_out_of_memory(folder, monkeypatch):
    monkeypatch.setattr(keep, "MEMORY_LIMIT", 20_000)
    for name in range(40):
        ask(name, (1.0,) * 20)
    held = len(keep._memory)
    for name in "abc":
        assert ask(name, (2.0,) * 1_000) == (2.0,) * 1_000
        assert ask(name, (9.0,)) == (2.0,) * 1_000  # from the file, or as long as there is room for it
    assert len(keep._memory) >= held
    assert all(ask(name, (9.0,)) == (1.0,) * 20 for name in range(40))
    assert keep._held <= 20_000


def test_a_run_that_finds_the_file_locked_does_without(folder, monkeypatch):
    monkeypatch.setattr(keep, "BUSY_FOR", 0.01)
    ask("a")
    forget()
    other = sqlite3.connect(the_file(folder), isolation_level=None)
    other.execute("BEGIN EXCLUSIVE")
    assert ask("a", (9.0,)) == (9.0,)
    forget()
    other.execute("ROLLBACK")
    other.close()
    assert ask("a", (9.0,)) == (1.0, 2.5)


def test_a_full_disk_costs_nothing_but_time(folder):
    ask("a")
    forget()
    size = the_file(folder).stat().st_size
    script = (
        "import resource, sys\nfrom layout3d.keep import FIGURES, kept, key_of\n"
        "sys.dont_write_bytecode = True\n"  # a module would be cut off at the limit, and read by the next run
        f"resource.setrlimit(resource.RLIMIT_FSIZE, ({size}, {size}))\n"
        "print(kept(key_of('big'), FIGURES, lambda: (1.0,) * 100_000, worth=0.0)[0])\n"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True)
    assert (done.returncode, done.stdout, done.stderr) == (0, "1.0\n", "")
    assert ask("a", (9.0,)) == (1.0, 2.5)


def test_runs_at_once_give_what_one_alone_gives(folder):
    script = (
        "from layout3d.keep import FIGURES, forget, kept, key_of\n"
        "for round in range(15):\n"
        "    for n in range(20):\n"
        "        row = kept(key_of('n', n), FIGURES, lambda: (float(n),) * 500, worth=0.0)\n"
        "        assert row == (float(n),) * 500, n\n"
        "    forget()\n"
    )
    runs = [subprocess.Popen([sys.executable, "-c", script], stderr=subprocess.PIPE) for _ in range(4)]
    assert [(run.communicate()[1], run.returncode) for run in runs] == [(b"", 0)] * 4
    assert rows(the_file(folder)) == [(20,)]


def damage(file: Path, seed: int) -> None:
    """Do something at random to a file: overwrite, cut, repeat or swap pieces of it."""
    chance = random.Random(seed)
    content = bytearray(file.read_bytes())
    for _ in range(chance.choice([1, 3, 50])):
        at, to = chance.randrange(len(content)), chance.randrange(len(content))
        length = chance.choice([1, 8, 500, 5000])
        match chance.randrange(5):
            case 0:
                content[at : at + length] = chance.randbytes(len(content[at : at + length]))
            case 1:
                content[at : at + length] = bytes(len(content[at : at + length]))
            case 2:
                here, there = bytes(content[at : at + length]), bytes(content[to : to + length])
                if len(here) == len(there):
                    content[to : to + length], content[at : at + length] = here, there
            case 3:
                # whole pages trade places: each is sound in itself
                a, b = at // 4096 * 4096, to // 4096 * 4096
                here, there = bytes(content[a : a + 4096]), bytes(content[b : b + 4096])
                if len(here) == len(there):
                    content[a : a + 4096], content[b : b + 4096] = there, here
            case 4:
                content[at] ^= 1 << chance.randrange(8)
    if chance.random() < 0.1:
        content = content[: chance.randrange(1, len(content))]
    file.write_bytes(content)


@settings(max_examples=30, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(seed=st.integers(0, 2**32))
def test_random_damage_never_changes_what_is_kept(folder, seed):
    truth = {name: (float(name), name / 7.0) * (1 + name % 3 * 400) for name in range(30)}
    for name, value in truth.items():
        ask(name, value)
    forget()
    damage(the_file(folder), seed)
    for _ in range(2):
        assert {name: ask(name, value) for name, value in truth.items()} == truth
        forget()
    for path in (folder / keep.FOLDER).iterdir():
        path.unlink()


SCENE = """\
format: 1
units: mm
waterline: 150
parts:
  tank: {kind: tank, inside: [500, 300, 300], glass: 8}
  wall: {kind: background, panels: [back], thickness: 40, relief: {pitch: 40}}
  sand: {kind: substrate, depth: 30, pitch: 50}
  stone: {kind: rock, detail: 300, size: [120, 100, 80], at: {left: 150, front: 100, ground: -10}}
  log: {kind: wood, detail: 2000, length: 150, thickness: 25, at: {left: 350, front: 120, ground: -10}}
"""


def test_random_damage_to_the_folder_never_changes_a_report(folder, capsys, tmp_path):
    scene = tmp_path / "scene.yaml"
    scene.write_text(SCENE, encoding="utf-8")
    assert main(["check", str(scene), "--json"]) == 0
    report = capsys.readouterr().out
    forget()
    sound = the_file(folder).read_bytes()
    assert len(sound) > 20_000
    for seed in range(4):
        the_file(folder).write_bytes(sound)
        damage(the_file(folder), seed)
        assert main(["check", str(scene), "--json"]) == 0
        told = capsys.readouterr()
        assert (told.out, told.err) == (report, "")
        forget()
        for path in (folder / keep.FOLDER).iterdir():
            path.unlink()
