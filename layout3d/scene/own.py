"""How a scene's own catalogue entries are read: the catalogue says which fields, this types them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from layout3d.catalog import OWN_FIELDS
from layout3d.errors import nearest
from layout3d.fields import FieldSpec, FieldType, Node, Reader
from layout3d.fields_composite import Record
from layout3d.units import exact_unit, kind_of

__all__ = ["OwnEntries", "limit_kind"]

_RATIOS = ("-", "glass thicknesses", "hole diameters", "sizes", "span over deflection", "volumes an hour")
"""What a limit counts where that is no unit; so does everything that begins with 'of'."""


def limit_kind(unit: str) -> str:
    """Return the kind of quantity that a limit of this unit is given in ('number' for ratios).

    Raises
    ------
    RuntimeError : neither a unit nor a ratio, which only a fault in the table of limits can cause.
    """
    known = exact_unit(unit)
    if known is not None:
        return kind_of(known.dims)
    if unit in _RATIOS or unit.startswith("of "):
        return "number"
    raise RuntimeError(f"fault of the program: a limit counts {unit!r}, which limit_kind does not know")


@dataclass(frozen=True, slots=True)
class OwnEntries(FieldType):
    """The ``catalog:`` section: section -> name -> fields."""

    def read(self, node: Node, reader: Reader) -> dict[str, dict[str, dict[str, Any]]]:
        """Return the given fields only, SI, as ``Catalog.with_own`` takes them."""
        if node.kind != "map":
            reader.fail(node, f"a {node.kind} stands here", expected=self.words())
        result: dict[str, dict[str, dict[str, Any]]] = {}
        for section, child in node.value.items():
            if section not in OWN_FIELDS:
                reader.tell(child, f"no section is called {section!r}", expected=nearest(section, OWN_FIELDS))
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
            name: FieldSpec(name=name, type=type, default=None, doc="")
            for name, type in OWN_FIELDS[section].items()
        }
        return Record(specs, f"an entry of {section}")

    def schema(self) -> dict[str, Any]:
        """Return its JSON Schema."""
        return {
            "type": "object",
            "properties": {
                section: {"type": "object", "additionalProperties": self._entry(section).schema()}
                for section in OWN_FIELDS
            },
            "additionalProperties": False,
        }

    def words(self) -> str:
        """Return the sections."""
        return "sections " + ", ".join(OWN_FIELDS)
