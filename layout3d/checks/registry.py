"""The rules, found by looking through ``checks.rules``: adding a rule is adding one file."""

from __future__ import annotations

import importlib
import pkgutil
from functools import cache

from layout3d.checks.base import Rule

__all__ = ["rules"]


@cache
def rules() -> dict[str, Rule]:
    """Return all rules by name, sorted."""
    import layout3d.checks.rules as package

    found: dict[str, Rule] = {}
    for info in pkgutil.iter_modules(package.__path__):
        module = importlib.import_module(f"{package.__name__}.{info.name}")
        for value in vars(module).values():
            if isinstance(value, Rule) and value.find.__module__ == module.__name__:
                if value.name in found:
                    raise RuntimeError(f"two rules are called {value.name!r} (checks.registry.rules)")
                found[value.name] = value
    return dict(sorted(found.items()))
