"""Entries added, copied and taken out: the smallest change of the text, and the same scene beside it."""

import pytest

from layout3d.errors import SceneMistake
from layout3d.scene.entries import added, copied, inserted, items_of, removed, rewritten, swapped

TEXT = """\
format: 1  # of the file
parts:
  tank: {kind: tank, glass: 6}  # the glass

  # a heading that is nobody's
  stone:
    kind: rock   # a hard one
    at: {left: 1, front: 2, ground: 0}
    # a word within

  pipe:
    route:
      - up: 480   # to the rim
      - {until: back, reach: [0, 1, 0]}
      - right: 28
        drip: {pitch: 3}
      - cap
values: {one: 1, two: 2, three: 3}
"""


def lines_changed(before, after):
    import difflib

    lines = difflib.unified_diff(before.splitlines(), after.splitlines(), n=0, lineterm="")
    return [line for line in lines if line[:2] not in ("--", "++", "@@")]


@pytest.mark.parametrize(
    ("do", "expected"),
    [
        (lambda t: added(t, ("parts",), "new", "{kind: mat}"), ["+  new: {kind: mat}"]),
        (lambda t: added(t, ("cameras",), "low", "{at: 1}"), ["+", "+cameras:", "+  low: {at: 1}"]),
        (
            lambda t: added(t, ("values",), "four", "4"),
            ["-values: {one: 1, two: 2, three: 3}", "+values: {one: 1, two: 2, three: 3, four: 4}"],
        ),
        (
            lambda t: copied(t, ("parts", "stone"), "twin"),
            [
                "+  twin:",
                "+    kind: rock   # a hard one",
                "+    at: {left: 1, front: 2, ground: 0}",
                "+    # a word within",
                "+",
            ],
        ),
        (
            lambda t: copied(t, ("parts", "tank"), "twin"),
            ["+  twin: {kind: tank, glass: 6}  # the glass", "+"],
        ),
        (lambda t: removed(t, ("parts", "tank")), ["-  tank: {kind: tank, glass: 6}  # the glass"]),
        (
            lambda t: removed(t, ("values", "three")),
            ["-values: {one: 1, two: 2, three: 3}", "+values: {one: 1, two: 2}"],
        ),
        (
            lambda t: removed(t, ("values", "one")),
            ["-values: {one: 1, two: 2, three: 3}", "+values: {two: 2, three: 3}"],
        ),
        (lambda t: removed(t, ("parts", "pipe", "route", 0)), ["-      - up: 480   # to the rim"]),
        (
            lambda t: removed(t, ("parts", "pipe", "route", 2)),
            ["-      - right: 28", "-        drip: {pitch: 3}"],
        ),
        (lambda t: inserted(t, ("parts", "pipe", "route"), 1, "strainer"), ["+      - strainer"]),
        (lambda t: inserted(t, ("parts", "pipe", "route"), 0, "strainer"), ["+      - strainer"]),
        (lambda t: inserted(t, ("parts", "pipe", "route"), 4, "open"), ["+      - open"]),
        (
            lambda t: swapped(t, ("parts", "pipe", "route"), 2),
            ["-      - cap", "+      - cap"],
        ),
        (
            lambda t: rewritten(t, ("parts", "pipe", "route", 0), "up: 490"),
            ["-      - up: 480   # to the rim", "+      - up: 490   # to the rim"],
        ),
        (
            lambda t: rewritten(t, ("parts", "pipe", "route", 2), "{right: 28, drip: {pitch: 4}}"),
            ["-        drip: {pitch: 3}", "+        drip: {pitch: 4}"],
        ),
        (
            lambda t: rewritten(t, ("parts", "pipe", "route", 2), "right: 30"),
            ["-      - right: 28", "-        drip: {pitch: 3}", "+      - {right: 30}"],
        ),
        (
            lambda t: rewritten(t, ("parts", "pipe", "route", 0, "up"), "490"),
            ["-      - up: 480   # to the rim", "+      - up: 490   # to the rim"],
        ),
    ],
)
def test_the_smallest_change(do, expected):
    assert sorted(lines_changed(TEXT, do(TEXT))) == sorted(expected)


def test_what_is_taken_out_of_the_middle_and_put_in_again_is_where_it_was():
    way = ("parts", "pipe", "route")
    without = removed(TEXT, (*way, 1))
    assert inserted(without, way, 1, "{until: back, reach: [0, 1, 0]}") == TEXT


def test_items_are_told_on_one_line_and_swapped_twice_stand_as_before():
    way = ("parts", "pipe", "route")
    items = ["{up: 480}", "{until: back, reach: [0, 1, 0]}", "{right: 28, drip: {pitch: 3}}", "cap"]
    assert items_of(TEXT, way) == items
    for number in range(3):
        once = swapped(TEXT, way, number)
        assert items_of(once, way)[number + 1] == items[number]
        assert swapped(once, way, number) == TEXT
    assert "- up: 480   # to the rim" in swapped(TEXT, way, 0)


def test_a_copy_taken_out_again_leaves_the_text_as_it_was():
    for part in ("tank", "stone", "pipe"):
        assert removed(copied(TEXT, ("parts", part), "twin"), ("parts", "twin")) == TEXT


def test_what_can_not_be_done_is_refused():
    with pytest.raises(SceneMistake, match="there is a 'stone' already"):
        added(TEXT, ("parts",), "stone", "{}")
    with pytest.raises(SceneMistake, match=r"nothing stands at parts\.nothing"):
        removed(TEXT, ("parts", "nothing"))
    with pytest.raises(SceneMistake, match="the only one"):
        removed("a: {b: 1}\n", ("a", "b"))
    with pytest.raises(SceneMistake, match="an alias stands there"):
        removed("a: &x {b: 1}\nc:\n  d: *x\n  e: 1\n", ("c", "d"))


def test_a_file_without_a_last_newline_keeps_being_one():
    assert added("parts:\n  a: 1", ("parts",), "b", "2") == "parts:\n  a: 1\n  b: 2"
    assert removed("parts:\n  a: 1\n  b: 2", ("parts", "b")) == "parts:\n  a: 1\n"
