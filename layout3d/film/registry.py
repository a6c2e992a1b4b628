"""The kinds of sequences, found by looking through ``film.kinds``: adding one is adding one file."""

from __future__ import annotations

import importlib
import pkgutil
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache

from layout3d.film.frame import Frame, Setting

__all__ = ["SequenceKind", "sequence_kind", "sequence_kinds"]

Frames = Callable[[Setting], tuple[Frame, ...]]


@dataclass(frozen=True)
class SequenceKind:
    """A kind of sequence: its name, what it shows, and how many frames it has if nothing is said.

    ``count`` is 0 where that follows from the scene.
    """

    name: str
    shows: str
    count: int
    frames: Frames


def sequence_kind(name: str, shows: str, *, count: int = 0) -> Callable[[Frames], SequenceKind]:
    """Make a kind of sequence of the function that returns its frames."""
    return lambda frames: SequenceKind(name, shows, count, frames)


@cache
def sequence_kinds() -> dict[str, SequenceKind]:
    """Return all kinds of sequences by name."""
    import layout3d.film.kinds as package

    modules = [
        importlib.import_module(f"{package.__name__}.{module.name}")
        for module in pkgutil.iter_modules(package.__path__)
    ]
    found = [
        value for module in modules for value in vars(module).values() if isinstance(value, SequenceKind)
    ]
    names = [kind.name for kind in found]
    if len(set(names)) < len(names):
        raise RuntimeError(f"two kinds of sequences bear one name: {sorted(names)} (registry.sequence_kinds)")
    return {kind.name: kind for kind in sorted(found, key=lambda kind: kind.name)}
