"""Values written back: one value's characters change, everything else stays to the last character."""

from __future__ import annotations

import difflib
import math
from pathlib import Path

import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from layout3d.errors import SceneMistake, UnknownName
from layout3d.fields import Node
from layout3d.scene.arithmetic import Quantity, as_kind, evaluate
from layout3d.scene.reader import read_scene
from layout3d.scene.tree import read_tree
from layout3d.scene.write_back import changed, stands_at, text_at, written_like

GORGE = Path("scenes/gorge.yaml").read_text(encoding="utf-8")
SMALL = """\
# a small one, with a 'µ' and a "quote"
units: mm
values:
  depth: 3/4 in    # as the pipe is called
  start: depth
  half: depth / 2
parts:
  stone: {kind: rock, at: {left: 40, front: depth, ground: -5}, turn: 10}   # the first
  log:
    kind: wood
    at: [start, 1 ft 6 in, "12.5"]

    # a word between
    turn:
      about_up: 20°
      tip_left: 5
  post: {kind: rock, at: {left: half, front: tank.inside_depth, ground: 0}}
"""


def quantity_of_nothing(name: str) -> Quantity:
    raise AssertionError(name)


def single_values(node: Node, path: str = "") -> list[str]:
    if node.kind == "map":
        return [
            one
            for key, child in node.value.items()
            for one in single_values(child, f"{path}.{key}" if path else key)
        ]
    if node.kind == "list":
        return [
            one
            for index, child in enumerate(node.value, 1)
            for one in single_values(child, f"{path}[{index}]")
        ]
    return [path]


def lines_changed(before: str, after: str) -> list[str]:
    return [line for line in difflib.ndiff(before.splitlines(), after.splitlines()) if line[0] in "+-"]


ALL = [*single_values(read_tree(Path("gorge"), text=GORGE))]


@settings(max_examples=8, deadline=None)
@given(
    path=st.sampled_from(ALL),
    value=st.sampled_from(["12 mm", "-3/4 in", "5' 6\"", "45°", "a, b", "x: #1", "'"]),
)
def test_any_value_of_a_whole_scene_changes_alone(path, value):
    """The difference is one line; what stands before and behind the value in it, comment too, is the same."""
    try:
        at = stands_at(GORGE, path)
    except SceneMistake:
        assert any(sign in text_at(GORGE, path) for sign in "+-/*.")
        with pytest.raises(SceneMistake, match="arithmetic"):
            changed(GORGE, {path: value})
        return
    old = text_at(GORGE, at)
    new = changed(GORGE, {path: value})
    assert text_at(new, at) == value
    lost, put = lines_changed(GORGE, new)
    head = next(i for i, (a, b) in enumerate(zip(lost[2:] + "\0", put[2:] + "\1", strict=False)) if a != b)
    assert lost[2:][:head] == put[2:][:head]
    assert len(put) - len(lost) == len(value) - len(old) or "'" in put  # quotes were needed, or were there
    assert new.count("#") - GORGE.count("#") == value.count("#") - old.count("#")


def test_what_is_written_is_what_a_reader_reads(tmp_path):
    file = tmp_path / "gorge.yaml"
    file.write_text(changed(GORGE, {"parts.cliff.at.left": "412.5", "parts.cliff.turn": {"about_up": "20"}}))
    cliff = next(part for part in read_scene(file).parts if part.name == "cliff")
    assert cliff.at.x.distance == 0.4125
    assert cliff.turn.about_up == pytest.approx(math.radians(20))


def test_a_name_changes_the_value_that_it_names():
    assert lines_changed(SMALL, changed(SMALL, {"parts.stone.at.front": "1 1/4 in"})) == [
        "-   depth: 3/4 in    # as the pipe is called",
        "+   depth: 1 1/4 in    # as the pipe is called",
    ]
    assert stands_at(SMALL, "parts.log.at[1]") == "values.depth", "a name of a name is followed"
    with pytest.raises(SceneMistake, match="both 1 and 2"):
        changed(SMALL, {"parts.stone.at.front": "1", "parts.log.at[1]": "2"})


@pytest.mark.parametrize("path", ["parts.post.at.left", "parts.post.at.front"])
def test_arithmetic_is_refused_with_its_place(path):
    with pytest.raises(SceneMistake, match="arithmetic, which a figure would wipe out") as refused:
        changed(SMALL, {path: "3"})
    assert refused.value.place.line in (5 + 1, 17)


def test_a_mapping_takes_the_place_of_a_scalar_of_nothing_or_of_another_mapping():
    turn = {"about_up": "15", "tip_right": "3"}
    new = changed(SMALL, {f"parts.{name}.turn": turn for name in ("stone", "log", "post")})
    assert "turn: {about_up: 15, tip_right: 3}}   # the first" in new
    assert "      about_up: 15\n      tip_left: 0\n      tip_right: 3\n  post:" in new
    assert new.endswith("ground: 0}, turn: {about_up: 15, tip_right: 3}}\n")
    assert "\n    # a word between\n    turn:\n" in new


def test_a_path_to_nowhere_is_told_with_the_nearest_name():
    with pytest.raises(UnknownName, match="stone"):
        changed(SMALL, {"parts.stome.at.left": "3"})
    with pytest.raises(UnknownName, match=r"a list stands before '\.left'"):
        changed(SMALL, {"parts.log.at.left": "3"})


def test_an_alias_is_refused_for_it_stands_elsewhere_too():
    with pytest.raises(SceneMistake, match="an alias"):
        changed("values: {a: &a {b: 3}, c: *a}", {"values.c.b": "4"})


