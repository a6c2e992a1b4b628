"""Names for the pieces of a run that the scene gives none: ``pipe_1``, ``elbow_90_2``."""

from __future__ import annotations

from collections.abc import Iterable

__all__ = ["Names"]


class Names:
    """Counts pieces of a kind, and passes over names that the scene itself gives."""

    def __init__(self, given: Iterable[str]) -> None:
        self._given = set(given)
        self._counts: dict[str, int] = {}

    def next(self, kind: str) -> str:
        """Return the next free name of this kind."""
        while True:
            number = self._counts[kind] = self._counts.get(kind, 0) + 1
            name = f"{kind}_{number}"
            if name not in self._given:
                return name
