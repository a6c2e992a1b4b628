"""A scene file as a tree of maps, lists and text, each with its place in the file.

Reads YAML events one after the other, without recursion and within bounds of size, depth and count, so that
no file can crash the program or fill the memory. Says nothing about what the keys and values mean: text stays
text, whatever a YAML reader would make of it (``on``, ``1_000`` and ``12:30`` are traps).
"""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path
from typing import Any, Literal

import yaml

from layout3d.errors import Place, SceneMistake, SceneRefused, UnknownName, nearest
from layout3d.fields import Node
from layout3d.files import own_data
from layout3d.keep import remembered
from layout3d.scene.file import UNPRINTABLE, checked_text, name_of, read_text, shown
from layout3d.scene.syntax import WITH_A_POINT

__all__ = ["MOST_NODES", "HalfRead", "read_tree", "with_text"]

MOST_NODES = 100_000  # after every alias is put in place
_MOST_ALIASES = 100
_DEEPEST = 40
_MOST_MISTAKES = 100

Kind = Literal["map", "list", "scalar"]

_COMPLAINTS = Path(__file__).with_name("yaml_mistakes.yaml")
"""What the library's two readers, which say the same thing differently, complain of, in words for people."""


class HalfRead(SceneRefused):
    """All that is wrong with a tree is a key or two: the rest of it can be looked through as well.

    ``doubtful`` is where the maps begin that these keys stand in: what they seem to lack may be there.
    """

    def __init__(self, mistakes: list[SceneMistake], root: Node, doubtful: set[Place]) -> None:
        super().__init__(mistakes)
        self.root, self.doubtful = root, doubtful


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
    SceneRefused : with one ``SceneMistake`` for each mistake, in the order of the file, 100 at most. Where
        the syntax breaks, reading ends: nothing behind it can be trusted. ``HalfRead`` where the rest can.
    """
    path = Path(path)
    name = name_of(path)
    given = read_text(path) if text is None else checked_text(text, name)
    # nodes are never written to, so that one text is parsed once, whatever values are set over it
    return remembered(
        "tree", name, given, make=lambda: _Builder(name).build(given), size=lambda _: 30 * len(given)
    )


def with_text(root: Node, path: str, text: str, place: Place) -> Node:
    """Return a tree in which a text stands at a dotted path, such as 'parts.rock.at.left'.

    Raises
    ------
    UnknownName : a word of the path but the last names nothing, or the last one stands in no map.
    """
    steps = path.split(".")
    along = [root]
    for count, step in enumerate(steps):
        node = along[-1]
        within = node.value if node.kind == "map" else {}
        if node.kind != "map" or (count < len(steps) - 1 and step not in within):
            raise UnknownName(
                f"--set {path}: nothing is called {'.'.join(steps[: count + 1])!r}",
                expected=nearest(step, list(within)) if within else "the path of a field in this scene",
                place=place,
            )
        along.append(within.get(step, node))
    changed = Node("scalar", text, True, place, text_column=1)
    for node, step in zip(reversed(along[:-1]), reversed(steps), strict=True):
        places = {**node.key_places, step: node.key_places.get(step, place)}
        changed = replace(node, value={**node.value, step: changed}, key_places=places)
    return changed


# texts that YAML 1.2's core schema (section 10.3.2) doesn't take as a string
_NULL = ("", "~", "null", "Null", "NULL")
_TRUTH = ("true", "True", "TRUE", "false", "False", "FALSE")
_WHOLE = re.compile(r"[-+]?[0-9]+")
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
        self.doubtful: list[Place] = []  # where maps begin, for each mistake that is one key's alone
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
        except (yaml.YAMLError, ValueError, OverflowError) as error:
            # the reader in Python lets chr() refuse an escape such as "\UFFFFFFFF"
            self.mistakes.append(_mistake_of(error, text, self.name))
        except _Stop:
            pass
        if self.root is None and not self.mistakes:
            self.mistake(
                "the file is empty", Place(self.name), remedy="`layout3d new` writes a scene to start from"
            )
        if self.root is not None and 0 < len(self.mistakes) == len(self.doubtful) < _MOST_MISTAKES:
            raise HalfRead(self.mistakes, self.root, set(self.doubtful))
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
                self.mistake(
                    f"tag {shown(str(event.tag).replace('tag:yaml.org,2002:', '!!'))}",
                    place,
                    expected="a value without a tag",
                    remedy="delete it, or quote the value",
                )
            if isinstance(event, yaml.ScalarEvent):
                hidden = UNPRINTABLE.search(event.value)
                if hidden:  # only an escape such as "\x1b" can bring one here
                    self.mistake(
                        f"an escape for character U+{ord(hidden[0]):04X}, which can't be seen",
                        place,
                        expected="a text that can be printed",
                        remedy="delete the escape",
                    )
                node = Node(
                    "scalar", event.value, not event.style, place, text_column=_text_column(event, place)
                )
                self.put(node, 1, 1, event.anchor)
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
                f"alias {shown('*' + anchor)} {told}",
                place,
                remedy=f"write {shown('&' + anchor)} before a value above, or quote it",
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
        if parent.map and _parted(list(parent.map.values())[-1], node):
            self.doubtful.append(parent.place)
            comma = replace(place, column=place.column - 1)
            self.mistake("a comma within a number", comma, expected="a decimal point", remedy=WITH_A_POINT)
            return None
        if text == "" or (node.plain and (text in _NULL or text in _TRUTH or _FIGURE.fullmatch(text))):
            self.mistake(
                f"{shown(text) if text else 'nothing'} as a key",
                place,
                expected="a name as a key",
                remedy="use a name, or put it in quotes",
            )
            return None
        if text in parent.key_places:
            first = parent.key_places[text]
            self.doubtful.append(parent.place)
            self.mistake(
                f"key {shown(text)} stands twice in this map, in line {first.line} and in line {place.line}",
                place,
                expected="each key once",
                remedy="delete one of them, or give it another name",
            )
            return None
        return text


def _parted(before: Node, after: Node) -> bool:
    """Tell whether a value and the key behind it are what a comma makes of one number, 12,5."""
    figures = before.kind == "scalar" and before.plain and after.plain
    if not (figures and _WHOLE.fullmatch(before.value) and after.value.isdecimal()):
        return False
    line, column = before.place.line, before.place.column + len(before.value) + 1
    return (after.place.line, after.place.column) == (line, column)


def _text_column(event: Any, place: Place) -> int:
    """Return the column where a scalar's text begins; 0 if it isn't written as it is read."""
    quotes = 1 if event.style else 0
    begin, end = event.start_mark, event.end_mark
    as_written = begin.line == end.line and end.column - begin.column == len(event.value) + 2 * quotes
    return place.column + quotes if as_written else 0


def _mistake_of(error: Exception, text: str, name: str) -> SceneMistake:
    """Return the mistake behind a YAML reader's error.

    Parameters
    ----------
    error : with ``context``, ``problem`` and their marks, as far as the reader gives them
    text : the file's text
    name : the file's name for the message
    """
    problem_mark = getattr(error, "problem_mark", None)
    context_mark = getattr(error, "context_mark", None) or problem_mark
    problem_mark = problem_mark or context_mark
    place, start = _place(problem_mark, name), _place(context_mark, name)
    sign = text[problem_mark.index : problem_mark.index + 1] if problem_mark is not None else ""
    told = f"{getattr(error, 'context', None) or ''}: {getattr(error, 'problem', None) or error}"
    if sign == "\t" and "token" in told:
        told = "tab character"
    if not sign:
        told += ": the end"
    # read only now: a file without such a mistake never pays for it
    for row in own_data(_COMPLAINTS):
        if re.search(row["complaint"], told, re.DOTALL):
            where = f"line {start.line}, column {start.column}"
            found = row["found"].replace("{start}", where).replace("{sign}", shown(sign))
            # at the end of the file there is nothing to see: show what was begun and not ended
            at = start if row.get("at_start") or not sign else place
            return SceneMistake(found, remedy=row["remedy"], place=at)
    return SceneMistake(
        f"is not YAML from here on ({told.lstrip(': ')})",
        remedy="look at this line and the one above it",
        place=place,
    )


def _place(mark: Any, name: str) -> Place:
    return Place(name, mark.line + 1, mark.column + 1) if mark is not None else Place(name)