@pytest.mark.parametrize(
    ("old", "value", "new"),
    [
        ("400", 0.41234, "412.3"),
        ("-50", -0.06, "-60"),
        ("3/4 in", 0.0254 * 1.25, "1 1/4 in"),
        ("12.5 in", 0.3048, "12 in"),
        ('12.5"', 0.3048, '12"'),
        ("11 in", 0.0254 * 14.75, "14 3/4 in"),
        ("11 in", 0.0254 * 14.76, "14.76 in"),  # no sixteenth
        ("11.0 in", 0.0254 * 14.75, "14.75 in"),
        ("2 ft", 0.0254 * 30.0, "2.5 ft"),
        ("1 ft 6 in", 0.0254 * 30.5, "2 ft 6 1/2 in"),
        ("5'-6\"", 0.0254 * 71.99, "6'-0\""),
        ("40 cm", 0.4321, "43.21 cm"),
        ("1.2m", 1.25555, "1.2555m"),
        ("depth / 2", 0.02, "20"),
        (None, -0.0, "0"),
    ],
)
def test_a_figure_is_written_as_the_one_before_it(old, value, new):
    assert written_like(old, value, "length", units="mm") == new


@pytest.mark.parametrize(
    ("old", "value", "new"),
    [
        ("5/8", 0.75, "3/4"),
        ("-5/8", 0.5, "1/2"),
        ("3/4", -1.25, "-1 1/4"),
        ("-1/3", -1 / 3 + 0.25, "-1/16"),
        ("-1 1/3", -1 / 3 - 0.75, "-1 1/16"),
        ("5/7", 2 / 3, "11/16"),
    ],
)
def test_a_bare_fraction_of_an_inch_is_a_figure_and_moves_on_to_the_tape(old, value, new):
    assert written_like(old, 0.0254 * value, "length", units="in") == new
    assert changed(f"values: {{left: {old}}}", {"values.left": new}) == f"values: {{left: {new}}}"


@pytest.mark.parametrize("old", ["1200/3", "1 - 5/8", "9/8", "1/2.5", "5/100", "5/8/2", "5/8 * 2"])
def test_a_share_of_something_is_arithmetic(old):
    with pytest.raises(SceneMistake, match="arithmetic"):
        changed(f"values: {{left: {old}}}", {"values.left": "1"})


@given(
    old=st.sampled_from(["400", "3/4 in", "1 ft 6 in", "2'-3\"", "12.5 in", "40 cm", "0.3 m", None]),
    value=st.floats(-3.0, 3.0),
)
def test_a_written_figure_reads_back_within_its_rounding(old, value):
    text = written_like(old, value, "length", units="mm")
    back = as_kind(evaluate(text, lookup=quantity_of_nothing, bare_length=0.001), "length", bare_length=0.001)
    assert abs(back - value) <= 0.0254 / 32 + 1e-9 if "in" in str(old) or "'" in str(old) else 0.00005 + 1e-9
    again = written_like(text, back, "length", units="mm")
    assert again == text or old == "3/4 in"  # a whole number of inches shows no fractions to keep


@given(value=st.floats(-6.28, 6.28))
def test_an_angle_is_written_to_a_tenth_of_a_degree(value):
    assert math.radians(float(written_like("10", value, "angle", units="in"))) == pytest.approx(
        value, abs=0.0009
    )


def test_a_value_is_put_in_place_of_a_name_or_arithmetic_where_that_is_asked_for():
    text = "values: {depth: 7}\nparts: {a: {x: depth, y: depth - 1, z: 2}}  # both\n"
    expected = "values: {depth: 7}\nparts: {a: {x: 8, y: depth + 2, z: 2}}  # both\n"
    assert changed(text, {"parts.a.x": "8", "parts.a.y": "depth + 2"}, here=True) == expected
    with pytest.raises(SceneMistake, match="is arithmetic"):
        changed(text, {"parts.a.y": "8"})


def test_an_anchor_and_the_kind_of_quotes_stay_before_a_new_value():
    text = 'a: &wide 3 mm\nb: "6 1/2\\""\nc: [*wide]\n'
    assert changed(text, {"b": '6 3/4"'}) == text.replace("6 1/2", "6 3/4")
    alone = text.replace("c: [*wide]\n", "")
    assert changed(alone, {"a": "4 mm", "b": "1"}) == 'a: &wide 4 mm\nb: "1"\n'
    with pytest.raises(SceneMistake, match="can't be written so that it alone is changed"):
        changed(text, {"a": "4 mm"})


@pytest.mark.parametrize(
    ("typed", "read"),
    [
        ("[1, 2]", "[1, 2]"),
        ("{", "{"),
        ("12: 3", "12: 3"),
        ("{a, b}", {"a": "", "b": ""}),
        ("{tip_right: 5 deg, about_up: 10}", {"tip_right": "5 deg", "about_up": "10"}),
        ("{at: {left: 3}}", "{at: {left: 3}}"),
        ("*one", "*one"),
        ("- 3", "- 3"),
        ("# no", "# no"),
    ],
)
def test_whatever_is_typed_is_one_value_or_a_mapping_of_values(typed, read):
    text = changed("a: {left: 3, turn: 5}  # here\nb: 1\n", {"a.turn": typed})
    assert yaml.load(text, Loader=yaml.BaseLoader) == {"a": {"left": "3", "turn": read}, "b": "1"}
    assert "  # here\n" in text
