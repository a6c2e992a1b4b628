"""The fittings, found by looking through this package: adding a fitting is adding one file."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from types import MappingProxyType

from layout3d.errors import UnknownName, nearest
from layout3d.fittings.base import Fitting
from layout3d.registry import found_in

__all__ = ["by_word", "comes_apart", "fitting", "fittings", "is_one_way"]


@cache
def fittings() -> Mapping[str, Fitting]:
    """Return all fittings by kind: every ``Fitting`` that stands in a module of this package."""
    import layout3d.fittings as package

    return MappingProxyType(found_in(package, Fitting, lambda each: each.kind))


@cache
def by_word() -> Mapping[str, Fitting]:
    """Return the fittings that a route may name, by their word there."""
    return MappingProxyType({each.word: each for each in fittings().values() if each.word})


def fitting(kind: str) -> Fitting:
    """Return the fitting of one kind.

    Raises
    ------
    UnknownName : no such kind, with the nearest.
    """
    if kind not in fittings():
        raise UnknownName(f"{kind!r} is no fitting", expected=nearest(kind, fittings()))
    return fittings()[kind]


def is_one_way(kind: str) -> bool:
    """Tell whether a piece of this kind lets water through one way only."""
    return kind in fittings() and fittings()[kind].one_way


def comes_apart(kind: str) -> bool:
    """Tell whether a piece of this kind can be taken apart again by hand."""
    return kind in fittings() and fittings()[kind].comes_apart
