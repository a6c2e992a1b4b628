"""Results that are made in a process beside this one, while it is at something else.

The process is a copy of this one, made at once and for nothing, so that it has the model without building or
reading it. What it makes comes back as the bytes that a kept result is filed as; whoever asks for one of them
meanwhile waits for it. Where no copy can be made soundly, or it fails, everything is made here as ever.
"""

from __future__ import annotations

import contextlib
import multiprocessing
import os
import sys
import threading
from collections.abc import Callable, Iterator
from functools import partial
from typing import Any

from layout3d import keep
from layout3d.keep import Form

__all__ = ["made_beside"]

SCREEN = ("vtkmodules", "pyvista", "PySide6", "PyQt6")
"""Libraries that hold a screen, or threads of their own: a process that loaded one is never copied."""
STUCK = 120.0
"""So long nothing comes from a process beside before it is given up, [s]: the kernel's threads aren't copied,
and a lock that one of them held would keep it waiting for ever."""


@contextlib.contextmanager
def made_beside(forms: tuple[Form[Any], ...], steps: Callable[[], Iterator[object]]) -> Iterator[None]:
    """Have the steps run in a process beside while the block runs.

    Parameters
    ----------
    forms : kinds of kept results that the steps make
    steps : yields whenever something was made; what it yields is dropped, and so is any error
    """
    if not _can_copy():
        yield
        return
    context = multiprocessing.get_context("fork")
    ours, theirs = context.Pipe(duplex=False)
    process = context.Process(target=_make, args=(theirs, forms, steps), daemon=True)
    process.start()
    theirs.close()
    made = _Made(ours)
    try:
        keep.ahead.update({form.name: partial(made.wait_for, form) for form in forms})
        yield
    finally:
        for form in forms:
            keep.ahead.pop(form.name, None)
        process.kill()
        process.join()
        made.close()


def _can_copy() -> bool:
    return (
        sys.platform == "linux"  # elsewhere the system's own libraries forbid it, or there is no such thing
        and len(os.sched_getaffinity(0)) > 1
        and threading.active_count() == 1  # a lock that another thread holds would never be let go
        and not any(name in sys.modules for name in SCREEN)
    )


def _make(line: Any, forms: tuple[Form[Any], ...], steps: Callable[[], Iterator[object]]) -> None:
    """Run the steps, and send what was made at each; in the process beside."""
    asked: list[tuple[bytes, Form[Any]]] = []

    def note(form: Form[Any], key: bytes) -> None:
        asked.append((key, form))

    keep.ahead.update({form.name: partial(note, form) for form in forms})
    # an error, or Ctrl-C, is met and told by the process that asks, which makes it itself
    with contextlib.suppress(BaseException):
        for _ in steps():
            for key, form in asked:
                value = keep.recalled(key, form)
                if value is not None:
                    line.send((form.name, key, form.pack(value)))
            asked.clear()


class _Made:
    """What came from the process beside so far."""

    def __init__(self, line: Any) -> None:
        self._line = line
        self._came: dict[tuple[str, bytes], bytes] = {}
        self._more, self._over = threading.Condition(), False
        self._reader = threading.Thread(target=self._read, daemon=True)
        self._reader.start()

    def wait_for(self, form: Form[Any], key: bytes) -> Any:
        """Return a result, once it is there; None where none will come."""
        name = form.name, key
        with self._more:
            while name not in self._came and not self._over:
                if not self._more.wait(STUCK):
                    self._over = True  # and never False again: the reader may have set it meanwhile
            content = self._came.pop(name, None)
        if content is None:
            return None
        value = form.unpack(content)
        keep.file_away(key, form, value)
        return value

    def close(self) -> None:
        """Let go of the line; the process at its other end is gone."""
        self._reader.join()
        self._line.close()

    def _read(self) -> None:
        with contextlib.suppress(EOFError, OSError):
            while True:
                name, key, content = self._line.recv()
                with self._more:
                    self._came[name, key] = content
                    self._more.notify_all()
        with self._more:
            self._over = True
            self._more.notify_all()
