"""The kinds of sequences, found by looking through ``film.kinds``: adding one is adding one file."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache

from layout3d.film.frame import Frame, Setting
from layout3d.registry import found_in

__all__ = ["SequenceKind", "sequence_kind", "sequence_kinds"]

Frames = Callable[[Setting], tuple[Frame, ...]]


@dataclass(frozen=True)
class SequenceKind:
    """A kind of sequence: its name, and how many frames it has if nothing is said.

    ``count`` is 0 where that follows from the scene.
    """

    name: str
    count: int
    frames: Frames


def sequence_kind(name: str, *, count: int = 0) -> Callable[[Frames], SequenceKind]:
    """Make a kind of sequence of the function that returns its frames."""
    return lambda frames: SequenceKind(name, count, frames)


@cache
def sequence_kinds() -> dict[str, SequenceKind]:
    """Return all kinds of sequences by name."""
    import layout3d.film.kinds as package

    return found_in(package, SequenceKind, lambda kind: kind.name)
