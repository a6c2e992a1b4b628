"""Whole entries of a scene's text added, copied, taken out or written anew: parts, cameras, steps.

The rest of the text stays as it is, to the last character; single values are changed by ``write_back``. A
comment line above an entry is nobody's, and stays; one behind an entry's values, or within it, goes with it.
No file is read or written here.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import yaml

from layout3d.errors import LayoutError, Place, SceneMistake
from layout3d.scene.tree import read_tree

__all__ = ["added", "behind", "copied", "inserted", "items_of", "removed", "rewritten", "swapped"]

Step = str | int
"""A key, or a number from 0 in a list."""


def added(text: str, way: tuple[Step, ...], key: str, entry: str) -> str:
    """Return the text with a new key behind the last of a map, which is made at the end where there is none.

    Parameters
    ----------
    way : where the map stands, such as ('parts',); only a section of the scene is made
    entry : its value, as YAML on one line

    Raises
    ------
    SceneMistake : the key stands there already.
    """
    node = _at(text, way, or_none=True)
    if node is None:
        return _checked(f"{text.rstrip()}\n\n{way[0]}:\n  {key}: {entry}\n")
    if key in [name.value for name, _ in node.value]:
        raise SceneMistake(
            f"there is a {key!r} already", expected="a name of its own", path=".".join(map(str, way))
        )
    return _checked(behind(text, node, len(node.value) - 1, f"{key}: {entry}"))


def inserted(text: str, way: tuple[Step, ...], number: int, entry: str) -> str:
    """Return the text with a new item in a list, so that it becomes number ``number`` (from 0) of it."""
    node = _at(text, way)
    if number < len(node.value):
        begin = node.value[number].start_mark.index
        if node.flow_style:
            return _checked(f"{text[:begin]}{_line(entry, _root(entry))}, {text[begin:]}")
        line = text.rindex("\n", 0, begin) + 1
        dash = " " * (text.index("-", line) - line)
        return _checked(f"{text[:line]}{dash}- {entry}\n{text[line:]}")
    own = _line(entry, _root(entry)) if node.flow_style else f"- {entry}"
    return _checked(behind(text, node, number - 1, own))


def copied(text: str, way: tuple[Step, ...], key: str) -> str:
    """Return the text with an entry of a map twice, the second time behind it under another key."""
    parent, number = _entry(text, way)
    name, value = parent.value[number]
    end = _end(text, value)
    if parent.flow_style:
        return _checked(behind(text, parent, number, key + text[name.end_mark.index : end]))
    end = _block_end(text, end, name.start_mark.column)
    copy = " " * name.start_mark.column + key + text[name.end_mark.index : end]
    blank = "\n" if text[end : end + 2] == "\n\n" else ""
    return _checked(f"{text[:end]}\n{blank}{copy}{text[end:]}")


def removed(text: str, way: tuple[Step, ...]) -> str:
    """Return the text without an entry of a map or list, and what stands behind it on its last line.

    Raises
    ------
    SceneMistake : it is the only one there.
    """
    parent, number = _entry(text, way)
    if len(parent.value) == 1:
        raise SceneMistake(
            "it is the only one there", remedy="write another one before", path=".".join(map(str, way))
        )
    begins = [_begin(one) for one in parent.value]
    begin, end = begins[number], _end(text, _value(parent.value[number]))
    if parent.flow_style:
        if number + 1 < len(begins):
            return _checked(text[:begin] + text[begins[number + 1] :])
        return _checked(text[: _end(text, _value(parent.value[number - 1]))] + text[end:])
    begin = text.rindex("\n", 0, begin) + 1
    column = len(text[begin:]) - len(text[begin:].lstrip())
    end = _block_end(text, end, column) + 1
    if text[begin - 2 : begin] == "\n\n" and (text[end : end + 1] in ("\n", "")):
        end += 1  # one empty line of the two
    return _checked(text[:begin] + text[end:])


def rewritten(text: str, way: tuple[Step, ...], entry: str) -> str:
    """Return the text with another value at a place, given as YAML on one line.

    Of a map with the same keys only the values that differ are written anew.
    """
    parent, number = _entry(text, way)
    value, new = _value(parent.value[number]), _root(entry)
    if isinstance(value, yaml.MappingNode) and isinstance(new, yaml.MappingNode):
        old_keys, new_keys = ([name.value for name, _ in one.value] for one in (value, new))
        if old_keys == new_keys:
            for (name, old), (_, one) in zip(value.value, new.value, strict=True):
                if _line(text, old) != _line(entry, one):
                    text = rewritten(text, (*way, name.value), _line(entry, one))
            return text
    return _checked(text[: value.start_mark.index] + _line(entry, new) + text[_end(text, value) :])


def swapped(text: str, way: tuple[Step, ...], number: int) -> str:
    """Return the text with item ``number`` of a list behind the next one, comments with it."""
    node = _at(text, way)
    (begin, end), (begin_next, end_next) = (_span(text, node, one) for one in (number, number + 1))
    return _checked(
        text[:begin] + text[begin_next:end_next] + text[end:begin_next] + text[begin:end] + text[end_next:]
    )


def items_of(text: str, way: tuple[Step, ...]) -> list[str]:
    """Return the items of a list, each as YAML on one line."""
    node = _at(text, way)
    return [_line(text, one) for one in node.value] if isinstance(node, yaml.SequenceNode) else []


def _checked(text: str) -> str:
    """Return a text that can be read as a tree."""
    read_tree(Path("the scene"), text=text)
    return text


def _root(text: str) -> Any:
    try:
        node: Any = yaml.compose(text, Loader=getattr(yaml, "CSafeLoader", yaml.SafeLoader))
    except yaml.YAMLError as error:
        raise LayoutError("the text can't be read", remedy="mend its mistakes first") from error
    if node is None:
        raise LayoutError("there is nothing in it", expected="a value")
    return node


def _at(text: str, way: tuple[Step, ...], *, or_none: bool = False) -> Any:
    node = _root(text)
    for step in way:
        values = node.value if isinstance(node.value, list) else []
        if isinstance(step, int):
            found = _value(values[step]) if step < len(values) else None
        else:
            found = next((value for name, value in values if name.value == step), None)
        if found is None or found.start_mark.index < node.start_mark.index:
            if found is None and or_none:
                return None
            raise SceneMistake(
                f"nothing stands at {'.'.join(map(str, way))}" if found is None else "an alias stands there",
                place=Place("the scene", node.start_mark.line + 1),
            )
        node = found
    return node


def _entry(text: str, way: tuple[Step, ...]) -> tuple[Any, int]:
    """Return what holds an entry, and the entry's number in it."""
    parent, last = _at(text, way[:-1]), way[-1]
    _at(text, way)
    if isinstance(last, int):
        return parent, last
    return parent, [name.value for name, _ in parent.value].index(last)


