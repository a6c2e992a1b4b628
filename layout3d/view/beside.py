"""A process beside the window that answers for one scene; the window asks and goes on."""

from __future__ import annotations

import contextlib
import gc
import multiprocessing
import signal
import threading
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from layout3d.view.answers import Answer, Question, Text, serve
from layout3d.view.looks import Looks, completed

__all__ = ["Beside"]

TURN = 2e-4  # for the thread that sends to begin, before who asked goes on, [s]
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
    """The process, started at the first question and anew where it was ended from outside.

    A thread sends the questions: the process takes none in the midst of a step, and texts soon fill the line.
    """

    def __init__(self, path: Path) -> None:
        self._path = path
        self._process: Any = None
        self._line: Any = None
        self._looks: Looks | None = None  # told last by this process
        self._text: Text | None = None
        self._sender: threading.Thread | None = None
        self._waiting: dict[type, Question | None] = {}
        self._more = threading.Condition()

    def ask(self, question: Question) -> None:
        """Ask, without waiting; a later question of the same sort takes the place of one that waits."""
        if isinstance(question, Text):
            self._text = question
        if self._process is None or not self._process.is_alive():
            self._start()
            if self._text is not None and question is not self._text:
                self._let_wait(self._text)
        self._let_wait(question)

    def answers(self) -> Iterator[Answer]:
        """Return what was answered since, oldest first; waits for nothing."""
        with contextlib.suppress(EOFError, OSError):
            while self._line is not None and self._line.poll():
                answer = self._line.recv()
                if isinstance(answer, Looks):
                    answer = self._looks = completed(answer, self._looks)
                yield answer

    @property
    def ended(self) -> bool:
        """Tell whether the process was ended by something else than ``close``."""
        return self._process is not None and not self._process.is_alive()

    def close(self) -> None:
        """End it, whatever it is at."""
        if self._process is None or self._sender is None:
            return
        self._let_wait(None)
        self._sender.join(PATIENCE)
        if not self._sender.is_alive():
            self._line.close()
            self._process.join(PATIENCE)
        if self._process.is_alive():
            self._process.kill()
            self._process.join()
        self._sender.join()  # what it still sends ends with the process
        self._line.close()
        self._process = self._line = self._sender = self._looks = None

    def _let_wait(self, question: Question | None) -> None:
        """Let a question wait to be sent, in place of those that are past with it; None is the last one."""
        with self._more:
            if question is None or isinstance(question, Text):
                self._waiting.clear()
            self._waiting.pop(type(question), None)
            self._waiting[type(question)] = question
            self._more.notify()
        time.sleep(TURN)

    def _send(self, line: Any) -> None:
        with contextlib.suppress(OSError):  # nobody is there to read it any more
            while True:
                with self._more:
                    self._more.wait_for(lambda: self._waiting)
                    question = self._waiting.pop(next(iter(self._waiting)))
                if question is None:
                    return
                line.send(question)

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
        self._waiting = {}
        self._sender = threading.Thread(target=self._send, args=(self._line,), daemon=True)
        self._sender.start()
