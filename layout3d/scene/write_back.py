"""Values written back into a scene's text: comments, order, units, fractions and layout stay as they are.

A change replaces the characters of one value and nothing else. A value that stands as a name changes the
named value; one that stands as any other arithmetic is refused, for whoever wrote it meant something by it.
No file is read or written here.
"""

from __future__ import annotations

import contextlib
import math
import re
from collections.abc import Mapping
from fractions import Fraction
from pathlib import Path
from typing import Any

import yaml

from layout3d.errors import Place, SceneMistake, UnknownName, nearest
from layout3d.fields import Node
from layout3d.scene.entries import behind
from layout3d.scene.syntax import Step, steps_of
from layout3d.scene.tree import read_tree
from layout3d.scene.words import ArithmeticMistake
from layout3d.units import exact_unit

__all__ = ["Value", "changed", "stands_at", "text_at", "written_like"]

Value = str | Mapping[str, str]
"""A value's text, or texts by the keys of a mapping."""

_ANCHOR = re.compile(r"(&[^\s\[\]{},]+\s+)?")
_STEP = re.compile(r"\.?([^.\[\]]+)|\[([1-9][0-9]*)\]")
_FEET_AND_INCHES = re.compile(
    r"(?P<feet>[0-9]+)(?P<foot>\s*(?:'|′|’|ft|foot|feet))(?P<between>[\s-]*)(?P<inches>[0-9./ -]+?)"
    r"(?P<inch>\s*(?:\"|″|”|in|inch|inches))"
)
_ONE_FIGURE = re.compile(r"(?P<figure>[0-9.eE/ -]+?)(?P<unit>\s*[^0-9\s./-].*)?")
_FINEST = {"mm": Fraction(1, 10), "in": Fraction(1, 100), "fraction": Fraction(1, 16)}
_SHARES = 64  # that an inch is divided into at most, by a tape or by hand
_DEGREE = math.pi / 180


def changed(text: str, changes: Mapping[str, Value], *, file: str = "the scene", here: bool = False) -> str:
    """Return a scene's text with other values at some paths.

    Parameters
    ----------
    text : the scene file's text
    changes : by path ('parts.rock.at.left', 'parts.rock.at[1]', 'values.depth'): a value as text in the
        file's own arithmetic (``written_like`` makes it from a figure), or a mapping of such texts. Of a
        mapping that stands there the keys that are named change, and those that are not become 0; where a
        scalar or nothing stands, the mapping is written in one line. A missing key is added to its map
    file : the name that messages give it
    here : whether single values are put where the paths lead, in place of names and arithmetic there

    Returns
    -------
    The text; what is not changed is the same to the last character.

    Raises
    ------
    SceneRefused : the text can't be read.
    UnknownName : a path leads to nothing, and to no map that a key could be added to.
    SceneMistake : the value there is arithmetic or an alias, or two of the changes differ on one value.

    Examples
    --------
    >>> print(changed("values: {left: 3/4 in}  # of the rock", {"values.left": "1 1/4 in"}))
    values: {left: 1 1/4 in}  # of the rock
    """
    wanted: dict[str, str] = {}
    for path, value in changes.items():
        alone = here and isinstance(value, str) and _found(read_tree(Path(file), text=text), path) is not None
        for at, one in [(path, str(value))] if alone else _leaves(text, path, value, file):
            if wanted.setdefault(at, one) != one:
                raise SceneMistake(
                    f"it would become both {wanted[at]} and {one}",
                    remedy="give each of the two a value of its own",
                    path=at,
                    place=Place(file),
                )
    expected = _plain(read_tree(Path(file), text=text))
    for path, value in wanted.items():
        text = _put(text, path, value, file)
        _replace(expected, path, value)
    if _plain(read_tree(Path(file), text=text)) != expected:
        raise SceneMistake(
            f"{', '.join(wanted)} can't be written so that it alone is changed",
            remedy="write out what stands as an alias, or change the file by hand",
            place=Place(file),
        )
    return text


def stands_at(text: str, path: str, *, file: str = "the scene") -> str:
    """Return the path at which the value of a field stands: its own, or that of the value which it names.

    Raises as ``changed`` does; a missing key stands at its own path.
    """
    root = read_tree(Path(file), text=text)
    values = root.value.get("values") if root.kind == "map" else None
    named = values.value if values is not None and values.kind == "map" else {}
    while True:  # names of names
        node = _found(root, path)
        if node is None or node.kind != "scalar":
            return path
        steps = _steps(node)
        name = steps[0].text if len(steps) == 1 and steps[0].kind == "name" else ""
        if name not in named or path == f"values.{name}":  # a circle is no scene
            break
        named = {other: value for other, value in named.items() if other != name}
        path = f"values.{name}"
    if steps and not _is_figure(steps) and (len(steps) > 1 or "." in name):
        raise SceneMistake(
            f"{node.value!r} is arithmetic, which a figure would wipe out",
            remedy="write a figure there, or the name of a value, and let that change",
            path=path,
            place=node.place,
        )
    return path


