"""Guards on the figures that are handed to a formula: finite, above zero, within a range with its source."""

from __future__ import annotations

import math

from layout3d.errors import OutOfRange
from layout3d.units import show

__all__ = ["ROUNDING", "above_zero", "finite", "not_negative", "within"]

ROUNDING = 1e-12  # of the larger end of a range: what arithmetic may add to a value at its end
KINDS = {"m": "length", "m²": "area", "m³": "volume", "m³/s": "flow", "m/s": "speed"}  # by SI unit


def finite(value: float, name: str, unit: str) -> float:
    """Return ``value`` as a float; raise OutOfRange where it is not a finite number."""
    number = float(value)
    if not math.isfinite(number):
        raise OutOfRange(f"{name} must be a finite number of {unit}, got {value!r}")
    return number


def above_zero(value: float, name: str, unit: str) -> float:
    """Return ``value``; raise OutOfRange unless it is finite and above 0."""
    number = finite(value, name, unit)
    if not number > 0.0:
        raise OutOfRange(f"{name} must be above 0, got {_told(number, unit)}")
    return number


def not_negative(value: float, name: str, unit: str) -> float:
    """Return ``value``; raise OutOfRange unless it is finite and 0 or more."""
    number = finite(value, name, unit)
    if number < 0.0:
        raise OutOfRange(f"{name} must be 0 or more, got {_told(number, unit)}")
    return number


def within(value: float, low: float, high: float, name: str, unit: str, *, source: str = "") -> float:
    """Return ``value``; raise OutOfRange unless ``low <= value <= high``, naming the source of the range."""
    number = finite(value, name, unit)
    slack = ROUNDING * max(abs(low), abs(high))
    if not low - slack <= number <= high + slack:
        span = f"{_told(low, unit)} to {_told(high, unit)}"
        raise OutOfRange(
            f"{name} is {_told(number, unit)}, outside {span}",
            expected=f"a value from {span}" + (f" ({source})" if source else ""),
        )
    return number


def _told(value: float, unit: str) -> str:
    """Return a figure in the units around it, in SI where its unit is of no kind that both systems know."""
    return show(value, KINDS[unit]) if unit in KINDS else f"{value:g} {unit}".rstrip()
