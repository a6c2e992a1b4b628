"""A scene file as a tree of maps, lists and text, each with its place in the file.

Reads YAML events one after the other, without recursion and within bounds of size, depth and count, so that
no file can crash the program or fill the memory. Says nothing about what the keys and values mean: text stays
text, whatever a YAML reader would make of it (``on``, ``1_000`` and ``12:30`` are traps).
"""

from __future__ import annotations

import os
import re
import stat
from dataclasses import dataclass, field
from difflib import get_close_matches
from pathlib import Path
from typing import Any, Literal

import yaml

from layout3d.errors import Place, SceneMistake, SceneRefused

__all__ = ["LARGEST_FILE", "MOST_NODES", "Node", "read_tree"]

LARGEST_FILE = 2_000_000  # bytes; a scene of a few hundred parts has 50,000
MOST_NODES = 100_000  # after every alias is put in place
_MOST_ALIASES = 100
_DEEPEST = 40
_MOST_MISTAKES = 100

Kind = Literal["map", "list", "scalar"]


@dataclass(frozen=True, slots=True)
class Node:
    """One map, list or text of the file; an aliased node stands at more than one place of the tree.

    ``value`` is a dict of nodes, a list of nodes or a str after ``kind``, to be read and never written to.
    ``plain`` says that a scalar stood without quotes. ``key_places`` holds, for a map, where each key stands.
    """

    kind: Kind
    value: Any  # what it is hangs on kind, which a type checker can't follow
    plain: bool
    place: Place
    key_places: dict[str, Place] = field(default_factory=dict)


def read_tree(path: Path, *, text: str | None = None) -> Node:
    """Read a scene file.

    Parameters
    ----------
    path : the file
    text : its text, where it has been read already; the path then only names it in messages

    Returns
    -------
    The root node.

    Raises
    ------
    SceneRefused : with one ``SceneMistake`` for each mistake, in the order of the file. A file that breaks
        the syntax has one, as nothing behind it can be trusted.
    """
    name = os.fsencode(path).decode("utf-8", "backslashreplace")
    if text is None:
        text = _decode(_bytes_of(Path(path), name), name)
    elif len(text) > LARGEST_FILE:
        raise _too_large(name, len(text))
    _refuse_unprintable(text, name)
    return _Builder(name).build(text)


def _refuse(found: str, *, expected: str = "", remedy: str = "", place: Place) -> SceneRefused:
    return SceneRefused([SceneMistake(found, expected=expected, remedy=remedy, place=place)])


def _too_large(name: str, size: int) -> SceneRefused:
    return _refuse(
        f"the file has {size:,} bytes",
        expected=f"a scene file of at most {LARGEST_FILE:,} bytes",
        remedy="keep meshes and pictures in files of their own and name them in the scene",
        place=Place(name),
    )


def _bytes_of(path: Path, name: str) -> bytes:
    place = Place(name)
    try:
        status = path.stat()
        if stat.S_ISDIR(status.st_mode):
            raise _refuse("is a folder, not a scene file", remedy="name a file in it", place=place)
        if not stat.S_ISREG(status.st_mode):
            raise _refuse("is not an ordinary file", expected="a scene file", place=place)
        if status.st_size > LARGEST_FILE:
            raise _too_large(name, status.st_size)
        with path.open("rb") as file:
            data = file.read(LARGEST_FILE + 1)
    except FileNotFoundError:
        raise _refuse(
            "there is no such file", expected="a scene file", remedy=_near_file(path), place=place
        ) from None
    except PermissionError:
        raise _refuse("may not be read", remedy="give yourself the right to read it", place=place) from None
    except (OSError, ValueError) as error:  # ValueError: a path with a null character
        reason = getattr(error, "strerror", None) or str(error)
        raise _refuse(f"can't be read: {reason}", place=place) from None
    if len(data) > LARGEST_FILE:
        raise _too_large(name, len(data))
    return data


def _near_file(path: Path) -> str:
    try:
        known = [entry.name for entry in path.parent.iterdir() if entry.suffix in (".yaml", ".yml")]
    except (OSError, ValueError):
        return "look at the path: its folder is not there either"
    close = get_close_matches(path.name, known, n=1, cutoff=0.5)
    return f"did you mean {path.parent / close[0]}?" if close else "look at the path"


def _decode(data: bytes, name: str) -> str:
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        before = data[: error.start]
        line = before.count(b"\n") + 1
        column = len(before[before.rfind(b"\n") + 1 :].decode("utf-8", "replace")) + 1
        raise _refuse(
            f"byte 0x{data[error.start]:02x} is not UTF-8 text",
            expected="a text file in UTF-8",
            remedy="save the file as UTF-8 in the editor",
            place=Place(name, line, column),
        ) from None


# what YAML allows, less the separators that an editor doesn't count as a line and YAML does
_UNPRINTABLE = re.compile(
    "[^\t\n\r\x20-\x7e\xa0-\u2027\u202a-\ud7ff\ue000-\ufefe\uff00-\ufffd\U00010000-\U0010ffff]"
)


