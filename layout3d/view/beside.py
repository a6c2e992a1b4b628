"""A process beside the window that answers for one scene; the window asks and goes on."""

from __future__ import annotations

import contextlib
import gc
import multiprocessing
import signal
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from layout3d.view.answers import Answer, Question, Text, serve

__all__ = ["Beside"]

PATIENCE = 0.3  # for the process to end by itself once nobody listens, before it is ended, [s]


@contextlib.contextmanager
def _not_interrupted() -> Iterator[None]:
    """Let Ctrl-C wait: a process that is started meanwhile never hears it, also while it still loads."""
    if hasattr(signal, "pthread_sigmask"):
        from multiprocessing import resource_tracker

        resource_tracker.ensure_running()  # which is started with the first process, and lets Ctrl-C in again
        before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
        try:
            yield
        finally:
            signal.pthread_sigmask(signal.SIG_SETMASK, before)
    else:
        yield


class Beside:
    """The process, started at the first question and anew where it was ended from outside."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self._process: Any = None
        self._line: Any = None
        self._text: Text | None = None

    def ask(self, question: Question) -> None:
        """Ask, without waiting; a later question of the same sort takes the place of one that waits."""
        if isinstance(question, Text):
            self._text = question
        if self._process is None or not self._process.is_alive():
            self._start()
            if self._text is not None and question is not self._text:
                self._line.send(self._text)
        self._line.send(question)

    def answers(self) -> Iterator[Answer]:
        """Return what was answered since, oldest first; waits for nothing."""
        with contextlib.suppress(EOFError, OSError):
            while self._line is not None and self._line.poll():
                yield self._line.recv()

    @property
    def ended(self) -> bool:
        """Tell whether the process was ended by something else than ``close``."""
        return self._process is not None and not self._process.is_alive()

    def close(self) -> None:
        """End it, whatever it is at."""
        if self._process is None:
            return
        self._line.close()
        self._process.join(PATIENCE)
        if self._process.is_alive():
            self._process.kill()
            self._process.join()
        self._process = self._line = None

    def _start(self) -> None:
        self.close()
        # a fresh interpreter: a copy of this process would share its display and its threads' locks
        context = multiprocessing.get_context("spawn")
        self._line, theirs = context.Pipe()
        self._process = context.Process(
            target=serve, args=(theirs, str(self._path), gc.get_threshold()), daemon=True
        )
        with _not_interrupted():
            self._process.start()
        theirs.close()
