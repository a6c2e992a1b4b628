"""Whether two values are the same in all that can be told: what hangs on one then hangs on the other."""

from __future__ import annotations

import dataclasses
import functools
from array import array
from collections.abc import Mapping
from typing import Any

import numpy as np

from layout3d.parts.base import Built
from layout3d.solid.shape import Solid

__all__ = ["same", "told_by"]

FEW = 16  # floats of a row that are compared one by one, [-]


def same(one: Any, other: Any) -> bool:
    """Tell whether two values are the same in all that can be told; not sure is no.

    Built parts are the same where they are one.
    """
    if one is other:
        return True
    if type(one) is not type(other) or isinstance(one, Built):
        return False
    if isinstance(one, Solid | str | int):
        return bool(one == other)
    if isinstance(one, float):
        return bool(one == other and (one != 0.0 or str(one) == str(other)))
    if isinstance(one, tuple | list):
        if len(one) > FEW and len(one) == len(other) and {*map(type, one)} == {float} == {*map(type, other)}:
            return array("d", one).tobytes() == array("d", other).tobytes()
        return len(one) == len(other) and all(map(same, one, other))
    if isinstance(one, frozenset):
        return bool(one == other)
    if isinstance(one, Mapping):
        return list(one) == list(other) and all(map(same, one.values(), other.values()))
    if isinstance(one, np.ndarray):
        told = one.dtype == other.dtype and one.shape == other.shape
        return bool(told and one.tobytes() == other.tobytes())
    kind: Any = type(one)
    names = told_by(kind)
    return bool(names) and all(same(getattr(one, name), getattr(other, name)) for name in names)


@functools.cache
def told_by(kind: Any) -> tuple[str, ...]:
    """Return the fields that tell values of a frozen dataclass apart; none for other types."""
    if not getattr(getattr(kind, "__dataclass_params__", None), "frozen", False):
        return ()
    return tuple(each.name for each in dataclasses.fields(kind) if each.compare)
