"""Work that is broken off once nobody wants it: long work asks for that between its steps."""

from __future__ import annotations

import contextlib
import time
from collections.abc import Callable, Iterator
from contextvars import ContextVar

__all__ = ["NotWanted", "go_on", "wanted_unless"]

OFTEN = 0.01  # who began it is asked no sooner again, [s]


class NotWanted(Exception):
    """What is being made is past: raised in the midst of it, and caught by who began it."""


_asked: ContextVar[Callable[[], None] | None] = ContextVar("asked", default=None)  # another thread has none


@contextlib.contextmanager
def wanted_unless(past: Callable[[], bool]) -> Iterator[None]:
    """Have what is made in the block, in this thread, broken off by ``NotWanted`` once ``past`` tells so."""
    last = time.perf_counter()

    def ask() -> None:
        nonlocal last
        now = time.perf_counter()
        if now - last >= OFTEN:
            last = now
            if past():
                raise NotWanted

    before = _asked.set(ask)
    try:
        yield
    finally:
        _asked.reset(before)


def go_on() -> None:
    """Raise ``NotWanted`` where what is being made is past; called where nothing is left half done by it."""
    ask = _asked.get()
    if ask is not None:
        ask()
