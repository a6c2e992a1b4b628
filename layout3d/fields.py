"""Field types of the scene file: what a part kind may declare, how it is read, drawn up and told.

A field type knows three things: how to read its value from a node of the file (through a ``Reader``, which
evaluates arithmetic and records mistakes), its JSON Schema, and its words for the docs page. It leaves out
where names come from: that is the reader's. Composite types (records, lists, either-or) are in
``fields_composite``.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, NoReturn, Protocol

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
    "Name",
    "Number",
    "Quantity",
    "Reader",
    "Source",
    "Text",
    "field",
    "field_specs",
    "is_own_name",
]

REQUIRED: Any = dataclasses.MISSING
"""Default of a field that the scene has to give."""


class Source(Protocol):
    """A node of the file: a scalar's text, a list or a mapping of nodes, with its place."""

    @property
    def kind(self) -> str:
        """Return 'scalar', 'list' or 'map'."""

    @property
    def value(self) -> Any:
        """Return the text, the list of nodes or the mapping of nodes."""

    @property
    def plain(self) -> bool:
        """Tell whether a scalar stands without quotes."""

    @property
    def place(self) -> Place:
        """Return where the node starts."""


class Reader(Protocol):
    """What a field type may ask of the scene's reader."""

    @property
    def system(self) -> str:
        """Return the units of messages: 'metric' or 'inch'."""

    def quantity(self, node: Source, kind: str) -> float:
        """Evaluate the node's arithmetic as a quantity of this kind, SI."""

    def fail(
        self, node: Source, found: str, *, expected: str = "", remedy: str = "", below: str = ""
    ) -> NoReturn:
        """Record a mistake at this node and give up this value; ``below`` is added to the path told."""

    def tell(self, node: Source, found: str, *, expected: str = "", remedy: str = "") -> None:
        """Record a mistake at this node and read on, to find the others; the value is refused later."""

    def catalog_name(self, node: Source, table: str) -> str:
        """Return the canonical name of a catalogue entry."""

    def read(self, node: Source, type: FieldType, step: str) -> Any:
        """Read a value below the present one; ``step`` is added to the path told in messages."""

    def record(self, node: Source, fields: Mapping[str, FieldSpec], what: str) -> dict[str, Any]:
        """Read a mapping with these fields; unknown and missing keys are mistakes."""


class FieldType(Protocol):
    """How one kind of value is read, put into a schema and told in the docs."""

    def read(self, node: Source, reader: Reader) -> Any:
        """Return the value, or record a mistake through ``reader.fail``."""

    def schema(self) -> dict[str, Any]:
        """Return its JSON Schema."""

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
            default=_default_of(item),
            doc=item.metadata["doc"],
        )
        for item in dataclasses.fields(cls)
        if "type" in item.metadata
    }


def _default_of(item: dataclasses.Field[Any]) -> Any:
    if item.default_factory is not dataclasses.MISSING:
        return item.default_factory()
    return item.default


def _scalar(node: Source, reader: Reader, expected: str) -> str:
    if node.kind != "scalar":
        reader.fail(node, f"a {'list' if node.kind == 'list' else 'mapping'} stands here", expected=expected)
    return str(node.value)


@dataclass(frozen=True, slots=True)
class Quantity:
    """A number with a unit, or arithmetic that gives one; limits in SI."""

    kind: str = "length"
    least: float | None = None
    most: float | None = None
    above: float | None = None

    def read(self, node: Source, reader: Reader) -> float:
        """Return the value, SI."""
        _scalar(node, reader, self.words(reader.system))
        value = reader.quantity(node, self.kind)
        if (
            not math.isfinite(value)
            or (self.least is not None and value < self.least - 1e-12)
            or (self.most is not None and value > self.most + 1e-12)
            or (self.above is not None and not value > self.above)
        ):
            from layout3d.units import show

            shown = show(value, self.kind, system=reader.system)
            found = str(node.value) if node.value == shown else f"{node.value} is {shown}"
            reader.fail(node, found, expected=self.words(reader.system))
        return value

    def schema(self) -> dict[str, Any]:
        """Return its JSON Schema: a number or a text of arithmetic."""
        return {"type": ["number", "string"], "description": self.words()}

    def words(self, system: str = "metric") -> str:
        """Return the kind with its limits, in the units of one system."""
        from layout3d.units import show

        text = f"a {self.kind}" if self.kind[0] not in "aeiou" else f"an {self.kind}"
        if self.above is not None:
            text += f" above {show(self.above, self.kind, system=system)}"
        if self.least is not None:
            text += f" of {show(self.least, self.kind, system=system)} or more"
        if self.most is not None:
            text += f", at most {show(self.most, self.kind, system=system)}"
        return text


