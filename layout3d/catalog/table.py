"""Catalogue tables: YAML files with a source, a unit and rows. Nothing is interpolated or judged here."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from types import MappingProxyType
from typing import Any, Final

from layout3d.files import own_data

__all__ = ["UNITS", "Table", "fraction", "table"]

FOLDER: Final = Path(__file__).parent / "data"
UNITS: Final[Mapping[str, float]] = MappingProxyType(
    {"in": 0.0254, "mm": 1e-3, "m": 1.0, "kg/m3": 1.0, "SI": 1.0}
)
"""Factor to SI of each unit a table may stand in."""

_KEYS: Final = {"table", "source", "unit", "rows", "not_covered", "columns", "row_sources", "rules"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """One catalogue table as it stands in its file; numbers are still in ``unit``.

    ``columns`` and ``row_sources`` hold the sources of those columns and rows that differ from ``source``;
    ``rules`` holds figures that go for every row, each as ``{value, source}``.
    """

    name: str
    source: str
    unit: str
    rows: tuple[Mapping[str, Any], ...]
    not_covered: str
    columns: Mapping[str, str]
    row_sources: Mapping[str, str]
    rules: Mapping[str, Mapping[str, Any]]

    def metres(self, value: float | str) -> float:
        """Return a length of this table in metres; fractions such as '1-1/4' are read.

        >>> round(table("tube_vinyl").metres("1-1/4"), 5)
        0.03175
        """
        number = fraction(value) if isinstance(value, str) else value
        return number * UNITS[self.unit]

    def source_of(self, column: str, row: str = "") -> str:
        """Return the source of one figure: its column's, else its row's, else the table's."""
        return self.columns.get(column) or self.row_sources.get(row) or self.source

    def rule(self, name: str) -> tuple[float, str]:
        """Return a figure that goes for every row, and its source."""
        return float(self.rules[name]["value"]), str(self.rules[name]["source"])


def fraction(text: str) -> float:
    """Read a size such as '3/4', '1-1/4' or '2'.

    >>> fraction("1-1/4")
    1.25
    """
    whole, _, rest = text.rpartition("-")
    over, _, under = rest.partition("/")
    return float(whole or 0.0) + float(over) / float(under or 1.0)


@cache
def table(name: str) -> Table:
    """Return the table of that name, read once.

    Raises
    ------
    ValueError : the file lacks a source, a unit, rows or what it doesn't cover; a fault of the package.
    """
    content = own_data(FOLDER / f"{name}.yaml")
    missing = {"table", "source", "unit", "rows", "not_covered"} - set(content)
    unknown = set(content) - _KEYS
    if missing or unknown or content["table"] != name:
        raise ValueError(f"catalogue table {name}: missing {sorted(missing)}, unknown {sorted(unknown)}")
    if content["unit"] not in UNITS:
        raise ValueError(f"catalogue table {name}: unit {content['unit']!r} is not one of {sorted(UNITS)}")
    return Table(
        name=name,
        source="; ".join(str(part) for part in content["source"].values()),
        unit=content["unit"],
        rows=tuple(MappingProxyType(row) for row in content["rows"]),
        not_covered=content["not_covered"],
        columns=MappingProxyType(content.get("columns", {})),
        row_sources=MappingProxyType(
            {str(key): text for key, text in content.get("row_sources", {}).items()}
        ),
        rules=MappingProxyType(content.get("rules", {})),
    )