def _value(entry: Any) -> Any:
    return entry[1] if isinstance(entry, tuple) else entry


def _begin(entry: Any) -> int:
    first = entry[0] if isinstance(entry, tuple) else entry
    return int(first.start_mark.index)


def _end(text: str, node: Any) -> int:
    """Return where a value ends: a block does so where its last value does."""
    while not getattr(node, "flow_style", True) and node.value:
        node = _value(node.value[-1])
    return len(text[: node.end_mark.index].rstrip())


def _line_end(text: str, index: int) -> int:
    end = text.find("\n", index)
    return len(text) if end < 0 else end


def _block_end(text: str, index: int, column: int) -> int:
    """Return where an entry's last line ends: comment lines that stand deeper than its key are its own."""
    end = _line_end(text, index)
    while True:
        following = text[end + 1 : _line_end(text, end + 1)]
        bare = following.lstrip()
        if not bare.startswith("#") or len(following) - len(bare) <= column:
            return end
        end += 1 + len(following)


def _span(text: str, node: Any, number: int) -> tuple[int, int]:
    """Return where an item of a list begins and ends; in a block, its whole lines."""
    begin, end = _begin(node.value[number]), _end(text, _value(node.value[number]))
    if node.flow_style:
        return begin, end
    begin = text.rindex("\n", 0, begin) + 1
    return begin, _block_end(text, end, len(text[begin:]) - len(text[begin:].lstrip()))


def _line(text: str, node: Any) -> str:
    """Return a value as YAML on one line."""
    if isinstance(node, yaml.MappingNode):
        return "{" + ", ".join(f"{name.value}: {_line(text, one)}" for name, one in node.value) + "}"
    if isinstance(node, yaml.SequenceNode):
        return "[" + ", ".join(_line(text, one) for one in node.value) + "]"
    return text[node.start_mark.index : node.end_mark.index].strip()


def behind(text: str, node: Any, number: int, entry: str) -> str:
    """Put an entry behind entry ``number`` of a map or list, in its way of writing."""
    if not node.value:
        brackets = "[]" if isinstance(node, yaml.SequenceNode) else "{}"
        return (
            f"{text[: node.start_mark.index]}{brackets[0]}{entry}{brackets[1]}{text[node.end_mark.index :]}"
        )
    end = _end(text, _value(node.value[number]))
    if node.flow_style:
        return f"{text[:end]}, {entry}{text[end:]}"
    first = _begin(node.value[number])
    line = text.rfind("\n", 0, first) + 1
    indent = len(text[line:first]) - len(text[line:first].lstrip())
    end = _line_end(text, end)
    return f"{text[:end]}\n{' ' * indent}{entry}{text[end:]}"
