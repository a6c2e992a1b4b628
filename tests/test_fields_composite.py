"""Field types made of others: what each takes, and that one bad value doesn't hide another."""

import math
from dataclasses import dataclass
from pathlib import Path

import jsonschema
import pytest
import yaml

from layout3d.errors import SceneMistake
from layout3d.fields import FieldSpec, Name, Quantity, field
from layout3d.fields_composite import (
    Coordinate,
    Either,
    Entries,
    Listing,
    Point,
    PositionType,
    Record,
    Steps,
    Turn,
    TurnType,
    record,
)
from layout3d.scene.node_reader import FAILED, NodeReader
from layout3d.scene.tree import read_tree

LENGTH = Quantity("length", least=0.0)


def read(type, text):
    """Return what a field type makes of a value written in YAML, and the mistakes."""
    reader = NodeReader()
    value = reader.read(read_tree(Path("x.yaml"), text=f"- {text}\n").value[0], type, "x")
    return (None if value is FAILED else value), [(m.path, m.found) for m in reader.mistakes]


def taken(type, text):
    value, mistakes = read(type, text)
    assert not mistakes
    jsonschema.validate(yaml.safe_load(text), type.schema())
    return value


@dataclass(frozen=True, kw_only=True)
class Shelf:
    height: float = field(LENGTH, doc="over the floor")
    boards: tuple[float, ...] = field(Listing(LENGTH, most=3), (), doc="their thickness")
    holes: dict[str, float] = field(Entries(LENGTH, "a hole"), {}, doc="by name")

    def __post_init__(self):
        if self.height > 2:
            raise SceneMistake("too high", path="height")
        if len(self.boards) == 2:
            raise SceneMistake("an even number of boards", path="boards[2]")
        if "bad" in self.holes:
            raise SceneMistake("a bad hole", path="holes.bad.left")


SHELF = record(Shelf, "a shelf")


def test_lists_records_and_entries():
    assert taken(Listing(LENGTH), "[1, 2 mm, 1 in]") == pytest.approx((0.001, 0.002, 0.0254))
    assert taken(Listing(LENGTH), "5") == pytest.approx((0.005,))
    assert taken(Entries(LENGTH), "{a: 1, b: 2}") == pytest.approx({"a": 0.001, "b": 0.002})
    shelf = taken(SHELF, "{height: 900, boards: [18, 18, 18]}")
    assert shelf == Shelf(height=0.9, boards=(0.018,) * 3)
    assert taken(Point(("x", "y")), "[1, 2]") == pytest.approx((0.001, 0.002))


def test_every_bad_value_is_told_with_its_path():
    assert read(Listing(LENGTH), "[1, -1, kg, 2]")[1] == [
        ("x[2]", "-1 is -1 mm"),
        ("x[3]", "no value is called 'kg'"),
    ]
    _, told = read(SHELF, "{hight: 3, boards: [1, a], holes: {b c: 1, d: e}}")
    assert told == [
        ("x", "a shelf has no key 'hight'"),
        ("x.boards[2]", "no value is called 'a'"),
        ("x.holes", "'b c' can't be a name"),
        ("x.holes.d", "no value is called 'e'"),
    ]
    assert read(SHELF, "{boards: [1]}")[1] == [("x", "a shelf lacks 'height'")]  # nothing is misspelt there
    assert read(Point(), "[a, 1, b]")[1] == [
        ("x.x", "no value is called 'a'"),
        ("x.z", "no value is called 'b'"),
    ]
    steps = Steps(
        {"cap": "end"}, {"up": Record({"up": FieldSpec(name="up", type=LENGTH, default=0, doc="")}, "up")}
    )
    assert read(steps, "[up, {up: -1}, {down: 3}, cap, {cap: 1}, 7]")[1] == [
        ("x[1]", "step 'up' without its value"),
        ("x[2].up", "-1 is -1 mm"),
        ("x[3]", "step 'down' is not known"),
        ("x[5]", "step 'cap' with a value"),
        ("x[6]", "step '7' is not known"),
    ]


@pytest.mark.parametrize(
    ("text", "path", "place"),
    [
        ("{height: 3 m}", "x.height", (1, 12)),
        ("{height: 1 m, boards: [1, 2]}", "x.boards[2]", (1, 29)),
        ("{height: 1 m, holes: {ok: 1, bad: 2}}", "x.holes.bad.left", (1, 37)),  # as far as the path leads
    ],
)
def test_what_a_record_refuses_as_a_whole_is_told_where_it_says(text, path, place):
    reader = NodeReader()
    node = read_tree(Path("x.yaml"), text=f"- {text}\n").value[0]
    assert reader.read(node, SHELF, "x") is FAILED
    (only,) = reader.mistakes
    assert only.path == path
    assert (only.place.line, only.place.column) == place


