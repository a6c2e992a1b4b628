"""Field types of the scene file: what a part kind may declare, how it is read, drawn up and told.

A field type knows three things: how to read its value from a node of the file (through a ``Reader``, which
evaluates arithmetic and records mistakes), its JSON Schema, and its words for the docs page. It leaves out
where names come from: that is the reader's. Composite types (records, lists, either-or) are in
``fields_composite``.
"""

from __future__ import annotations

import dataclasses
import functools
import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, ClassVar, Literal, NoReturn, Protocol

from layout3d.errors import Place, nearest

__all__ = [
    "OWN_NAME",
    "REQUIRED",
    "CatalogName",
    "Choice",
    "Count",
    "FieldSpec",
    "FieldType",
    "Flag",
    "Length",
    "Name",
    "Node",
    "Number",
    "Quantity",
    "Reader",
    "Text",
    "field",
    "field_specs",
    "is_own_name",
]

REQUIRED: Any = dataclasses.MISSING
"""Default of a field that the scene has to give."""


@dataclass(frozen=True, slots=True)
class Node:
    """One map, list or text of the file; an aliased node stands at more than one place of the tree.

    ``value`` is a dict of nodes, a list of nodes or a str after ``kind``, to be read and never written to.
    ``plain`` says that a scalar stood without quotes. ``key_places`` holds, for a map, where each key stands.
    ``text_column`` is where a scalar's own text begins in its line, so that a place in the text is a place in
    the file; 0 where it isn't, because the text has escapes or runs over several lines.
    """

    kind: Literal["map", "list", "scalar"]
    value: Any  # what it is hangs on kind, which a type checker can't follow
    plain: bool
    place: Place
    key_places: dict[str, Place] = dataclasses.field(default_factory=dict)
    text_column: int = 0

    def below(self, path: str) -> Node:
        """Return the node that a path leads to from here, as far as it goes: 'holes.drain', 'route[2].up'."""
        at = self
        for key in re.findall(r"[^.\[\]]+", path):
            if at.kind == "map" and key in at.value:
                at = at.value[key]
            elif at.kind == "list" and key.isdecimal() and 0 < int(key) <= len(at.value):
                at = at.value[int(key) - 1]
            else:
                break
        return at

    def says_as(self, other: Node) -> bool:
        """Tell whether another node says the same, keys in the same order, wherever either stands."""
        if self is other:
            return True
        if (self.kind, self.plain) != (other.kind, other.plain):
            return False
        if self.kind == "scalar":
            return bool(self.value == other.value)
        mine, others = ((*n.value.values(),) if n.kind == "map" else n.value for n in (self, other))
        named = self.kind == "list" or list(self.value) == list(other.value)
        return named and len(mine) == len(others) and all(map(Node.says_as, mine, others))


class Reader(Protocol):
    """What a field type may ask of the scene's reader."""

    @property
    def system(self) -> str:
        """Return the units of messages: 'metric' or 'inch'."""

    @property
    def where(self) -> str:
        """Return the path of what is being read, from the file's top: 'parts.rock.at'."""

    def quantity(self, node: Node, kind: str, *, expected: str = "", example: str = "") -> float:
        """Evaluate the node's arithmetic as a quantity of this kind, SI.

        ``expected`` and ``example`` are told where it is of another kind, in place of the kind's own.
        """

    def fail(
        self, node: Node, found: str, *, expected: str = "", remedy: str = "", below: str = ""
    ) -> NoReturn:
        """Record a mistake at this node and give up this value; ``below`` is added to the path told."""

    def tell(self, node: Node, found: str, *, expected: str = "", remedy: str = "") -> None:
        """Record a mistake at this node and read on, to find the others; the value is refused later."""

    def catalog_name(self, node: Node, table: str) -> str:
        """Return the canonical name of a catalogue entry."""

    def read(self, node: Node, type: FieldType, step: str) -> Any:
        """Read a value below the present one; ``step`` is added to the path told in messages."""

    def record(self, node: Node, fields: Mapping[str, FieldSpec], what: str) -> dict[str, Any]:
        """Read a mapping with these fields; unknown and missing keys are mistakes."""