def _refuse_unprintable(text: str, name: str) -> None:
    match = _UNPRINTABLE.search(text)
    if match:
        before = text[: match.start()]
        raise _refuse(
            f"character U+{ord(match[0]):04X} can't be seen and has no place in a scene file",
            remedy="delete it",
            place=Place(name, before.count("\n") + 1, match.start() - before.rfind("\n")),
        )


# what the YAML reader says -> what we say; the first that is found in its text holds
_SYNTAX = (
    (r"'\t' that cannot start|\\t|tab", "a tab can't indent", "indent with spaces"),
    (
        "mapping values are not allowed",
        "a second ': ' where a value stands",
        "start a new line, or put the value in quotes",
    ),
    ("could not find expected ':'", "a key without ':' behind it", "write `key: value`"),
    ("while scanning a quoted scalar|unexpected end of stream", "a quote is not closed", "close it"),
    (
        "flow mapping",
        "in a map in braces ',' or '}' is missing",
        "close the braces, and put ',' between entries",
    ),
    (
        "flow sequence",
        "in a list in brackets ',' or ']' is missing",
        "close the brackets, and put ',' between",
    ),
    (
        "block mapping",
        "this line doesn't belong to the map above it",
        "look at how far the lines are indented",
    ),
    (
        "block collection",
        "this line doesn't belong to the list above it",
        "look at how far the lines are indented",
    ),
    ("block sequence entries are not allowed", "a list can't start here", "start it on a line of its own"),
    ("mapping keys are not allowed", "a key can't start here", "start it on a line of its own"),
    ("cannot start any token", "this character can't start a value", "put the value in quotes"),
    ("escape", "a backslash in double quotes starts a sign that YAML doesn't know", "use single quotes"),
    ("alias|anchor", "a name is missing behind '&' or '*'", "put the value in quotes"),
    ("tag", "'!' can't stand here", "put the value in quotes"),
    ("directive|document start", "a line that starts with '%' or '...' can't stand here", "delete it"),
    ("block scalar", "the text behind '|' or '>' is not set out as YAML asks", "indent it with spaces"),
)


def _syntax(error: yaml.YAMLError, name: str) -> SceneRefused:
    mark = getattr(error, "problem_mark", None) or getattr(error, "context_mark", None)
    place = Place(name, mark.line + 1, mark.column + 1) if mark else Place(name)
    told = f"{getattr(error, 'context', None) or ''} {getattr(error, 'problem', None) or ''}".strip()
    for pattern, found, remedy in _SYNTAX:
        if re.search(pattern, told):
            return _refuse(found, remedy=remedy, place=place)
    return _refuse(
        f"is not YAML from here on ({told or 'no reason given'})",
        remedy="look at this line and the one above it",
        place=place,
    )


# texts that YAML 1.2's core schema (section 10.3.2) doesn't take as a string
_NULL = ("", "~", "null", "Null", "NULL")
_TRUTH = ("true", "True", "TRUE", "false", "False", "FALSE")
_FIGURE = re.compile(
    r"[-+]?(\.[0-9]+|[0-9]+(\.[0-9]*)?)([eE][-+]?[0-9]+)?|0o[0-7]+|0x[0-9a-fA-F]+|[-+]?\.(inf|Inf|INF)|\.(nan|NaN|NAN)"
)


class _Open:
    """A map or list that has begun and not ended."""

    __slots__ = ("anchor", "depth_below", "key", "key_places", "kind", "list", "map", "place", "size", "skip")

    def __init__(self, kind: Kind, place: Place, anchor: str | None) -> None:
        self.kind: Kind = kind
        self.place = place
        self.anchor = anchor
        self.map: dict[str, Node] = {}
        self.list: list[Node] = []
        self.key_places: dict[str, Place] = {}
        self.key: str | None = None  # the key that waits for its value
        self.skip = False  # the value that comes belongs to a key that was refused
        self.size = 1
        self.depth_below = 0


class _Stop(Exception):
    """No sense in reading on."""


