"""What a package holds one file each of: rules, part kinds, fittings, sheets, sequences."""

from __future__ import annotations

import importlib
import pkgutil
from collections.abc import Callable
from types import ModuleType
from typing import TypeVar

__all__ = ["found_in"]

T = TypeVar("T")


def found_in(package: ModuleType, wanted: type[T], name_of: Callable[[T], str | None]) -> dict[str, T]:
    """Return what the modules directly in a package hold of one type, by name, sorted by it.

    What ``name_of`` gives no name is left out. A name that two different things bear is a fault of ours:
    RuntimeError.
    """
    found: dict[str, T] = {}
    for info in pkgutil.iter_modules(package.__path__):
        for value in vars(importlib.import_module(f"{package.__name__}.{info.name}")).values():
            name = name_of(value) if isinstance(value, wanted) else None
            if name and found.setdefault(name, value) is not value:
                raise RuntimeError(f"two in {package.__name__} are called {name!r} (registry.found_in)")
    return dict(sorted(found.items()))