def Number(*, least: float | None = None, most: float | None = None, above: float | None = None) -> Quantity:
    """Return the type of a plain number."""
    return Quantity("number", least, most, above)


@dataclass(frozen=True, slots=True)
class Count:
    """A whole number."""

    least: int = 0
    most: int = 1_000_000

    def read(self, node: Source, reader: Reader) -> int:
        """Return the whole number."""
        text = _scalar(node, reader, self.words())
        value = reader.quantity(node, "number")
        if not math.isfinite(value) or value != int(value) or not self.least <= value <= self.most:
            reader.fail(node, f"{text!r} is not such a number", expected=self.words())
        return int(value)

    def schema(self) -> dict[str, Any]:
        """Return its JSON Schema."""
        return {"type": ["integer", "string"], "description": self.words()}

    def words(self) -> str:
        """Return the range."""
        return f"a whole number from {self.least} to {self.most}"


@dataclass(frozen=True, slots=True)
class Text:
    """Free text."""

    most: int = 500

    def read(self, node: Source, reader: Reader) -> str:
        """Return the text."""
        text = _scalar(node, reader, self.words())
        if len(text) > self.most:
            reader.fail(node, f"{len(text)} characters", expected=self.words())
        return text

    def schema(self) -> dict[str, Any]:
        """Return its JSON Schema."""
        return {"type": ["string", "number", "boolean"], "description": self.words()}

    def words(self) -> str:
        """Return the limit."""
        return f"text of at most {self.most} characters"


@dataclass(frozen=True, slots=True)
class Flag:
    """True or false."""

    def read(self, node: Source, reader: Reader) -> bool:
        """Return the truth value."""
        text = _scalar(node, reader, self.words())
        if text not in ("true", "false"):
            reader.fail(node, f"{text!r} stands here", expected=self.words())
        return text == "true"

    def schema(self) -> dict[str, Any]:
        """Return its JSON Schema."""
        return {"type": "boolean"}

    def words(self) -> str:
        """Return the two words."""
        return "true or false"


@dataclass(frozen=True, slots=True)
class Choice:
    """One word of a few."""

    options: tuple[str, ...]

    def read(self, node: Source, reader: Reader) -> str:
        """Return the word."""
        text = _scalar(node, reader, self.words())
        if text not in self.options:
            reader.fail(node, f"{text!r} is not known here", expected=nearest(text, self.options))
        return text

    def schema(self) -> dict[str, Any]:
        """Return its JSON Schema; a figure may stand without quotes, which YAML takes for a number."""
        figures = [int(option) for option in self.options if option.isdecimal()]
        return {"enum": [*self.options, *figures]}

    def words(self) -> str:
        """Return the words."""
        return "one of: " + ", ".join(self.options)


@dataclass(frozen=True, slots=True)
class CatalogName:
    """The name of an entry in one table of the catalogue."""

    table: str

    def read(self, node: Source, reader: Reader) -> str:
        """Return the entry's canonical name."""
        _scalar(node, reader, self.words())
        return reader.catalog_name(node, self.table)

    def schema(self) -> dict[str, Any]:
        """Return its JSON Schema."""
        return {"type": "string", "description": self.words()}

    def words(self) -> str:
        """Return the table."""
        return f"the name of a {self.table} in the catalogue"


@dataclass(frozen=True, slots=True)
class Name:
    """A name of something in the scene (a part, a port, a hole), looked up when the model is built."""

    what: str
    own: bool = False
    """The scene gives the name here: it has no dots, which stand between names."""

    def read(self, node: Source, reader: Reader) -> str:
        """Return the name."""
        text = _scalar(node, reader, self.words())
        if self.own and "." in text:
            reader.fail(node, f"{text!r} can't be a name", expected="letters, digits, _ and -, without dots")
        if not text or len(text) > 120 or any(not (c.isalnum() or c in "._-") for c in text):
            reader.fail(node, f"{text!r} can't be a name", expected=self.words())
        return text

    def schema(self) -> dict[str, Any]:
        """Return its JSON Schema."""
        return {"type": "string", "description": self.words()}

    def words(self) -> str:
        """Return what it names."""
        return f"the name of {self.what}"


OWN_NAME = "letters, digits, _ and -, without dots or spaces"


def is_own_name(text: str) -> bool:
    """Tell whether the user may call something of their own so."""
    return 0 < len(text) <= 60 and all(c.isalnum() or c in "_-" for c in text)
