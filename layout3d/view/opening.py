"""Whether a window can be opened here: the libraries it needs, and a display that answers. Loads neither."""

from __future__ import annotations

import ctypes
import os
import sys
from ctypes.util import find_library
from importlib.util import find_spec

from layout3d.errors import LayoutError

__all__ = ["never_let_go_of_none", "refuse_without_window"]

LIBRARIES = ("PySide6", "pyvistaqt")
_MANY, _NEAR = 1 << 40, 1000  # references
ON_SCREEN = "libxcb-cursor.so.0"
"""Qt's part for X ends the process without it, and without a word that helps."""


def refuse_without_window() -> None:
    """Refuse to open a window where there is nothing to open it with, or on.

    Raises
    ------
    LayoutError : a library or the display is missing, with what to do.
    """
    missing = [name for name in LIBRARIES if find_spec(name) is None]
    if missing:
        raise LayoutError(
            f"the window needs {' and '.join(missing)}, not installed here",
            remedy="run: pip install 'layout3d[window]'",
        )
    if not sys.platform.startswith("linux"):
        return
    name = os.environ.get("DISPLAY", "")
    if not name or not _answers(name):
        raise LayoutError(
            f"the display {name!r} can't be reached" if name else "there is no display to open a window on",
            expected="a desktop session, or DISPLAY set to a screen",
            remedy="use `layout3d picture` to draw the scene into a file",
        )
    try:
        ctypes.CDLL(ON_SCREEN)
    except OSError:
        raise LayoutError(
            f"the window needs the system's library {ON_SCREEN}",
            remedy="on Debian run: apt install libxcb-cursor0 libxkbcommon-x11-0",
        ) from None
    os.environ.setdefault("QT_QPA_PLATFORM", "xcb")


def _answers(name: str) -> bool:
    """Ask the X server itself: Qt ends the process where none answers."""
    try:
        library = ctypes.CDLL(find_library("X11") or "libX11.so.6")
    except OSError:
        return False  # windows are opened by this one
    library.XOpenDisplay.restype = ctypes.c_void_p
    library.XOpenDisplay.argtypes = [ctypes.c_char_p]
    library.XCloseDisplay.argtypes = [ctypes.c_void_p]
    display = library.XOpenDisplay(os.fsencode(name))
    if display:
        library.XCloseDisplay(display)
    return bool(display)


def never_let_go_of_none() -> None:
    """Keep Python alive under a library that lets go of None at each call: PySide6 6.12.0 on Python 3.11.

    There None is counted as any other object, so that a window would end the process after some ten thousand
    calls, and with it what isn't saved. From Python 3.12 on None is never let go of.
    """
    if sys.version_info >= (3, 12) or sys.implementation.name != "cpython":
        return
    count = ctypes.c_ssize_t.from_address(id(None))
    if (
        count.value < _MANY and abs(count.value - sys.getrefcount(None)) < _NEAR
    ):  # it stands there, not yet done
        count.value += _MANY
