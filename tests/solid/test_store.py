import enum
import subprocess
import sys
from dataclasses import dataclass

import numpy as np
import pytest

from layout3d.solid import store
from layout3d.solid.primitives import box
from layout3d.solid.shape import Shape
from layout3d.solid.store import cache_folder, forget, stored

made = []


class Wood(enum.Enum):
    OAK = 1


@dataclass(frozen=True)
class Plan:
    length: float
    turns: tuple[int, ...] = ()


@dataclass
class Loose:
    length: float


@stored
def block(x, y=1.0, *, plan=None):
    made.append((x, y, plan))
    return box((float(x) if not isinstance(x, str | tuple) else 1.0, y, 1.0))


@pytest.fixture
def folder(tmp_path, monkeypatch):
    monkeypatch.setenv("LAYOUT3D_CACHE", str(tmp_path / "cache"))
    monkeypatch.setattr(store, "WORTH_A_FILE", 0.0)
    forget()
    made.clear()
    return tmp_path / "cache"


def test_made_once_in_memory_and_once_on_disk(folder):
    first = block(2.0)
    assert block(2.0, 1.0) is first  # a default said aloud is the same argument
    forget()
    again = block(2.0)
    assert again == first
    assert again is not first
    assert len(made) == 1
    assert len(list(folder.glob("*.npz"))) == 1
    assert list(folder.glob("*.tmp")) == []


def test_arguments_that_differ_in_value_or_type_are_kept_apart(folder):
    distinct = [1, 1.0, True, "1", (1,), ((1,),), ("1",), Wood.OAK, Plan(1.0), Plan(1.0, (1,)), None]
    for value in distinct:
        block(3.0, plan=value)
    assert len(made) == len(distinct)
    block(3.0, plan=Plan(1.0, (1,)))
    block(3.0, y=-0.0 + 1.0)
    assert len(made) == len(distinct)


@pytest.mark.parametrize("value", [[1], {"a": 1}, np.zeros(2), object(), Loose(1.0), Plan])
def test_arguments_that_are_not_plain_data_are_refused(folder, value):
    with pytest.raises(TypeError, match="must be plain data"):
        block(1.0, plan=value)


@pytest.mark.parametrize("damage", ["cut", "garbage", "empty", "other shape"])
def test_a_damaged_entry_is_made_anew(folder, damage):
    first = block(2.5)
    (entry,) = folder.glob("*.npz")
    if damage == "cut":
        entry.write_bytes(entry.read_bytes()[:300])
    elif damage == "garbage":
        entry.write_bytes(b"garbage")
    elif damage == "empty":
        entry.write_bytes(b"")
    else:
        np.savez(entry, vertices=first.vertices * 2, faces=first.faces, key=np.array(first.key))
    forget()
    assert block(2.5) == first
    assert len(made) == 2
    forget()
    assert block(2.5) == first
    assert len(made) == 2  # and was written over


def test_off_and_folders_that_can_not_be_written(folder, tmp_path, monkeypatch):
    monkeypatch.setenv("LAYOUT3D_CACHE", "off")
    assert cache_folder() is None
    block(4.0)
    assert not folder.exists()
    (tmp_path / "file").write_text("in the way")
    monkeypatch.setenv("LAYOUT3D_CACHE", str(tmp_path / "file" / "cache"))
    assert block(5.0).volume == pytest.approx(5.0)


def test_the_folder_stays_under_its_limit(folder, monkeypatch):
    monkeypatch.setattr(store, "PRUNE_EVERY", 1)
    block(1.25)
    size = next(folder.glob("*.npz")).stat().st_size
    monkeypatch.setattr(store, "FOLDER_LIMIT", 3 * size + 10)
    for x in range(2, 9):
        block(float(x))
    assert len(list(folder.glob("*.npz"))) == 3
    forget()
    made.clear()
    block(8.0)  # the newest stayed
    assert made == []


def test_memory_is_bounded(folder, monkeypatch):
    monkeypatch.setattr(store, "MEMORY_LIMIT", 2000)
    for x in range(2, 30):
        block(float(x))
    assert sum(store._bytes(entry.shape) for entry in store._memory.values()) <= 2000


def test_what_is_quick_to_make_gets_no_file(folder, monkeypatch):
    monkeypatch.setattr(store, "WORTH_A_FILE", 10.0)
    block(6.0)
    assert not folder.exists()


def test_another_process_finds_it(folder, tmp_path):
    module = tmp_path / "kinds.py"
    module.write_text(
        "from layout3d.solid import store\nfrom layout3d.solid.primitives import box\n"
        "store.WORTH_A_FILE = 0.0\n"
        "@store.stored\ndef slab(x: float):\n    print('made')\n    return box((x, 1.0, 1.0))\n"
        "if __name__ != '__main__':\n    print(slab(2.0).key)\n"
    )
    command = [sys.executable, "-c", "import kinds"]
    outputs = [
        subprocess.run(command, cwd=tmp_path, capture_output=True, text=True, check=True).stdout.split()
        for _ in range(2)
    ]
    key = Shape.of(box((2.0, 1.0, 1.0)).vertices, box((2.0, 1.0, 1.0)).faces).key
    assert outputs == [["made", key], [key]]


def test_a_reading_is_kept_with_its_note_under_content_and_settings(folder):
    calls = []

    def read():
        calls.append(1)
        return box((1.0, 2.0, 3.0)), "two words: é"

    for _ in range(2):
        assert store.stored_reading(b"abc", "mm", read) == (box((1.0, 2.0, 3.0)), "two words: é")
        forget()
    assert len(calls) == 1
    store.stored_reading(b"abd", "mm", read)
    store.stored_reading(b"abc", "in", read)
    assert len(calls) == 3