def text_at(text: str, path: str, *, file: str = "the scene") -> str | None:
    """Return the text of the value that stands at a path; None for no value, a map or a list."""
    node = _found(read_tree(Path(file), text=text), path)
    return str(node.value) if node is not None and node.kind == "scalar" else None


def written_like(old: str | None, value: float, kind: str, *, units: str) -> str:
    """Write a figure as another one is written: its unit, fractions where it has them, feet and inches.

    Parameters
    ----------
    old : the text of the other one; None or arithmetic gives a bare number
    value : SI
    kind : 'length', 'angle', or 'number', which a bare number then is
    units : what a bare length counts in, 'mm' or 'in', as the scene says

    Returns
    -------
    The text, rounded to 0.1 mm, 0.01 in, 1/16 in where fractions stand (or a whole figure, and
    the new one is such a fraction), 0.1°, or four figures of others.
    """
    body = ""
    with contextlib.suppress(ArithmeticMistake):
        body = old.strip().lstrip("-+ ") if old and _is_figure(steps_of(old.strip())) else ""
    sign = "-" if value < 0 else ""
    both = _FEET_AND_INCHES.fullmatch(body)
    if both and kind == "length":
        feet, inches = divmod(round(abs(value) / 0.0254 * 16), 16 * 12)
        figure = _fraction(Fraction(inches, 16))
        sign *= bool(feet or inches)
        return f"{sign}{feet}{both['foot']}{both['between']}{figure}{both['inch']}"
    one = _ONE_FIGURE.fullmatch(body)
    unit = (one["unit"] or "") if one else ""
    if unit:
        found = exact_unit(unit.strip())
        factor = float(found.factor) if found is not None else 1.0
    else:
        bare = {"length": 0.0254 if units == "in" else 0.001, "angle": _DEGREE}
        factor = bare.get(kind, 1.0)
    inches_count = math.isclose(factor, 0.0254) or math.isclose(factor, 0.3048)
    sixteenths = abs(value) / 0.0254 * 16.0
    whole = math.isclose(factor, 0.0254) and one and one["figure"].isdigit()
    if whole and math.isclose(sixteenths, round(sixteenths), abs_tol=1e-6):
        figure = _fraction(Fraction(round(sixteenths), 16))  # as a tape has it
    elif inches_count and one and "/" in one["figure"]:
        figure = _fraction(Fraction(round(abs(value) / factor * 16), 16))
    elif kind in ("length", "angle"):
        finest = _DEGREE / 10 if kind == "angle" else 0.000254 if inches_count else 0.0001
        places = max(0, math.ceil(-math.log10(finest / factor) - 1e-9))
        figure = f"{abs(value) / factor:.{places}f}"
        figure = figure.rstrip("0").rstrip(".") if places else figure
    else:
        figure = f"{abs(value) / factor:.4g}"
    return f"{sign if figure != '0' else ''}{figure}{unit}"


def _fraction(figure: Fraction) -> str:
    whole, rest = divmod(figure, 1)
    return " ".join([str(whole)] * bool(whole or not rest) + [str(rest)] * bool(rest))


def _leaves(text: str, path: str, value: Value, file: str) -> list[tuple[str, str]]:
    """Return the paths where single values go, each with its text."""
    if isinstance(value, str):
        return [(stands_at(text, path, file=file), value)]
    node = _found(read_tree(Path(file), text=text), path)
    if node is None or node.kind != "map":
        return [(path, "{" + ", ".join(f"{key}: {one}" for key, one in value.items()) + "}")]
    each = {**{key: "0" for key in node.value if key not in value}, **value}
    return [(stands_at(text, f"{path}.{key}", file=file), one) for key, one in each.items()]


