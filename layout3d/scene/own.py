"""How a scene's own catalogue entries are read: the catalogue says which fields, this types them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from layout3d.catalog import OWN_FIELDS
from layout3d.errors import nearest
from layout3d.fields import Choice, FieldSpec, FieldType, Number, Quantity, Reader, Source, Text
from layout3d.fields_composite import Listing, Point, Record
from layout3d.units import kind_of, parse_unit

__all__ = ["OwnEntries", "limit_kind"]

_RATIOS = ("-", "glass thicknesses", "hole diameters", "sizes", "span over deflection")
"""What a limit counts where that is no unit; so does everything that begins with 'of'."""


def limit_kind(unit: str) -> str:
    """Return the kind of quantity that a limit of this unit is given in ('number' for ratios).

    Raises
    ------
    RuntimeError : neither a unit nor a ratio, which only a fault in the table of limits can cause.
    """
    known = parse_unit(unit)
    if known is not None:
        return kind_of(known[1])
    if unit in _RATIOS or unit.startswith("of "):
        return "number"
    raise RuntimeError(f"fault of the program: a limit counts {unit!r}, which limit_kind does not know")


@dataclass(frozen=True, slots=True)
class _CurvePoint(FieldType):
    """One point of a pump curve: [flow, head]."""

    def read(self, node: Source, reader: Reader) -> tuple[float, float]:
        """Return (flow, head), [m³/s, m]."""
        if node.kind != "list" or len(node.value) != 2:
            reader.fail(node, "no pair stands here", expected=self.words())
        flow, head = node.value
        return (
            reader.read(flow, Quantity("flow", least=0.0), ".flow"),
            reader.read(head, Quantity("length", least=0.0), ".head"),
        )

    def schema(self) -> dict[str, Any]:
        """Return its JSON Schema."""
        return {"type": "array", "items": {"type": ["number", "string"]}, "minItems": 2, "maxItems": 2}

    def words(self) -> str:
        """Return the pair."""
        return "[flow, head], such as [800 L/h, 1.2 m]"


_LENGTH = Quantity("length", above=0.0, most=100.0)
_TYPES: dict[str, FieldType] = {
    "name": Text(60),
    "text": Text(200),
    "family": Choice(("inch", "metric")),
    "length": _LENGTH,
    "density": Quantity("density", above=0.0, most=30_000.0),
    "ratio": Number(least=0.0, most=1.0),
    "curve": Listing(_CurvePoint(), least=2, most=60),
    "power": Quantity("power", least=0.0),
    "box": Point(("length", "width", "height"), _LENGTH),
    "number": Number(),
    "severity": Choice(("fault", "warning", "note")),
}
_SECTIONS = {name: fields for name, fields in OWN_FIELDS.items() if name != "limits"}


@dataclass(frozen=True, slots=True)
class OwnEntries(FieldType):
    """The ``catalog:`` section: section -> name -> fields."""

    def read(self, node: Source, reader: Reader) -> dict[str, dict[str, dict[str, Any]]]:
        """Return the given fields only, SI, as ``Catalog.with_own`` takes them."""
        if node.kind != "map":
            reader.fail(node, f"a {node.kind} stands here", expected=self.words())
        result: dict[str, dict[str, dict[str, Any]]] = {}
        for section, child in node.value.items():
            if section not in _SECTIONS:
                reader.tell(child, f"no section is called {section!r}", expected=nearest(section, _SECTIONS))
                continue
            if child.kind != "map":
                reader.tell(child, f"a {child.kind} stands here", expected="names with their fields")
                continue
            entry = self._entry(section)
            entries = {
                name: reader.read(item, entry, f".{section}.{name}") for name, item in child.value.items()
            }
            result[section] = {
                name: {key: value for key, value in fields.items() if value is not None}
                for name, fields in entries.items()
                if isinstance(fields, dict)
            }
        return result

    @staticmethod
    def _entry(section: str) -> Record:
        specs = {
            name: FieldSpec(name=name, type=_TYPES[kind], default=None, doc="")
            for name, kind in _SECTIONS[section].items()
        }
        return Record(specs, f"an entry of {section}")

    def schema(self) -> dict[str, Any]:
        """Return its JSON Schema."""
        return {
            "type": "object",
            "properties": {
                section: {"type": "object", "additionalProperties": self._entry(section).schema()}
                for section in _SECTIONS
            },
            "additionalProperties": False,
        }

    def words(self) -> str:
        """Return the sections."""
        return "sections " + ", ".join(_SECTIONS)
