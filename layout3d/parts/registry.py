"""The part kinds, found by looking through this package: adding a kind is adding one file."""

from __future__ import annotations

import importlib.util
import pkgutil
from functools import cache

from layout3d.parts.base import Part
from layout3d.parts.drilled_tank import TankPart

__all__ = ["is_tank", "kinds"]


@cache
def kinds() -> dict[str, type[Part]]:
    """Return the part kinds by their name in the scene file.

    A kind is a subclass of ``Part`` with ``kind`` set, in any module directly in ``layout3d.parts``, or in
    the module ``kind`` of a folder there.
    """
    import layout3d.parts as package

    found: dict[str, type[Part]] = {}
    for info in pkgutil.iter_modules(package.__path__):
        name = f"{package.__name__}.{info.name}" + (".kind" if info.ispkg else "")
        if info.ispkg and importlib.util.find_spec(name) is None:
            continue
        module = importlib.import_module(name)
        for value in vars(module).values():
            if isinstance(value, type) and issubclass(value, Part) and value.__module__ == module.__name__:
                kind = value.__dict__.get("kind")
                if kind:
                    if kind in found:
                        raise RuntimeError(f"two part kinds are called {kind!r} (parts.registry.kinds)")
                    found[kind] = value
    return dict(sorted(found.items()))


def is_tank(kind: str) -> bool:
    """Tell whether a kind, by its name in the scene file, is one of tank."""
    return kind in kinds() and issubclass(kinds()[kind], TankPart)
