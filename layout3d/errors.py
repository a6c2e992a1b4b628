"""Errors that a user sees, as data: text and JSON are made from the same object.

The tree::

    LayoutError
    ├── SceneMistake (ValueError)    one mistake in a scene file: place, found, expected, remedy
    │   └── UnknownName (KeyError)   a name that is not known, with the nearest known one
    ├── SceneRefused (ValueError)    all the mistakes of a file, raised once after reading the whole of it
    ├── OutOfRange (ValueError)      a figure outside the range of the table or formula asked for
    ├── MeshRefused (ValueError)     a mesh that can't be used as a solid, with the reason
    ├── NoOperatingPoint (ValueError)  the water cannot flow as asked
    │   ├── BeyondCurve              a pump would carry more than its curve is known to
    │   └── NotSettled               the search for the flow came to no end
    ├── NetworkMistake (ValueError)  a pipe network that does not hang together
    └── NotPossible (ValueError)     a wanted figure that can't be reached, with the miss

Anything else that reaches a user is a fault of the program, and says so.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable
from dataclasses import dataclass

__all__ = [
    "BeyondCurve",
    "LayoutError",
    "MeshRefused",
    "NetworkMistake",
    "NoOperatingPoint",
    "NotPossible",
    "NotSettled",
    "OutOfRange",
    "Place",
    "SceneMistake",
    "SceneRefused",
    "UnknownName",
    "nearest",
    "nearest_name",
]

_FIGURE = re.compile(r"\d+(?:\.\d+)?")


@dataclass(frozen=True, slots=True)
class Place:
    """Where something stands in a file; line and column count from 1, 0 means unknown."""

    file: str = ""
    line: int = 0
    column: int = 0

    def __str__(self) -> str:
        return f"{self.file}:{self.line}:{self.column}" if self.line else self.file


class LayoutError(Exception):
    """Base of every error a user may see: what and where, what was expected, what to do."""

    def __init__(
        self,
        found: str,
        *,
        expected: str = "",
        remedy: str = "",
        path: str = "",
        place: Place | None = None,
    ) -> None:
        super().__init__(found)
        self.found = found
        self.expected = expected
        self.remedy = remedy
        self.path = path
        self.place = place or Place()

    def __str__(self) -> str:
        head = "  ".join(str(part) for part in (self.place, self.path) if str(part))
        lines = [f"{head}: {self.found}" if head else self.found]
        if self.expected:
            lines.append(f"    expected {self.expected}")
        if self.remedy:
            lines.append(f"    {self.remedy}")
        return "\n".join(lines)

    def facts(self) -> dict[str, object]:
        """Return the same facts as plain data for JSON."""
        return {
            "file": self.place.file,
            "line": self.place.line,
            "column": self.place.column,
            "path": self.path,
            "found": self.found,
            "expected": self.expected,
            "remedy": self.remedy,
        }


class SceneMistake(LayoutError, ValueError):
    """One mistake in a scene file."""


class UnknownName(SceneMistake, KeyError):
    """A name that nothing bears; ``expected`` names the nearest known one."""

    __str__ = LayoutError.__str__


class SceneRefused(LayoutError, ValueError):
    """All mistakes of one file, in the order of the file."""

    def __init__(self, mistakes: Iterable[LayoutError]) -> None:
        self.mistakes: tuple[LayoutError, ...] = tuple(
            sorted(mistakes, key=lambda m: (m.place.line, m.place.column, m.path))
        )
        count = len(self.mistakes)
        super().__init__(f"{count} mistake{'s' if count != 1 else ''}")

    def __str__(self) -> str:
        return "\n".join(str(mistake) for mistake in self.mistakes)


class OutOfRange(LayoutError, ValueError):
    """A figure was asked for outside the range of its table or formula; it is refused, not extrapolated."""


class MeshRefused(LayoutError, ValueError):
    """A mesh can't be used as a solid, with the reason."""


class NoOperatingPoint(LayoutError, ValueError):
    """The water cannot flow as asked: no pump lifts it, or the flow lies beyond a pump's curve."""


class BeyondCurve(NoOperatingPoint):
    """A pump would carry more than the last point that its curve is known at."""


class NotSettled(NoOperatingPoint):
    """The search for the flow came to no end; the message says where to look."""


class NetworkMistake(LayoutError, ValueError):
    """A network that does not hang together: a link to a node that is not there, a name used twice."""


class NotPossible(LayoutError, ValueError):
    """A wanted figure cannot be reached within the limits given; the message says which, and by how much."""


def nearest(name: str, known: Iterable[str], *, most: int = 8) -> str:
    """Say what was expected: some of the known names, then the nearest; a size is near by its figures.

    >>> nearest("fallow", ["follow", "depth"])
    "one of: depth, follow; nearest: 'follow'"
    >>> nearest("d26", ["d25", "d32", "d63"])
    "one of: d25, d32, d63; nearest: 'd25'"
    """
    names = sorted(set(known))
    close = nearest_name(name, names)
    listed = names if len(names) <= most else [*names[:most], f"… ({len(names)} in all)"]
    text = "one of: " + ", ".join(listed)
    return text if close is None else f"{text}; nearest: {close!r}"


def nearest_name(name: str, known: Iterable[str]) -> str | None:
    """Return that of the known names which ``nearest`` tells; None where none is like it.

    >>> nearest_name("d26", ["d25", "d32", "d63"]), nearest_name("depth", ["d25"])
    ('d25', None)
    """
    names = sorted(set(known))
    sizes = [one for one in names if _FIGURE.split(one) == _FIGURE.split(name) != [name]]
    close = sorted(sizes, key=lambda one: _apart(one, name))[:1]
    return next(iter(close or difflib.get_close_matches(name, names, n=1, cutoff=0.5)), None)


def _apart(one: str, other: str) -> float:
    """Return how far the figures in two names of sizes are apart, each by the larger of the two."""
    pairs = zip(_FIGURE.findall(one), _FIGURE.findall(other), strict=True)
    return sum(abs(float(a) - float(b)) / max(float(a), float(b), 1e-9) for a, b in pairs)
