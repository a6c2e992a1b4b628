"""The part kinds, found by looking through this package: adding a kind is adding one file."""

from __future__ import annotations

from functools import cache

from layout3d.parts.base import Part
from layout3d.parts.drilled_tank import TankPart
from layout3d.registry import found_in

__all__ = ["is_tank", "kinds"]


@cache
def kinds() -> dict[str, type[Part]]:
    """Return the part kinds by their name in the scene file.

    A kind is a subclass of ``Part`` with ``kind`` set, in any module directly in ``layout3d.parts``.
    """
    import layout3d.parts as package

    return found_in(
        package, type, lambda value: value.__dict__.get("kind") if issubclass(value, Part) else None
    )


def is_tank(kind: str) -> bool:
    """Tell whether a kind, by its name in the scene file, is one of tank."""
    return kind in kinds() and issubclass(kinds()[kind], TankPart)
