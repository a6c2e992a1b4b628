"""The kinds of sheets, found by looking through ``sheets.kinds``: adding a sheet is adding one file."""

from __future__ import annotations

import importlib
import pkgutil
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache

from layout3d.model.model import Model
from layout3d.sheets.figure import Figure

__all__ = ["Cut", "SheetKind", "sheet_kind", "sheet_kinds"]

Cut = tuple[str, float] | None
"""Where a sheet is cut open: an axis and a place along it, [m]; None where the sheet chooses."""


Drawer = Callable[[Model, str, Cut], Figure | None]


@dataclass(frozen=True)
class SheetKind:
    """One kind of sheet: its name, its place in the set, what it is called on paper, and what it shows.

    ``figure`` is given the model, the system of units and the cut; it returns None where the model has
    nothing to show on it, such as pipework in a tank without any.
    """

    name: str
    place: int
    heading: str
    figure: Drawer


def sheet_kind(name: str, place: int, heading: str) -> Callable[[Drawer], SheetKind]:
    """Make a kind of sheet of the function that says what it shows."""
    return lambda figure: SheetKind(name, place, heading, figure)


@cache
def sheet_kinds() -> dict[str, SheetKind]:
    """Return all kinds of sheets by name, in the order of a set."""
    import layout3d.sheets.kinds as package

    modules = [
        importlib.import_module(f"{package.__name__}.{m.name}")
        for m in pkgutil.iter_modules(package.__path__)
    ]
    found = [value for module in modules for value in vars(module).values() if isinstance(value, SheetKind)]
    names = [kind.name for kind in found]
    if len(set(names)) < len(names):
        raise RuntimeError(f"two kinds of sheets bear one name: {sorted(names)} (registry.sheet_kinds)")
    return {kind.name: kind for kind in sorted(found, key=lambda kind: kind.place)}