def _found(root: Node, path: str) -> Node | None:
    """Return the node at a path; None where its last word is a key that is missing from its map."""
    words = list(_STEP.finditer(path))
    if "".join(word[0] for word in words) != path or not words:
        raise UnknownName(f"{path!r} is no path", expected="words with dots, such as parts.rock.at.left")
    node = root
    for count, word in enumerate(words):
        key, number = word[1], word[2]
        if key is not None and node.kind == "map":
            if key not in node.value:
                if count == len(words) - 1:
                    return None
                raise UnknownName(
                    f"nothing is called {key!r}",
                    expected=nearest(key, list(node.value)),
                    path=path,
                    place=node.place,
                )
            node = node.value[key]
        elif number is not None and node.kind == "list" and int(number) <= len(node.value):
            node = node.value[int(number) - 1]
        else:
            raise UnknownName(
                f"a {node.kind} stands before {word[0]!r}",
                expected="the path of a field in this scene",
                path=path,
                place=node.place,
            )
    return node


def _steps(node: Node) -> tuple[Step, ...]:
    try:
        return steps_of(str(node.value))
    except ArithmeticMistake:
        return ()  # a word, a catalogue name: replaced as it stands


def _is_figure(steps: tuple[Step, ...]) -> bool:
    """Tell whether an expression is one number, its minus aside; a bare 5/8 or 1/3 is one."""
    if len(steps) > 1 and (steps[1].kind, steps[1].text) == ("sign", "negative"):
        steps = (steps[0], *steps[2:])
    numbers = [step.literal for step in steps if step.literal is not None]
    if len(numbers) == 2 and [step.text for step in steps[2:]] == ["/"]:
        share, of = (one.number for one in numbers)
        whole = all(one.bare and one.number.denominator == 1 for one in numbers)
        return whole and share < of <= _SHARES
    return len(numbers) == len(steps) == 1


def _plain(node: Node) -> Any:
    """Return a tree as plain data."""
    if node.kind == "map":
        return {key: _plain(child) for key, child in node.value.items()}
    return [_plain(child) for child in node.value] if node.kind == "list" else node.value


def _replace(data: Any, path: str, value: str) -> None:
    """Put another value at a path of plain data."""
    *way, last = [word[1] if word[1] is not None else int(word[2]) - 1 for word in _STEP.finditer(path)]
    for step in way:
        data = data[step]
    data[last] = _mapping(value) or value


def _mapping(value: str) -> dict[str, str] | None:
    """Return a text in braces as the mapping of texts that it is to YAML; None for any other text."""
    found: Any = None
    with contextlib.suppress(yaml.YAMLError):
        found = yaml.compose(value, Loader=yaml.SafeLoader) if value.startswith("{") else None
    pairs = found.value if isinstance(found, yaml.MappingNode) else []
    plain = all(isinstance(one, yaml.ScalarNode) for pair in pairs for one in pair)
    return {name.value: one.value for name, one in pairs} if plain else None


def _as_yaml(value: str, quote: str) -> str:
    """Write a text as a scalar: in the quotes that were there, plain where none were and none are needed."""
    if quote == '"':
        escaped = value.replace("\\", "\\\\").replace('"', '\\"')
        return f'"{escaped}"'
    if not quote:
        if _mapping(value):
            return value
        with contextlib.suppress(yaml.YAMLError):
            # within brackets, where most signs mean something
            within: Any = yaml.compose(f"[{value}]", Loader=yaml.SafeLoader)
            (one,) = within.value if len(within.value) == 1 else (None,)
            if isinstance(one, yaml.ScalarNode) and one.value == value and not one.style:
                return value
    return "'" + value.replace("'", "''") + "'"


def _put(text: str, path: str, value: str, file: str) -> str:
    """Replace the characters of the value at a path, or add its key to its map."""
    node: Any = yaml.compose(text, Loader=getattr(yaml, "CSafeLoader", yaml.SafeLoader))
    words = list(_STEP.finditer(path))
    for count, word in enumerate(words):
        key, number = word[1], word[2]
        child: Any
        if number is not None:
            begun, child = node.start_mark.index, node.value[int(number) - 1]
        else:
            pairs = ((name.end_mark.index, child) for name, child in node.value if name.value == key)
            begun, child = next(pairs, (0, None))
        if child is None:
            assert count == len(words) - 1, "a path that _found has followed (write_back._put)"
            return behind(text, node, len(node.value) - 1, f"{key}: {_as_yaml(value, '')}")
        if child.start_mark.index < begun:
            raise SceneMistake(
                "an alias stands there: what it names stands in other places too",
                remedy="write the value out",
                path=path,
                place=Place(file, node.start_mark.line + 1, node.start_mark.column + 1),
            )
        node = child
    anchor = _ANCHOR.match(text, node.start_mark.index)
    begin = anchor.end() if anchor is not None else node.start_mark.index
    quote = text[begin] if text[begin : begin + 1] in ("'", '"') else ""
    return text[:begin] + _as_yaml(value, quote) + text[node.end_mark.index :]
