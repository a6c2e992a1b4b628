"""Water volume by level as a sampled table, both ways. The exact curve is made elsewhere; here it is read."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise

from layout3d.errors import OutOfRange
from layout3d.guards import ROUNDING, finite

__all__ = ["Levels"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Levels:
    """Volume by level of one body of open water; straight between samples, nothing beyond them.

    ``levels`` z [m] rise; ``volumes`` net water below them [m³], 0 or more, never fall. Both (n,), n 2 or
    more.

    >>> box = Levels(levels=(0.0, 0.5), volumes=(0.0, 0.1))
    >>> box.volume(0.25), box.level(0.05)
    (0.05, 0.25)
    """

    levels: tuple[float, ...]
    volumes: tuple[float, ...]
    name: str = "water"

    def __post_init__(self) -> None:
        for field, unit in (("levels", "m"), ("volumes", "m³")):
            figures: Iterable[float] = getattr(self, field)
            told = tuple(finite(figure, f"{field} of {self.name}", unit) for figure in figures)
            object.__setattr__(self, field, told)
        if len(self.levels) != len(self.volumes) or len(self.levels) < 2:
            raise OutOfRange(
                f"the table of {self.name} has {len(self.levels)} levels and {len(self.volumes)} volumes",
                expected="as many of each, two or more",
            )
        if any(after <= before for before, after in pairwise(self.levels)):
            raise OutOfRange(f"the levels of {self.name} must rise from sample to sample")
        if self.volumes[0] < 0.0 or any(after < before for before, after in pairwise(self.volumes)):
            raise OutOfRange(f"the volumes of {self.name} must be 0 or more and never fall")

    @property
    def bottom(self) -> float:
        """Lowest level of the table, [m]."""
        return self.levels[0]

    @property
    def top(self) -> float:
        """Highest level of the table, [m]."""
        return self.levels[-1]

    def volume(self, level: float) -> float:
        """Net volume below a level, [m³]; raise OutOfRange beyond the table."""
        level = self._inside(finite(level, "level", "m"), self.levels, "level", "m")
        place = min(max(bisect_right(self.levels, level) - 1, 0), len(self.levels) - 2)
        return _line(level, self.levels, self.volumes, place)

    def level(self, volume: float) -> float:
        """Level of a volume, [m], the lowest where several hold it; raise OutOfRange beyond the table."""
        volume = self._inside(finite(volume, "volume", "m³"), self.volumes, "volume", "m³")
        place = min(max(bisect_left(self.volumes, volume) - 1, 0), len(self.volumes) - 2)
        return _line(volume, self.volumes, self.levels, place)

    def area(self, level: float) -> float:
        """Open water surface at a level, [m²]: the slope of the piece below it."""
        level = self._inside(finite(level, "level", "m"), self.levels, "level", "m")
        place = min(max(bisect_left(self.levels, level) - 1, 0), len(self.levels) - 2)
        rise = self.levels[place + 1] - self.levels[place]
        return (self.volumes[place + 1] - self.volumes[place]) / rise

    def _inside(self, value: float, table: tuple[float, ...], what: str, unit: str) -> float:
        slack = ROUNDING * (table[-1] - table[0] + abs(table[0]))
        if not table[0] - slack <= value <= table[-1] + slack:
            raise OutOfRange(
                f"{what} {value:.4g} {unit} lies outside the table of {self.name}, {table[0]:.4g} to "
                f"{table[-1]:.4g} {unit}",
                remedy="give the table further, or look for the event that takes the water there",
            )
        return min(max(value, table[0]), table[-1])


def _line(value: float, places: tuple[float, ...], figures: tuple[float, ...], place: int) -> float:
    low, high = places[place], places[place + 1]
    if high == low:
        return figures[place]
    share = (value - low) / (high - low)
    return figures[place] * (1.0 - share) + figures[place + 1] * share
