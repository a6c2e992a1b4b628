"""A scene file read into a tree: what is kept, what is refused, and that nothing can crash it."""

from __future__ import annotations

import os
import time
import tracemalloc
from pathlib import Path

import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from layout3d.errors import Place, SceneRefused
from layout3d.scene.tree import MOST_NODES, Node, read_tree

FILE = Path("scene.yaml")


def tree(text: str) -> Node:
    return read_tree(FILE, text=text)


def plain(node: Node):
    """The same tree without places."""
    if node.kind == "map":
        return {key: plain(child) for key, child in node.value.items()}
    return [plain(child) for child in node.value] if node.kind == "list" else node.value


def refusal(text: str) -> list[tuple[int, int, str]]:
    with pytest.raises(SceneRefused) as caught:
        tree(text)
    return [(m.place.line, m.place.column, m.found) for m in caught.value.mistakes]


def test_keeps_texts_places_and_quotes():
    root = tree("format: 1\nparts:\n  - {kind: tank, name: \"on\"}\n  - '3/4 in'\n")
    assert plain(root) == {"format": "1", "parts": [{"kind": "tank", "name": "on"}, "3/4 in"]}
    first, second = root.value["parts"].value
    assert first.place == Place("scene.yaml", 3, 5)
    assert first.key_places == {"kind": Place("scene.yaml", 3, 6), "name": Place("scene.yaml", 3, 18)}
    assert (first.value["kind"].plain, first.value["name"].plain, second.plain) == (True, False, False)
    assert second.place == Place("scene.yaml", 4, 5)


def test_text_stays_text():
    """YAML 1.1 readers make a truth of 'on', 750 of '12:30' and 1000 of '1_000'."""
    assert plain(tree("{lights: on, start: 12:30, count: 1_000, none: ~, size: 5' 6\"}")) == {
        "lights": "on",
        "start": "12:30",
        "count": "1_000",
        "none": "~",
        "size": "5' 6\"",
    }


def test_a_byte_order_mark_and_windows_line_ends_are_read(tmp_path):
    path = tmp_path / "scene.yaml"
    path.write_bytes(b"\xef\xbb\xbfa: 1\r\nb: 2\r\n")
    assert plain(read_tree(path)) == {"a": "1", "b": "2"}


def test_an_alias_stands_for_its_anchor():
    root = tree("a: &rock {size: 3}\nb: *rock\nc: [*rock, *rock]\n")
    assert plain(root) == {"a": {"size": "3"}, "b": {"size": "3"}, "c": [{"size": "3"}, {"size": "3"}]}


@pytest.mark.parametrize(
    ("text", "line", "column", "found"),
    [
        ("", 0, 0, "the file is empty"),
        ("# nothing\n\n", 0, 0, "the file is empty"),
        ("a: b: c", 1, 5, "a ': ' where no value can begin"),
        ("a:\n\t- b", 2, 1, "a tab where only spaces can stand"),
        ("a: [1, 2", 1, 4, "',' or ']' is missing in the list that begins with '[' in line 1, column 4"),
        (
            "a: {x: 1 y: 2}",
            1,
            11,
            "',' or '}' is missing in the map that begins with '{' in line 1, column 4",
        ),
        ('a: "b\nc: 1', 1, 4, "this quote is not closed"),
        ("a: 1\nb\nc: 3", 2, 1, "a key without its ':'"),
        ("a:\n   b: 1\n  c: 2", 3, 3, "this doesn't belong to the map that begins in line 1, column 1"),
        ("- a\nb: 1", 2, 1, "this doesn't belong to the list that begins in line 1, column 1"),
        ("a: @x", 1, 4, "'@' where a value should begin"),
        ("a: %b", 1, 4, "'%' where a value should begin"),
        ("a: - b", 1, 4, "'- ' where no list can begin"),
        ("a: *", 1, 4, "'&' or '*' without a name behind it"),
        ("a: 1\n---\nb: 2", 2, 1, "a second document starts here"),
        ("a: !!python/object:os.system x", 1, 4, "tag '!!python/object:os.system'"),
        ("a: !size 3", 1, 4, "tag '!size'"),
        ("a: 1\n<<: {b: 2}", 2, 1, "'<<' (merging one map into another)"),
        ("[a]: 1", 1, 1, "a list as a key"),
        ("? {a: 1}\n: 1", 1, 3, "a map as a key"),
        ("3: 1", 1, 1, "'3' as a key"),
        ("1e3: 1", 1, 1, "'1e3' as a key"),
        ("true: 1", 1, 1, "'true' as a key"),
        ("~: 1", 1, 1, "'~' as a key"),
        ("? \n: 1", 1, 2, "nothing as a key"),
        ("a: 1\nb: 2\na: 3", 3, 1, "key 'a' stands twice in this map, in line 1 and in line 3"),
        ("a: *b", 1, 4, "alias '*b' has no anchor above it"),
        ("a: &b [*b]", 1, 8, "alias '*b' stands inside what it stands for"),
        ("a: \x1b[2J", 1, 4, "character U+001B can't be seen and has no place in a scene file"),
        ("a:\n  b\x00", 2, 4, "character U+0000 can't be seen and has no place in a scene file"),
        ("a: \ud800", 1, 4, "character U+D800 can't be seen and has no place in a scene file"),
        ("a: x\u202ey", 1, 5, "character U+202E can't be seen and has no place in a scene file"),
        ('a: "\\x1b"', 1, 4, "an escape for character U+001B, which can't be seen"),
        ("x" * 2_000_001, 0, 0, "the file has 2,000,001 bytes"),
    ],
)
def test_a_mistake_is_told_with_its_place(text, line, column, found):
    assert refusal(text) == [(line, column, found)]


