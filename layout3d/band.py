"""A figure told as a range: low, likely and high, with the reason. Holds no formula of its own."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Literal, Self

from layout3d.errors import OutOfRange
from layout3d.guards import finite

__all__ = ["OPPOSITE", "SETTINGS", "Band", "Setting"]

Setting = Literal["low", "likely", "high"]
SETTINGS: tuple[Setting, ...] = ("low", "likely", "high")
OPPOSITE: dict[Setting, Setting] = {"low": "high", "likely": "likely", "high": "low"}
"""The setting of a cause that gives its effect that of the key, where more of one is less of the other."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """A figure known only as a range; ``note`` says why it is as wide as it is.

    >>> Band(low=0.6, likely=0.61, high=0.62).at("high")
    0.62
    """

    low: float
    likely: float
    high: float
    note: str = ""

    def __post_init__(self) -> None:
        for name in SETTINGS:
            finite(getattr(self, name), f"Band.{name}", "")
        if not self.low <= self.likely <= self.high:
            raise OutOfRange(
                f"a band must rise from low to high, got {self.low:g}, {self.likely:g}, {self.high:g}"
            )

    @classmethod
    def exact(cls, value: float, note: str = "") -> Self:
        """Return a band of no width, for a figure that was measured."""
        return cls(low=value, likely=value, high=value, note=note)

    @classmethod
    def around(cls, value: float, share: float, note: str = "") -> Band:
        """Return ``value`` give or take ``share`` of it (0.2 is 20 %)."""
        reach = abs(value) * share
        return cls(low=value - reach, likely=value, high=value + reach, note=note)

    @classmethod
    def total(cls, bands: Iterable[Band], note: str = "") -> Band:
        """Return the sum of bands, end by end: all low together, all high together."""
        several = tuple(bands)
        low, likely, high = (sum(band.at(setting) for band in several) for setting in SETTINGS)
        return cls(low=low, likely=likely, high=high, note=note)

    def at(self, setting: Setting) -> float:
        """Return the figure of one setting."""
        if setting not in SETTINGS:
            raise OutOfRange(f"no setting {setting!r} in a band", expected="one of: low, likely, high")
        return float(getattr(self, setting))

    @property
    def half(self) -> float:
        """Half its width: how far off any of its figures may be, for ``units.show``."""
        return 0.5 * (self.high - self.low)

    def map(self, law: Callable[[float], float], note: str | None = None) -> Band:
        """Send each figure through a monotone ``law``; a falling law swaps low and high."""
        ends = law(self.low), law(self.high)
        return Band(
            low=min(ends),
            likely=law(self.likely),
            high=max(ends),
            note=self.note if note is None else note,
        )