class _Builder:
    def __init__(self, name: str) -> None:
        self.name = name
        self.mistakes: list[SceneMistake] = []
        self.open: list[_Open] = []
        self.anchors: dict[str, tuple[Node, int, int] | None] = {}  # node, size, depth; None: not ended
        self.aliases = 0
        self.nodes = 0
        self.root: Node | None = None

    def build(self, text: str) -> Node:
        loader: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
        try:
            for event in yaml.parse(text, Loader=loader):
                self.take(event)
        except yaml.YAMLError as error:
            self.mistakes.extend(m for m in _syntax(error, self.name).mistakes if isinstance(m, SceneMistake))
        except _Stop:
            pass
        if self.root is None and not self.mistakes:
            self.mistake(
                "the file is empty", Place(self.name), remedy="`layout3d new` writes a scene to start from"
            )
        if self.mistakes or self.root is None:
            raise SceneRefused(self.mistakes)
        return self.root

    def mistake(self, found: str, place: Place, *, expected: str = "", remedy: str = "") -> None:
        self.mistakes.append(SceneMistake(found, expected=expected, remedy=remedy, place=place))
        if len(self.mistakes) >= _MOST_MISTAKES:
            raise _Stop

    def stop(self, found: str, place: Place, *, expected: str = "", remedy: str = "") -> None:
        self.mistake(found, place, expected=expected, remedy=remedy)
        raise _Stop

    def take(self, event: Any) -> None:
        place = Place(self.name, event.start_mark.line + 1, event.start_mark.column + 1)
        if isinstance(event, yaml.DocumentStartEvent):
            if self.root is not None:
                self.stop(
                    "a second document starts here",
                    place,
                    expected="one scene in a file",
                    remedy="delete the line '---', or move what follows to a file of its own",
                )
        elif isinstance(event, yaml.AliasEvent):
            self.alias(event.anchor or "", place)
        elif isinstance(event, yaml.ScalarEvent | yaml.CollectionStartEvent):
            self.count(place, 1)
            if event.tag is not None:
                shown = str(event.tag).replace("tag:yaml.org,2002:", "!!")
                self.mistake(
                    f"tag {shown!r}",
                    place,
                    expected="a value without a tag",
                    remedy="delete it, or quote the value",
                )
            if isinstance(event, yaml.ScalarEvent):
                plain = event.style is None or event.style == ""
                if event.anchor:
                    self.anchors[event.anchor] = None
                self.put(Node("scalar", event.value, plain, place), 1, 1, event.anchor)
            else:
                if len(self.open) >= _DEEPEST:
                    self.stop(
                        f"nested more than {_DEEPEST} deep",
                        place,
                        expected="a scene that a person can read",
                        remedy="look for a bracket too many",
                    )
                if event.anchor:
                    self.anchors[event.anchor] = None
                kind: Kind = "map" if isinstance(event, yaml.MappingStartEvent) else "list"
                self.open.append(_Open(kind, place, event.anchor))
        elif isinstance(event, yaml.MappingEndEvent | yaml.SequenceEndEvent):
            done = self.open.pop()
            value: dict[str, Node] | list[Node] = done.map if done.kind == "map" else done.list
            node = Node(done.kind, value, False, done.place, done.key_places)
            self.put(node, done.size, done.depth_below + 1, done.anchor)

    def count(self, place: Place, more: int) -> None:
        self.nodes += more
        if self.nodes > MOST_NODES:
            self.stop(
                f"more than {MOST_NODES:,} values, each alias counted as what it stands for",
                place,
                expected="a scene that a person can read",
                remedy="use fewer aliases, or split the scene",
            )

    def alias(self, anchor: str, place: Place) -> None:
        self.aliases += 1
        if self.aliases > _MOST_ALIASES:
            self.stop(f"more than {_MOST_ALIASES} aliases", place, remedy="use named values under `values:`")
        known = self.anchors.get(anchor)
        if known is None:
            told = "stands inside what it stands for" if anchor in self.anchors else "has no anchor above it"
            self.stop(
                f"alias '*{anchor}' {told}",
                place,
                remedy=f"write '&{anchor}' before a value above, or quote it",
            )
            return
        node, size, depth = known
        if len(self.open) + depth > _DEEPEST:
            self.stop(f"nested more than {_DEEPEST} deep", place, remedy="use fewer aliases in aliases")
        self.count(place, size)
        self.put(node, size, depth, None, place)

    def put(self, node: Node, size: int, depth: int, anchor: str | None, at: Place | None = None) -> None:
        """Hand a finished node to the map or list it stands in."""
        place = at or node.place
        if anchor:
            self.anchors[anchor] = (node, size, depth)
        if not self.open:
            self.root = node
            return
        parent = self.open[-1]
        parent.size += size
        parent.depth_below = max(parent.depth_below, depth)
        if parent.kind == "list":
            parent.list.append(node)
        elif parent.skip:
            parent.skip = False
        elif parent.key is not None:
            parent.map[parent.key] = node
            parent.key = None
        elif (key := self.key(node, place, parent)) is not None:
            parent.key = key
            parent.key_places[key] = place
        else:
            parent.skip = True

    def key(self, node: Node, place: Place, parent: _Open) -> str | None:
        """Return a node's text as a key of its map, or None after saying what is wrong with it."""
        if not isinstance(node.value, str):
            self.mistake(
                f"a {node.kind} as a key", place, expected="a name as a key", remedy="write `name: value`"
            )
            return None
        text = node.value
        if node.plain and text == "<<":
            self.mistake(
                "'<<' (merging one map into another)",
                place,
                expected="a name as a key",
                remedy="write the keys out, or use named values under `values:`",
            )
            return None
        if text == "" or (node.plain and (text in _NULL or text in _TRUTH or _FIGURE.fullmatch(text))):
            shown = repr(text) if text else "nothing"
            self.mistake(
                f"{shown} as a key",
                place,
                expected="a name as a key",
                remedy="use a name, or put it in quotes",
            )
            return None
        if text in parent.key_places:
            first = parent.key_places[text]
            self.mistake(
                f"key {text!r} stands twice in this map, in line {first.line} and in line {place.line}",
                place,
                expected="each key once",
                remedy="delete one of them, or give it another name",
            )
            return None
        return text
