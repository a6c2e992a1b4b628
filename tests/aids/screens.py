"""A screen that nobody sees: Xvfb, for windows of tests and of the bench."""

from __future__ import annotations

import os
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def unseen_screen(size: str = "1920x1080x24") -> Iterator[None]:
    """Let Qt draw on a screen of our own; what was set for it before is set again afterwards.

    Raises
    ------
    FileNotFoundError : Xvfb is not installed.
    """
    read, write = os.pipe()
    server = subprocess.Popen(
        ["Xvfb", "-displayfd", str(write), "-screen", "0", size, "-nolisten", "tcp"],
        pass_fds=[write],
        stderr=subprocess.DEVNULL,
    )
    os.close(write)
    with os.fdopen(read) as told:
        number = told.readline().strip()
    before = {name: os.environ.get(name) for name in ("DISPLAY", "QT_QPA_PLATFORM")}
    os.environ |= {"DISPLAY": f":{number}", "QT_QPA_PLATFORM": "xcb"}
    try:
        yield
    finally:
        for name, value in before.items():
            os.environ.pop(name)
            if value is not None:
                os.environ[name] = value
        server.terminate()
        server.wait()