@pytest.mark.parametrize(
    "text", ['a: "\\q"', 'a: "\\UFFFFFFFF"', "a: |1x\n b", "%FOO\n", "!<x", "}", "{", "a: >\n\tx"]
)
def test_syntax_has_words_of_our_own_with_either_reader(text, monkeypatch):
    """The two readers of the library differ in the column; neither's own words show through."""
    for _ in range(2):
        ((line, _column, found),) = refusal(text)
        assert line <= 2
        assert "is not YAML" not in found
        monkeypatch.delattr(yaml, "CSafeLoader", raising=False)


def test_all_mistakes_are_told_at_once():
    found = refusal("a: 1\na: !x 2\n3: [4]\n<<: b\nc: [d")
    assert [line for line, _, _ in found] == [2, 2, 3, 4, 5]


def test_the_same_key_in_two_maps_is_no_mistake():
    assert plain(tree("a: {k: 1}\nb: {k: 2}\n'3': 1\n'true': 2")) == {
        "a": {"k": "1"},
        "b": {"k": "2"},
        "3": "1",
        "true": "2",
    }


@pytest.mark.parametrize("opener", ["[", "{a: ", "- ", "? "])
def test_depth_is_bounded(opener):
    assert any("nested" in found for _, _, found in refusal(opener * 100_000))
    assert tree("[" * 40 + "x" + "]" * 40).kind == "list"
    assert refusal("[" * 41 + "x" + "]" * 41) == [(1, 41, "nested more than 40 deep")]


def test_depth_counts_what_aliases_stand_for():
    lines = ["a0: &a0 [[[[[[[[[[x]]]]]]]]]]"] + [
        f"a{i}: &a{i} [[[[[[[[[[*a{i - 1}]]]]]]]]]]" for i in range(1, 4)
    ]
    assert refusal("\n".join(lines)) == [(4, 19, "nested more than 40 deep")]


def test_an_alias_bomb_is_refused_at_once():
    """Nine lines that stand for a thousand million values."""
    bomb = "a0: &a0 [x,x,x,x,x,x,x,x,x,x]\n"
    bomb += "".join(f"a{i}: &a{i} [{','.join([f'*a{i - 1}'] * 10)}]\n" for i in range(1, 9))
    start = time.process_time()
    ((_, _, found),) = refusal(bomb)
    assert time.process_time() - start < 5.0  # a twentieth of a second; unrolled it never ends
    assert found == "more than 100,000 values, each alias counted as what it stands for"


def test_count_is_bounded():
    assert len(tree("- x\n" * (MOST_NODES - 1)).value) == MOST_NODES - 1
    assert "more than 100,000 values" in refusal("- x\n" * MOST_NODES)[0][2]
    assert "more than 100 aliases" in refusal("- &a x\n" + "- *a\n" * 101)[0][2]
    assert len(tree("- &a x\n" + "- *a\n" * 100).value) == 101


def test_no_more_than_a_hundred_mistakes_are_told():
    assert len(refusal("a: 1\n" * 500)) == 100


def test_a_long_key_is_cut_in_the_message():
    ((_, _, found),) = refusal("'" + "k" * 900 + "': 1\n'" + "k" * 900 + "': 2\n")
    assert len(found) < 150


# files


