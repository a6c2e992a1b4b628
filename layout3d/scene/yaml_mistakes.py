"""What a YAML reader complains of, put into words for a person who writes a scene.

The libraries' two readers say the same thing differently; both are known here. A complaint that is not in the
table is told with the reader's own words.
"""

from __future__ import annotations

import re
from typing import Any, NamedTuple

from layout3d.errors import Place, SceneMistake
from layout3d.scene.file import shown

__all__ = ["mistake_of"]


class _Rule(NamedTuple):
    complaint: str  # pattern in '<context>: <problem>'
    found: str  # {start}: where the thing began; {sign}: the character at the place
    remedy: str
    at_start: bool = False  # the thing's beginning is the place to look at


_QUOTE_IT = "put the value in quotes"
_RULES = (
    _Rule("nesting depth", "nested too deep", "look for a bracket too many"),
    _Rule(
        "escape|low surrogate|hexdecimal|chr|C int",
        "a sign behind '\\' that YAML doesn't know",
        "write \\\\, or use single quotes",
    ),
    _Rule(
        "(quoted scalar|quoted-scalar).*(end of stream|document)",
        "this quote is not closed",
        "write the closing quote",
        True,
    ),
    _Rule(
        "mapping values are not allowed",
        "a ': ' where no value can begin",
        "put a text with ': ' in it in quotes; give a key on the line above its ':'",
    ),
    _Rule("simple key", "a key without its ':'", "write `key: value`", True),
    _Rule("node.*: the end", "the file ends where a value should begin", "write the rest of it"),
    _Rule(
        "flow mapping",
        "',' or '}' is missing in the map that begins with '{{' in {start}",
        "put ',' between its entries and '}' behind the last",
    ),
    _Rule(
        "flow sequence",
        "',' or ']' is missing in the list that begins with '[' in {start}",
        "put ',' between its values and ']' behind the last",
    ),
    _Rule(
        "block mapping",
        "this doesn't belong to the map that begins in {start}",
        "look at the indentation, and for a quote that ends too early",
    ),
    _Rule(
        "block (collection|sequence:)",
        "this doesn't belong to the list that begins in {start}",
        "look at the indentation, and for a quote that ends too early",
    ),
    _Rule("sequence entries", "'- ' where no list can begin", "begin the list on a line of its own"),
    _Rule("mapping keys", "'? ' where no key can begin", _QUOTE_IT),
    _Rule("(alias|anchor).*(did not|expected)", "'&' or '*' without a name behind it", _QUOTE_IT),
    _Rule("tag", "'!' (a tag) where none can stand", _QUOTE_IT),
    _Rule(
        "(?i)directive|yaml document|version", "'%' at the start of a line", "delete the line, or indent it"
    ),
    _Rule(
        "block scalar",
        "a text behind '|' or '>' that is not set out as YAML asks",
        "indent it with spaces only",
    ),
    _Rule(
        "<document start>",
        "something stands behind the end of the scene",
        "look at the indentation, or delete it",
    ),
    _Rule("unexpected ':'", "a ':' inside a text in brackets", _QUOTE_IT),
    _Rule("tab character", "a tab where only spaces can stand", "indent with spaces"),
    _Rule(
        "cannot start any token|node content|(block|flow) node|parsing a node",
        "{sign} where a value should begin",
        _QUOTE_IT,
    ),
    _Rule(
        "unexpected end|document (indicator|separator)",
        "ends in the middle of a value",
        "write the rest of it",
    ),
)


def mistake_of(error: Exception, text: str, name: str) -> SceneMistake:
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
    sign = _sign(text, problem_mark)
    told = f"{getattr(error, 'context', None) or ''}: {getattr(error, 'problem', None) or error}"
    if sign == "\t" and "token" in told:
        told = "tab character"
    if not sign:
        told += ": the end"
    for rule in _RULES:
        if re.search(rule.complaint, told, re.DOTALL):
            where = f"line {start.line}, column {start.column}"
            found = rule.found.replace("{start}", where).replace("{sign}", shown(sign)).replace("{{", "{")
            # at the end of the file there is nothing to see: show what was begun and not ended
            return SceneMistake(
                found, remedy=rule.remedy, place=start if rule.at_start or not sign else place
            )
    return SceneMistake(
        f"is not YAML from here on ({told.lstrip(': ')})",
        remedy="look at this line and the one above it",
        place=place,
    )


def _place(mark: Any, name: str) -> Place:
    return Place(name, mark.line + 1, mark.column + 1) if mark is not None else Place(name)


def _sign(text: str, mark: Any) -> str:
    return text[mark.index : mark.index + 1] if mark is not None else ""
