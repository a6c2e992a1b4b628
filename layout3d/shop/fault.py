"""What can't be made, or not in any order: told with what would mend it, and never left out."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["Fault"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """Something that can't be cut, reached or built as the scene has it; ``parts`` are those concerned."""

    message: str
    remedy: str
    parts: tuple[str, ...] = ()
