"""How a run ends: the table of exit codes, output that can't be written, and signals.

Exit code 1 means one thing only, so nothing else may end with it: not the interpreter's own answer to a
closed pipe or a full disk, nor an exception that got past everything.
"""

from __future__ import annotations

import contextlib
import errno
import os
import signal
import sys
import threading
from collections.abc import Callable, Container, Iterable, Iterator
from types import FrameType
from typing import Any, NoReturn

__all__ = [
    "DONE",
    "EXIT_CODES",
    "FAULT",
    "NOT_TOLD",
    "OWN_FAULT",
    "REFUSED",
    "SIGNALLED",
    "Ended",
    "OutputLost",
    "ended_at_once",
    "guarded",
]

DONE, FAULT, REFUSED, OWN_FAULT, NOT_TOLD, SIGNALLED = 0, 1, 2, 3, 4, 128

EXIT_CODES = {
    DONE: "done, and no fault was found",
    FAULT: "a fault was found in the scene",
    REFUSED: "the command, the scene or a file can't be used; nothing was computed",
    OWN_FAULT: "a fault of the program",
    NOT_TOLD: "what was found can't be written to the standard output: it is closed, or the disk is full",
    SIGNALLED: "and more: ended by signal number code - 128 (130: Ctrl-C; 141: a pipe's reader went away)",
}
"""The exit codes of every command. 128 stands for the signals, which are counted from there, as shells do."""

_ENDING = tuple(getattr(signal, name) for name in ("SIGTERM", "SIGHUP") if hasattr(signal, name))
_PIPE = getattr(signal, "SIGPIPE", 13)


class OutputLost(Exception):
    """The standard output can't be written. No OSError, for libraries answer some of those by exit code 1."""

    def __init__(self, reason: str, *, closed_pipe: bool = False) -> None:
        super().__init__(reason)
        self.code = SIGNALLED + _PIPE if closed_pipe else NOT_TOLD


class Ended(BaseException):
    """A signal asks the run to end; what is half written is cleared on the way out."""

    def __init__(self, number: int) -> None:
        super().__init__(number)
        self.code = SIGNALLED + number


@contextlib.contextmanager
def guarded() -> Iterator[None]:
    """Raise ``Ended`` on signals that end a run, and ``OutputLost`` where the output can't be written.

    What can't be written to the standard error stream is dropped: the exit code says it too. Everything is
    put back afterwards.
    """
    out, err = sys.stdout, sys.stderr
    with _answered(_ENDING, (signal.SIG_DFL,), _end):  # what nohup ignores stays ignored
        if None in (sys.stdin, out, err):
            _fill_closed()
        sys.stdout, sys.stderr = _Told(out), _Mumbled(err)
        try:
            yield
        finally:
            sys.stdout, sys.stderr = out, err


def ended_at_once() -> contextlib.AbstractContextManager[None]:
    """Let signals end the process as the system does while nothing is half done.

    While libraries load, what is raised may be swallowed by them, or told as a fault of theirs.
    """
    return _answered((signal.SIGINT, *_ENDING), (signal.default_int_handler, _end), signal.SIG_DFL)


@contextlib.contextmanager
def _answered(numbers: Iterable[int], instead_of: Container[object], by: Any) -> Iterator[None]:
    """Have signals answered by a handler, those that are answered by one of some others now."""
    before: dict[int, Any] = {}
    if threading.current_thread() is threading.main_thread():
        for number in numbers:
            if signal.getsignal(number) in instead_of:
                before[number] = signal.signal(number, by)
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


def _end(number: int, _frame: FrameType | None) -> NoReturn:
    raise Ended(number)


def _fill_closed() -> None:
    """Lead closed streams nowhere, or the next file that is opened would take what is written to them."""
    while (opened := os.open(os.devnull, os.O_RDWR)) <= 2:
        pass
    os.close(opened)


class _Told:
    """The standard output: what it can't take is told as ``OutputLost``."""

    def __init__(self, stream: Any) -> None:
        self._stream = stream
        self._lost = OutputLost("it is closed") if stream is None else None
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")  # a terminal that lacks a sign shows '?', and goes on

    def write(self, text: str) -> int:
        self._try(lambda: self._stream.write(text))
        return len(text)

    def flush(self) -> None:
        self._try(lambda: self._stream.flush())

    def isatty(self) -> bool:
        return self._stream is not None and bool(self._stream.isatty())

    def __getattr__(self, name: str) -> Any:
        return getattr(self._stream, name)

    def _try(self, act: Callable[[], object]) -> None:
        if self._lost is None:
            try:
                act()
            except (OSError, ValueError) as fault:  # ValueError: closed meanwhile
                _lead_nowhere(self._stream)
                closed_pipe = getattr(fault, "errno", None) == errno.EPIPE
                reason = getattr(fault, "strerror", None) or str(fault)
                self._lost = OutputLost(reason, closed_pipe=closed_pipe)
        if self._lost is not None:
            raise self._lost  # each time: a library may have swallowed the first


class _Mumbled(_Told):
    """The standard error stream: what it can't take is dropped."""

    def _try(self, act: Callable[[], object]) -> None:
        with contextlib.suppress(OutputLost):
            super()._try(act)


def _lead_nowhere(stream: Any) -> None:
    """Let what is still in the stream's buffer go nowhere, or the interpreter would fail on it at exit."""
    with contextlib.suppress(OSError, ValueError, AttributeError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), stream.fileno())
