"""Keep quickly made shapes for the length of a run of the program. Slow ones go to ``solid.store``."""

from __future__ import annotations

import atexit
from collections.abc import Callable
from functools import lru_cache, wraps
from typing import ParamSpec, TypeVar

__all__ = ["kept"]

Arguments = ParamSpec("Arguments")
Made = TypeVar("Made")
MOST = 256


def kept(maker: Callable[Arguments, Made]) -> Callable[Arguments, Made]:
    """Decorate a pure function of hashable arguments, so that equal arguments give the very same object."""
    cached = lru_cache(maxsize=MOST)(maker)
    # shapes hold objects of the boolean library, which complains of those that outlive the interpreter
    atexit.register(cached.cache_clear)

    @wraps(maker)
    def recalled(*args: Arguments.args, **kwargs: Arguments.kwargs) -> Made:
        return cached(*args, **kwargs)  # type: ignore[arg-type]  # the cache only asks for hashable arguments

    return recalled
