"""Which limits a rule judges by: those its own functions name, and those that others read for it.

Found in the code, so that the list can't go stale; follows calls between the files of this package only.
"""

from __future__ import annotations

import inspect
from collections.abc import Iterator
from types import CodeType, FunctionType
from typing import Any

from layout3d.catalog import default
from layout3d.checks.base import Rule

__all__ = ["TOLD_LIMITS", "limits_of"]

TOLD_LIMITS = ("floor_load", "floor_mass_ask")
"""Limits that no rule judges by: they are told beside the figures, for a person to judge."""


def limits_of(rule: Rule) -> tuple[str, ...]:
    """Return the names of a rule's limits, in the catalogue's order; empty for a rule that needs none."""
    seen: set[FunctionType] = set()
    found = set(rule.limits)
    waiting: list[Any] = [rule.find]
    while waiting:
        function = inspect.unwrap(waiting.pop())
        if not isinstance(function, FunctionType) or function in seen:
            continue
        if not function.__module__.startswith("layout3d.checks."):
            continue
        seen.add(function)
        for code in _codes(function.__code__):
            found |= set(_texts(code.co_consts))
            waiting += [function.__globals__[n] for n in code.co_names if _is_function(function, n)]
    return tuple(name for name in default().names("limits") if name in found)


def _is_function(of: FunctionType, name: str) -> bool:
    return callable(of.__globals__.get(name)) and not isinstance(of.__globals__[name], type)


def _codes(code: CodeType) -> Iterator[CodeType]:
    yield code
    for constant in code.co_consts:
        if isinstance(constant, CodeType):
            yield from _codes(constant)


def _texts(constants: tuple[Any, ...]) -> Iterator[str]:
    for constant in constants:
        if isinstance(constant, str):
            yield constant
        elif isinstance(constant, tuple):
            yield from _texts(constant)
