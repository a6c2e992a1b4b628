"""Keeps what was computed from a model, so that nothing is computed twice."""

from __future__ import annotations

import functools
import threading
import weakref
from collections.abc import Callable
from typing import TypeVar

from layout3d.model.model import Model
from layout3d.units import shown_in

__all__ = ["kept"]

Result = TypeVar("Result")


def kept(find: Callable[[Model], Result]) -> Callable[[Model], Result]:
    """Make a function of a model compute once for each model.

    Models are told apart by identity: comparing two by value would compare every mesh in them. A result must
    not hold the model itself, or neither would ever be freed.
    """
    known: dict[int, tuple[weakref.ref[Model], Result]] = {}
    lock = threading.RLock()

    def forget(key: int, gone: weakref.ref[Model]) -> None:
        with lock:
            # another model may have moved into the same address by now
            if key in known and known[key][0] is gone:
                del known[key]

    @functools.wraps(find)
    def found(model: Model) -> Result:
        key = id(model)
        with lock:
            entry = known.get(key)
            if entry is not None and entry[0]() is model:
                return entry[1]
            with shown_in(model.scene.style):
                result = find(model)
            known[key] = (weakref.ref(model, functools.partial(forget, key)), result)
            return result

    return found
