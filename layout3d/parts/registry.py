"""The part kinds, found by looking through this package: adding a kind is adding one file."""

from __future__ import annotations

import importlib
import pkgutil
from functools import cache

from layout3d.parts.base import Part

__all__ = ["kinds"]


@cache
def kinds() -> dict[str, type[Part]]:
    """Return the part kinds by their name in the scene file.

    A kind is a subclass of ``Part`` with ``kind`` set, in any module directly in ``layout3d.parts``.
    """
    import layout3d.parts as package

    found: dict[str, type[Part]] = {}
    for info in pkgutil.iter_modules(package.__path__):
        if info.ispkg:
            continue
        module = importlib.import_module(f"{package.__name__}.{info.name}")
        for value in vars(module).values():
            if isinstance(value, type) and issubclass(value, Part) and value.__module__ == module.__name__:
                name = value.__dict__.get("kind")
                if name:
                    if name in found:
                        raise RuntimeError(f"two part kinds are called {name!r} (parts.registry.kinds)")
                    found[name] = value
    return dict(sorted(found.items()))
