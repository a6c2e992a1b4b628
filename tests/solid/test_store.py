"""Shapes are made once: under their arguments, operands, or the file they are read from."""

import enum
import subprocess
import sys
from dataclasses import dataclass

import numpy as np
import pytest

from layout3d import keep
from layout3d.keep import forget
from layout3d.solid.primitives import box
from layout3d.solid.shape import Placement, Shape
from layout3d.solid.store import READING, SHAPE, stored, stored_reading, stored_result

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


@pytest.fixture(autouse=True)
def folder(tmp_path, monkeypatch):
    forget()  # what other tests left to be filed goes to their folder
    monkeypatch.setenv("LAYOUT3D_CACHE", str(tmp_path / "cache"))
    monkeypatch.setattr(keep, "WORTH_FILING", 0.0)
    forget()
    made.clear()
    return tmp_path / "cache"


def test_made_once_in_memory_and_once_on_disk():
    first = block(2.0)
    assert block(2.0, 1.0) is first  # a default said aloud is the same argument
    forget()
    again = block(2.0)
    assert again == first
    assert again is not first
    assert len(made) == 1


def test_arguments_that_differ_in_value_or_type_are_kept_apart():
    distinct = [1, 1.0, True, "1", (1,), ((1,),), ("1",), Wood.OAK, Plan(1.0), Plan(1.0, (1,)), None]
    for value in distinct:
        block(3.0, plan=value)
    assert len(made) == len(distinct)
    block(3.0, plan=Plan(1.0, (1,)))
    block(3.0, y=-0.0 + 1.0)
    assert len(made) == len(distinct)


@pytest.mark.parametrize("value", [[1], {1}, np.array([object()]), object(), Loose(1.0), Plan])
def test_arguments_that_are_not_plain_data_are_refused(value):
    with pytest.raises(TypeError, match=r"must be plain data|array of objects"):
        block(1.0, plan=value)


def test_what_is_quick_to_make_gets_no_file(folder, monkeypatch):
    monkeypatch.setattr(keep, "WORTH_FILING", 10.0)
    block(6.0)
    forget()
    assert not folder.exists()


def test_another_process_finds_it(tmp_path):
    module = tmp_path / "kinds.py"
    module.write_text(
        "from layout3d import keep\nfrom layout3d.solid.primitives import box\n"
        "from layout3d.solid.store import stored\nkeep.WORTH_FILING = 0.0\n"
        "@stored\ndef slab(x: float):\n    print('made')\n    return box((x, 1.0, 1.0))\n"
        "if __name__ != '__main__':\n    print(slab(2.0).key)\n"
    )
    command = [sys.executable, "-c", "import kinds"]
    runs = [
        subprocess.run(command, cwd=tmp_path, capture_output=True, text=True, check=True) for _ in range(2)
    ]
    key = Shape.of(box((2.0, 1.0, 1.0)).vertices, box((2.0, 1.0, 1.0)).faces).key
    assert [run.stdout.split() for run in runs] == [["made", key], [key]]
    assert [run.stderr for run in runs] == ["", ""]


def test_a_reading_is_kept_with_its_note_under_content_and_settings():
    calls = []

    def read():
        calls.append(1)
        return box((1.0, 2.0, 3.0)), "two words: é"

    for _ in range(2):
        assert stored_reading(b"abc", "mm", read) == (box((1.0, 2.0, 3.0)), "two words: é")
        forget()
    assert len(calls) == 1
    stored_reading(b"abd", "mm", read)
    stored_reading(b"abc", "in", read)
    assert len(calls) == 3


def test_a_result_is_kept_under_its_operands_their_order_and_where_they_stand():
    a, b = box((1.0, 1.0, 1.0)).solid(), box((2.0, 1.0, 1.0)).solid()
    calls = []

    def act():
        calls.append(1)
        return box((1.0, 1.0, 1.0))

    for operands in ((a, b), (b, a), (a, b.moved(Placement.at((1.0, 0.0, 0.0)))), (a,), (a, b)):
        stored_result("join", operands, act)
    stored_result("cut", (a, b), act)
    assert len(calls) == 5
    for _ in range(2):
        assert stored_result("none", (a, b), lambda: calls.append(1)) is None
        forget()
    assert len(calls) == 6


@pytest.mark.parametrize("damage", [0.5, -1, 2**31 - 1, np.nan, np.inf])
def test_bytes_that_are_no_shape_are_refused(damage):
    """Corners out of range end in a crash of the libraries, so they are looked at whoever wrote them."""
    shape = box((1.0, 1.0, 1.0))
    content = bytearray(SHAPE.pack(shape))
    assert SHAPE.unpack(bytes(content)) == shape
    assert READING.unpack(READING.pack((shape, "é"))) == (shape, "é")
    begin = 8 + int.from_bytes(content[:8], "little")  # of its corners
    if isinstance(damage, int):
        content[-4:] = damage.to_bytes(4, "little", signed=True)
    elif np.isfinite(damage):
        content = content[: int(len(content) * damage)]
    else:
        content[begin : begin + 8] = np.float64(damage).tobytes()
    with pytest.raises(ValueError, match=r"a corner that is none|buffer"):
        SHAPE.unpack(bytes(content))
    for short in (b"", b"\x00" * 16, b"\xff" * 40):
        with pytest.raises(ValueError, match=r"."):
            SHAPE.unpack(short)