class FieldType(Protocol):
    """How one kind of value is read, put into a schema and told in the docs."""

    json: ClassVar[tuple[str, ...]] = ("string",)
    """Its types in JSON, as ``schema`` names them; beside them stand the words."""

    def read(self, node: Node, reader: Reader) -> Any:
        """Return the value (figures in SI), or record a mistake through ``reader.fail``."""

    def schema(self) -> dict[str, Any]:
        """Return its JSON Schema."""
        types = self.json[0] if len(self.json) == 1 else list(self.json)
        return {"type": types, "description": self.words()}

    def words(self) -> str:
        """Return what to write there, in a few words."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FieldSpec:
    """One field of a record: its name, type, default (SI; ``REQUIRED`` if none) and meaning."""

    name: str
    type: FieldType
    default: Any
    doc: str

    @property
    def required(self) -> bool:
        """Tell whether the scene has to give it."""
        return self.default is REQUIRED


def field(type: FieldType, default: Any = REQUIRED, *, doc: str) -> Any:
    """Declare a field of a part kind, as a dataclass field that carries its type and meaning."""
    metadata = {"type": type, "doc": doc}
    if default is REQUIRED:
        return dataclasses.field(metadata=metadata)
    if isinstance(default, dict):
        return dataclasses.field(default_factory=default.copy, metadata=metadata)
    return dataclasses.field(default=default, metadata=metadata)


def field_specs(cls: type) -> dict[str, FieldSpec]:
    """Return the declared fields of a dataclass, in order; plain dataclass fields are left out."""
    return {
        item.name: FieldSpec(
            name=item.name,
            type=item.metadata["type"],
            default=item.default if item.default_factory is dataclasses.MISSING else item.default_factory(),
            doc=item.metadata["doc"],
        )
        for item in dataclasses.fields(cls)
        if "type" in item.metadata
    }


def _scalar(type: FieldType, node: Node, reader: Reader, expected: str = "") -> str:
    if node.kind != "scalar":
        found = f"a {'list' if node.kind == 'list' else 'mapping'} stands here"
        reader.fail(node, found, expected=expected or type.words())
    return str(node.value)


@dataclass(frozen=True, slots=True)
class Quantity(FieldType):
    """A number with a unit, or arithmetic that gives one; limits in SI."""

    json = ("number", "string")

    kind: str = "length"
    least: float | None = None
    most: float | None = None
    above: float | None = None

    def read(self, node: Node, reader: Reader) -> float:
        expected = self.words(reader.system)
        _scalar(self, node, reader, expected)
        value = reader.quantity(node, self.kind, expected=expected, example=_example(self, reader.system))
        if (
            not math.isfinite(value)
            or (self.least is not None and value < self.least - 1e-12)
            or (self.most is not None and value > self.most + 1e-12)
            or (self.above is not None and not value > self.above)
        ):
            from layout3d.units import show

            shown = show(value, self.kind, system=reader.system)
            found = str(node.value) if node.value == shown else f"{node.value} is {shown}"
            reader.fail(node, found, expected=expected)
        return value

    def words(self, system: str = "metric") -> str:
        """Return the kind with its limits, in the units of one system."""
        return _worded(self, system)


@functools.cache
def _worded(wanted: Quantity, system: str) -> str:
    from layout3d.units import show

    text = f"a {wanted.kind}" if wanted.kind[0] not in "aeiou" else f"an {wanted.kind}"
    for limit, told in (
        (wanted.above, " above {}"),
        (wanted.least, " of {} or more"),
        (wanted.most, ", at most {}"),
    ):
        if limit is not None:
            text += told.format(show(limit, wanted.kind, system=system))
    return text


@functools.cache
def _example(wanted: Quantity, system: str) -> str:
    """Return a value within the limits: that of the kind, if it is."""
    from layout3d.units import KINDS, show, to_si

    usual = KINDS[wanted.kind].example
    figure, _, unit = usual.partition(" ")
    floor = wanted.least if wanted.least is not None else wanted.above
    low, high = (-math.inf if floor is None else floor), (math.inf if wanted.most is None else wanted.most)
    if not figure or low < (to_si(float(figure), unit) if unit else float(figure)) <= high:
        return usual
    if math.isfinite(low) and math.isfinite(high):
        inside = (low + high) / 2
    else:
        inside = 2 * low if math.isfinite(low) else high / 2
    return show(inside, wanted.kind, system=system, digits=2)


def Length(least: float | None = None, most: float | None = None, *, above: float | None = None) -> Quantity:
    """Return the type of a length, its limits in [m]."""
    return Quantity("length", least, most, above)


def Number(*, least: float | None = None, most: float | None = None, above: float | None = None) -> Quantity:
    """Return the type of a plain number."""
    return Quantity("number", least, most, above)


@dataclass(frozen=True, slots=True)
class Count(FieldType):
    """A whole number."""

    json = ("integer", "string")

    least: int = 0
    most: int = 1_000_000

    def read(self, node: Node, reader: Reader) -> int:
        text = _scalar(self, node, reader)
        value = reader.quantity(node, "number", expected=self.words(), example=str(max(1, self.least)))
        if not math.isfinite(value) or value != int(value) or not self.least <= value <= self.most:
            reader.fail(node, f"{text!r} is not such a number", expected=self.words())
        return int(value)

    def words(self) -> str:
        return f"a whole number from {self.least} to {self.most}"


@dataclass(frozen=True, slots=True)
class Text(FieldType):
    """Free text."""

    json = ("string", "number", "boolean")

    most: int = 500

    def read(self, node: Node, reader: Reader) -> str:
        text = _scalar(self, node, reader)
        if len(text) > self.most:
            reader.fail(node, f"{len(text)} characters", expected=self.words())
        return text

    def words(self) -> str:
        return f"text of at most {self.most} characters"


@dataclass(frozen=True, slots=True)
class Flag(FieldType):
    """True or false."""

    def read(self, node: Node, reader: Reader) -> bool:
        text = _scalar(self, node, reader)
        if text not in ("true", "false"):
            reader.fail(node, f"{text!r} stands here", expected=self.words())
        return text == "true"

    def schema(self) -> dict[str, Any]:
        return {"type": "boolean"}

    def words(self) -> str:
        return "true or false"


@dataclass(frozen=True, slots=True)
class Choice(FieldType):
    """One word of a few."""

    options: tuple[str, ...]

    def read(self, node: Node, reader: Reader) -> str:
        text = _scalar(self, node, reader)
        if text not in self.options:
            reader.fail(node, f"{text!r} is not known here", expected=nearest(text, self.options))
        return text

    def schema(self) -> dict[str, Any]:
        """Return its JSON Schema; a figure may stand without quotes, which YAML takes for a number."""
        figures = [int(option) for option in self.options if option.isdecimal()]
        return {"enum": [*self.options, *figures]}

    def words(self) -> str:
        return "one of: " + ", ".join(self.options)


@dataclass(frozen=True, slots=True)
class CatalogName(FieldType):
    """The name of an entry in one table of the catalogue; read as the entry's canonical name."""

    table: str

    def read(self, node: Node, reader: Reader) -> str:
        _scalar(self, node, reader)
        return reader.catalog_name(node, self.table)

    def words(self) -> str:
        return f"the name of a {self.table} in the catalogue"


@dataclass(frozen=True, slots=True)
class Name(FieldType):
    """A name of something in the scene (a part, a port, a hole), looked up when the model is built."""

    what: str
    own: bool = False
    """The scene gives the name here: it has no dots, which stand between names."""

    def read(self, node: Node, reader: Reader) -> str:
        text = _scalar(self, node, reader)
        if self.own and "." in text:
            reader.fail(node, f"{text!r} can't be a name", expected="letters, digits, _ and -, without dots")
        if not text or len(text) > 120 or any(not (c.isalnum() or c in "._-") for c in text):
            reader.fail(node, f"{text!r} can't be a name", expected=self.words())
        return text

    def words(self) -> str:
        return f"the name of {self.what}"


OWN_NAME = "letters, digits, _ and -, without dots or spaces"


def is_own_name(text: str) -> bool:
    """Tell whether the user may call something of their own so."""
    return 0 < len(text) <= 60 and all(c.isalnum() or c in "_-" for c in text)
