"""Field types: what each takes, how it says no, and that its schema and words agree with that."""

import math
from dataclasses import dataclass
from pathlib import Path

import jsonschema
import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from layout3d.errors import LayoutError
from layout3d.fields import (
    REQUIRED,
    CatalogName,
    Choice,
    Count,
    Flag,
    Length,
    Name,
    Number,
    Quantity,
    Text,
    _example,
    field,
    field_specs,
)
from layout3d.scene.node_reader import FAILED, NodeReader
from layout3d.scene.tree import read_tree


def read(type, text):
    """Return what a field type makes of a value written in YAML, or its mistakes."""
    reader = NodeReader()
    value = reader.read(read_tree(Path("x.yaml"), text=f"- {text}\n").value[0], type, "x")
    return tuple(reader.mistakes) if value is FAILED else value


def refusal(type, text) -> LayoutError:
    (only,) = read(type, text)
    assert (only.path, only.place.line) == ("x", 1)
    return only


@pytest.mark.parametrize(
    ("type", "text", "value"),
    [
        (Quantity(), "12", 0.012),  # a bare number counts in the file's unit, here mm
        (Quantity(), "3/4 in", 0.01905),
        (Quantity("angle"), "90", math.pi / 2),  # and degrees
        (Quantity("volume"), "20 L", 0.020),
        (Quantity("temperature"), "25 °C", 298.15),
        (Number(), "40 %", 0.4),
        (Count(), "7", 7),
        (Count(), "2 * 3", 6),
        (Text(), "hello there", "hello there"),
        (Text(), "1_000", "1_000"),
        (Text(), "true", "true"),
        (Flag(), "true", True),
        (Flag(), "false", False),
        (Choice(("clip", "cup")), "clip", "clip"),
        (Choice(("1", "2")), "1", "1"),
        (CatalogName("pipe"), '3/4" SCH40', "3/4 in sch 40"),
        (CatalogName("material"), "granite", "granite"),
        (Name("a part"), "tank.back", "tank.back"),
        (Name("a part", own=True), "tap_2", "tap_2"),
    ],
)
def test_what_is_taken(type, text, value):
    got = read(type, text)
    assert got == (pytest.approx(value) if isinstance(value, float) else value)
    assert not isinstance(value, bool) or got is value
    jsonschema.validate(yaml.safe_load(text), type.schema())


@pytest.mark.parametrize(
    ("type", "text", "told"),
    [
        (
            Quantity("length", least=0.0, most=2.0),
            "3 m",
            "3 m is 3,000 mm\n    expected a length of 0 mm or more, at most 2,000 mm",
        ),
        (Quantity("length", above=0.0), "0", "0 is 0 mm\n    expected a length above 0 mm"),
        (Quantity("angle", most=1.0), "90", "90 is 90°"),
        (Quantity("volume"), "20", "a bare number where a volume is wanted, in '20'"),
        (Quantity(), "12 kg", "a mass where a length is wanted, in '12 kg'"),
        (Quantity(), "[1]", "a list stands here"),
        (Quantity(), "{a: 1}", "a mapping stands here"),
        (Number(most=1.0), "60", "60\n    expected a number, at most 1"),
        (Count(1, 9), "0", "'0' is not such a number\n    expected a whole number from 1 to 9"),
        (Count(1, 9), "2.5", "'2.5' is not such a number"),
        (Text(5), "hello there", "11 characters\n    expected text of at most 5 characters"),
        (Flag(), "yes", "'yes' stands here\n    expected true or false"),
        (
            Choice(("clip", "cup")),
            "clop",
            "'clop' is not known here\n    expected one of: clip, cup; nearest: 'clip'",
        ),
        (CatalogName("pipe"), "3/4 in sch 41", "nearest: '3/4 in sch 40'"),
        (Name("a part"), "a part", "'a part' can't be a name\n    expected the name of a part"),
        (
            Name("a part", own=True),
            "a.b",
            "'a.b' can't be a name\n    expected letters, digits, _ and -, without dots",
        ),
    ],
)
def test_what_is_refused(type, text, told):
    assert told in str(refusal(type, text))


@given(st.floats(-5, 5), st.floats(-5, 5), st.floats(-5, 5))
def test_a_quantity_is_taken_within_its_limits_and_only_there(value, one, other):
    least, most = sorted((one, other))
    got = read(Quantity("length", least=least, most=most), f"{value!r} m")
    if least <= value <= most:
        assert got == pytest.approx(value, abs=1e-12)
    elif value < least - 1e-9 or value > most + 1e-9:
        assert isinstance(got, tuple)


@given(
    st.text(alphabet=st.characters(exclude_categories=("Cs", "Cc"), exclude_characters="\ufeff"), max_size=30)
)
def test_a_name_has_nothing_that_a_name_can_t_have(text):
    got = read(
        Name("a part"), yaml.safe_dump(text, default_style='"', allow_unicode=True, width=1000).strip()
    )
    if isinstance(got, str):
        assert got == text
        assert all(c.isalnum() or c in "._-" for c in got)


def test_fields_of_a_dataclass_are_told_in_order_with_defaults_of_their_own():
    @dataclass(frozen=True, kw_only=True)
    class Shelf:
        height: float = field(Quantity(), doc="over the floor")
        notes: dict = field(Text(), {"a": 1}, doc="remarks")
        plain: int = 3

    specs = field_specs(Shelf)
    assert list(specs) == ["height", "notes"]
    assert specs["height"].required
    assert specs["height"].default is REQUIRED
    assert specs["notes"].doc == "remarks"
    one, other = Shelf(height=1.0), Shelf(height=2.0)
    assert one.notes == {"a": 1}
    assert one.notes is not other.notes


@pytest.mark.parametrize(
    ("wanted", "system", "example"),
    [
        (Number(), "metric", "0.4"),  # that of the kind, where it lies within
        (Number(least=0.05, most=0.15), "metric", "0.1"),
        (Number(above=3.0), "metric", "6"),
        (Length(0.002, 0.05), "metric", "26 mm"),
        (Length(0.0, 1.0), "metric", "120 mm"),
        (Length(0.002, 0.0488), "inch", "1 in"),
    ],
)
def test_the_example_told_lies_within_a_fields_own_range(wanted, system, example):
    assert _example(wanted, system) == example