@pytest.mark.parametrize(
    ("type", "text", "told"),
    [
        (Listing(LENGTH, least=2, most=3), "[1]", "1 entry"),
        (Listing(LENGTH, least=2, most=3), "[1, 2, 3, 4]", "4 entries"),
        (Entries(LENGTH), "[1]", "no mapping stands here"),
        (SHELF, "3", "no mapping stands here"),
        (Point(), "[1, 2]", "no list of 3 stands here"),
        (Either(scalar=LENGTH), "[1]", "a list stands here"),
        (Steps({}, {}), "up", "no list stands here"),
        (Steps({"cap": ""}, {}), "[{}]", "no step stands here"),
    ],
)
def test_a_value_of_the_wrong_make_is_refused(type, text, told):
    ((_, found),) = read(type, text)[1]
    assert found == told


def test_either_reads_by_what_stands_there():
    either = Either(scalar=LENGTH, list=Point(("x", "y")), map=Entries(LENGTH))
    assert taken(either, "5") == pytest.approx(0.005)
    assert taken(either, "[1, 2]") == pytest.approx((0.001, 0.002))
    assert taken(either, "{a: 1}") == pytest.approx({"a": 0.001})


def test_positions_are_read_still_relative():
    three = taken(PositionType(), "[1, 2, 3]")
    assert (three.x, three.y, three.z) == (
        Coordinate("x", 0.001),
        Coordinate("y", 0.002),
        Coordinate("z", 0.003),
    )
    faces = taken(PositionType(), "{right: 10, back: 20, waterline: -30, in: sump.a}")
    assert (faces.x, faces.y, faces.z) == (
        Coordinate("right", 0.01),
        Coordinate("back", 0.02),
        Coordinate("waterline", -0.03),
    )
    assert faces.space == "sump.a"
    assert taken(PositionType(), "drain.inside").base == "drain.inside"
    offset = taken(PositionType(), "{from: drain, offset: [0, 0, 50]}")
    assert (offset.base, offset.offset) == ("drain", (0.0, 0.0, 0.05))
    assert offset.path == "x"


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("[1, 2]", ["a list of 2 stands here"]),
        ("{left: 1, back: 2}", ["nothing of bottom, top, ground, waterline, z in a position"]),
        ("{left: 1, right: 3, back: 2, top: 1}", ["left and right in a position"]),
        (
            "{lefft: 1, rear: 2, top: a}",
            [
                "'lefft' is not known in a position",
                "'rear' is not known in a position",
                "no value is called 'a'",
            ],
        ),
        ("{from: a, offst: [1, 2, 3]}", ["'offst' beside 'from' in a position"]),
        ("{from: a b}", ["'a b' can't be a name"]),
        ("{left: 21 m, front: 0, top: 0}", ["21 m"]),
    ],
)
def test_a_bad_position_is_told(text, told):
    assert [found for _, found in read(PositionType(), text)[1]] == told


def test_turns():
    assert taken(TurnType(), "90").about_up == pytest.approx(math.pi / 2)
    assert taken(TurnType(), "{tip_front: 30 deg, tip_right: 0.5 rad, about_length: -1 rad}") == Turn(
        tip_back=pytest.approx(-math.pi / 6), tip_right=0.5, about_length=-1.0
    )
    assert read(TurnType(), "{tip_left: 3, tip_right: 2}")[1] == [
        ("x", "it tips to the left and to the right")
    ]
    assert read(TurnType(), "{tip_left: -3}")[1][0][1] == "-3 is -3°"
    assert read(TurnType(), "400")[1] == [("x", "400 is 400°")]
    assert read(TurnType(), "{spn: 4}")[1] == [("x", "a turn has no key 'spn'")]


def test_words_say_what_to_write():
    assert Listing(LENGTH, least=2, most=2).words().startswith("a list of 2: a length of 0 mm or more")
    assert Either(scalar=LENGTH, list=LENGTH).words() == "a length of 0 mm or more"
    assert Entries(Name("a part"), "hole").words() == "name: hole, each the name of a part"
    assert SHELF.words() == "a shelf with height, boards, holes"