def file_refusal(path: Path) -> str:
    with pytest.raises(SceneRefused) as caught:
        read_tree(path)
    (mistake,) = caught.value.mistakes
    return str(mistake)


def test_a_missing_file_and_its_neighbour(tmp_path):
    (tmp_path / "corner.yaml").write_text("a: 1", encoding="utf-8")
    told = file_refusal(tmp_path / "coner.yaml")
    assert "there is no such file" in told
    assert f"did you mean {tmp_path / 'corner.yaml'}?" in told
    assert "its folder is not there either" in file_refusal(tmp_path / "no" / "where.yaml")


def test_a_folder_and_other_things_that_are_no_file(tmp_path):
    assert "is a folder" in file_refusal(tmp_path)
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    told = file_refusal(pipe)  # reading it would wait for ever
    assert told.count("is not an ordinary file") == told.count("expected") == 1
    assert "can't be read" not in told
    assert "can't be read" in file_refusal(tmp_path / ("x" * 5000))
    assert "can't be read" in file_refusal(Path("a\0b"))
    loop = tmp_path / "loop.yaml"
    loop.symlink_to(loop)
    assert "can't be read" in file_refusal(loop)


@pytest.mark.skipif(os.name != "posix" or os.geteuid() == 0, reason="the superuser may read everything")
def test_a_file_without_the_right_to_read_it(tmp_path):
    path = tmp_path / "scene.yaml"
    path.write_text("a: 1", encoding="utf-8")
    path.chmod(0)
    assert "may not be read" in file_refusal(path)


def test_a_file_of_two_gigabytes_is_refused_unread(tmp_path):
    path = tmp_path / "scan.yaml"
    with path.open("wb") as file:
        file.truncate(2 * 1024**3)
    tracemalloc.start()
    assert "the file has 2,147,483,648 bytes" in file_refusal(path)
    assert tracemalloc.get_traced_memory()[1] < 1e6
    tracemalloc.stop()


def test_what_is_not_utf_8_is_told_with_its_place(tmp_path):
    path = tmp_path / "scene.yaml"
    path.write_bytes("a: 1\nb: 5 × caf".encode() + b"\xe9\n")
    assert f"{path}:2:11: byte 0xe9 is not UTF-8 text" in file_refusal(path)


def test_a_path_that_no_terminal_can_print(tmp_path):
    told = file_refusal(tmp_path / os.fsdecode(b"\xff\x1b[2J.yaml"))
    told.encode("utf-8")
    assert "\x1b" not in told


# fuzz


def read_or_refuse(path: Path, text: str | None = None) -> None:
    refused: SceneRefused | None = None
    try:
        assert read_tree(path, text=text).kind in ("map", "list", "scalar")
    except SceneRefused as caught:
        refused = caught
    if refused is not None:
        assert refused.mistakes
        assert all(mistake.found for mistake in refused.mistakes)
        str(refused).encode("utf-8")  # what a terminal or a JSON file will take


SIGNS = st.sampled_from("ab3 \n\t\r[]{},:\"'|>%?\\#~!&*@`-\x00\x85\ufeffé😀")
PIECES = SIGNS | st.sampled_from(["b: ", "- ", "&x ", "*x", "!t ", "<<: ", "---", "...", "? ", "\n  ", ": "])


@given(st.lists(PIECES, max_size=40).map("".join))
@settings(max_examples=80, derandomize=True)
def test_any_text_is_read_or_refused_by_both_readers(text):
    read_or_refuse(FILE, text)
    with pytest.MonkeyPatch.context() as patch:
        patch.delattr(yaml, "CSafeLoader", raising=False)
        read_or_refuse(FILE, text)


@given(data=st.binary(max_size=200))
@settings(max_examples=80, derandomize=True)
def test_any_bytes_are_read_or_refused(tmp_path_factory, data):
    path = tmp_path_factory.getbasetemp() / "fuzz.yaml"
    path.write_bytes(data)
    read_or_refuse(path)


KEYS = st.text(st.characters(codec="utf-8", categories=("L", "N", "Zs", "P")), min_size=1, max_size=8)
TREES = st.recursive(
    KEYS, lambda inner: st.lists(inner, max_size=4) | st.dictionaries(KEYS, inner, max_size=4)
)


@given(TREES, st.booleans())
@settings(max_examples=60, derandomize=True)
def test_what_another_program_writes_comes_back(data, flow):
    """The library's writer is the other side: strings only, so it quotes what it must."""
    text = yaml.safe_dump(data, default_flow_style=flow, allow_unicode=True)
    assert plain(tree(text)) == data
