"""The kinds of sheets, found by looking through ``sheets.kinds``: adding a sheet is adding one file."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache

from layout3d.model.model import Model
from layout3d.registry import found_in
from layout3d.sheets.figure import Figure

__all__ = ["Cut", "SheetKind", "sheet_kind", "sheet_kinds"]

Cut = tuple[str, float] | None
"""Where a sheet is cut open: an axis and a place along it, [m]; None where the sheet chooses."""


Drawer = Callable[[Model, str, Cut], Figure | tuple[Figure, ...] | None]


@dataclass(frozen=True)
class SheetKind:
    """One kind of sheet: its name, its place in the set, what it is called on paper, and what it shows.

    ``figure`` is given the model, the system of units and the cut; it returns None where the model has
    nothing to show on it, such as pipework in a tank without any, and several where each is a sheet.
    One that is drawn ``by_name`` alone is no part of the whole set.
    """

    name: str
    place: int
    heading: str
    figure: Drawer
    by_name: bool = False


def sheet_kind(
    name: str, place: int, heading: str, *, by_name: bool = False
) -> Callable[[Drawer], SheetKind]:
    """Make a kind of sheet of the function that says what it shows."""
    return lambda figure: SheetKind(name, place, heading, figure, by_name)


@cache
def sheet_kinds() -> dict[str, SheetKind]:
    """Return all kinds of sheets by name, in the order of a set."""
    import layout3d.sheets.kinds as package

    found = found_in(package, SheetKind, lambda kind: kind.name)
    return dict(sorted(found.items(), key=lambda item: item[1].place))
