"""A scene file's text, checked: size and kind before a byte is read, then what can't stand in a text.

Knows nothing of YAML but the characters that it allows.
"""

from __future__ import annotations

import os
import re
import stat
from difflib import get_close_matches
from pathlib import Path

from layout3d.errors import Place, SceneMistake, SceneRefused
from layout3d.files import read

__all__ = ["LARGEST_FILE", "UNPRINTABLE", "checked_text", "name_of", "read_text", "refused", "shown"]

LARGEST_FILE = 2_000_000  # bytes; a scene of a few hundred parts has 50,000

UNPRINTABLE = re.compile(
    "[^\t\n\r\x20-\x7e\xa0-\u2027\u202f-\u2065\u2070-\ud7ff\ue000-\ufefe\uff00-\ufffd\U00010000-\U0010ffff]"
)
"""Control characters, halves of surrogate pairs, the separators that YAML takes for a new line and an editor
doesn't, and the marks that turn the direction of text, so that what is read is not what is seen."""


def read_text(path: Path) -> str:
    """Read a scene file's text.

    Raises
    ------
    SceneRefused : no such file, not an ordinary file, not to be read, larger than ``LARGEST_FILE`` (told
        before reading), not UTF-8, a character that can't be seen.
    """
    name = name_of(path)
    return checked_text(_decoded(_bytes_of(path, name), name), name)


def checked_text(text: str, name: str) -> str:
    """Return a text after checking its size and its characters; a byte order mark in front is dropped.

    Raises
    ------
    SceneRefused : as ``read_text`` does.
    """
    if len(text) > LARGEST_FILE:
        raise _too_large(name, len(text))
    text = text.removeprefix("\ufeff")
    match = UNPRINTABLE.search(text)
    if match:
        before = text[: match.start()]
        raise refused(
            f"character U+{ord(match[0]):04X} can't be seen and has no place in a scene file",
            remedy="delete it",
            place=Place(name, before.count("\n") + 1, match.start() - before.rfind("\n")),
        )
    return text


def name_of(path: Path) -> str:
    """Return a path as text that any terminal can print."""
    name = os.fsencode(path).decode("utf-8", "backslashreplace")
    return "".join(c if c.isprintable() else f"\\x{ord(c):02x}" for c in name)


def refused(found: str, *, expected: str = "", remedy: str = "", place: Place) -> SceneRefused:
    """Return the refusal of a file for one mistake."""
    return SceneRefused([SceneMistake(found, expected=expected, remedy=remedy, place=place)])


def shown(text: str, *, most: int = 60) -> str:
    """Return a text in quotes for a message, cut where it is long.

    >>> shown("depth"), shown("x" * 100, most=10)
    ("'depth'", "'xxxxxxxxx…'")
    """
    return repr(text if len(text) <= most else text[: most - 1] + "…")


def _too_large(name: str, size: int) -> SceneRefused:
    return refused(
        f"the file has {size:,} bytes",
        expected=f"a scene file of at most {LARGEST_FILE:,} bytes",
        remedy="keep meshes and pictures in files of their own and name them in the scene",
        place=Place(name),
    )


def _bytes_of(path: Path, name: str) -> bytes:
    place = Place(name)
    try:
        status = path.stat()
        if stat.S_ISDIR(status.st_mode):
            raise refused("is a folder, not a scene file", remedy="name a file in it", place=place)
        if not stat.S_ISREG(status.st_mode):
            raise refused("is not an ordinary file", expected="a scene file", place=place)
        if status.st_size > LARGEST_FILE:
            raise _too_large(name, status.st_size)
        data = read(path, LARGEST_FILE + 1)
    except SceneRefused:  # which is a ValueError too
        raise
    except FileNotFoundError:
        remedy = _near_file(path)
        raise refused("there is no such file", expected="a scene file", remedy=remedy, place=place) from None
    except PermissionError:
        raise refused("may not be read", remedy="give yourself the right to read it", place=place) from None
    except (OSError, ValueError) as error:  # ValueError: a path with a null character
        reason = getattr(error, "strerror", None) or str(error)
        raise refused(f"can't be read: {reason}", expected="a scene file", place=place) from None
    if len(data) > LARGEST_FILE:
        raise _too_large(name, len(data))
    return data


def _near_file(path: Path) -> str:
    try:
        known = [entry.name for entry in path.parent.iterdir() if entry.suffix in (".yaml", ".yml")]
    except (OSError, ValueError):
        return "look at the path: its folder is not there either"
    close = get_close_matches(path.name, known, n=1, cutoff=0.5)
    return f"did you mean {name_of(path.parent / close[0])}?" if close else "look at the path"


def _decoded(data: bytes, name: str) -> str:
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError as error:
        before = data[: error.start]
        line = before.count(b"\n") + 1
        column = len(before[before.rfind(b"\n") + 1 :].decode("utf-8", "replace")) + 1
        raise refused(
            f"byte 0x{data[error.start]:02x} is not UTF-8 text",
            expected="a text file in UTF-8",
            remedy="save the file as UTF-8 in the editor",
            place=Place(name, line, column),
        ) from None
