"""The scene file's text as it is edited: steps, saving, and what others changed on disk."""

from __future__ import annotations

import contextlib
import difflib
import os
from codecs import BOM_UTF8
from collections.abc import Iterable
from pathlib import Path
from typing import TypeAlias

from layout3d.errors import LayoutError
from layout3d.files import read, written
from layout3d.scene.file import read_text

__all__ = ["Document", "Watch"]

Stamp: TypeAlias = tuple[int, int, int, bool]


class Watch:
    """Files that others may change.

    A change is told once two looks find it the same: half a file is none. What was put in a file's place as a
    whole, as most editors do, is told at once.
    """

    def __init__(self, paths: Iterable[Path]) -> None:
        self.paths = tuple(paths)
        self._told = self._seen = self._stamps()

    def changed(self) -> bool:
        """Look at the files, and tell whether they are others than when that was told last."""
        now, before = self._stamps(), self._seen
        self._seen = now
        if now == self._told or (now != before and not all(map(_whole, self._told, now))):
            return False
        self._told = now
        return True

    def _stamps(self) -> tuple[Stamp | None, ...]:
        return tuple(_stamp(path) for path in self.paths)


class Document:
    """A scene file's text, with every step that led to it.

    ``text`` is what the window shows, ``saved`` what the file held when it was last read or written. ``news``
    is what somebody else wrote into the file while there were changes of one's own, or None;
    ``trouble`` tells why the file can't be read since then, or ''. Lines end in one way here; a file whose
    lines all end as Windows has them, or that begins with a byte order mark, is written so again.

    Raises
    ------
    SceneRefused : the file can't be read.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self._mark, self._break = "", "\n"
        self.saved = self.text = self._read()
        self.news: str | None = None
        self.trouble = ""
        self._watch = Watch((path,))
        self._past: list[str] = []
        self._future: list[str] = []

    @property
    def changed(self) -> bool:
        """Tell whether anything is not saved."""
        return self.text != self.saved

    def by_name(self, told: str) -> str:
        """Return what is told of the file with its name alone: its folders fill a line, and tell nothing."""
        return told.replace(str(self.path), self.path.name)

    def take(self, text: str) -> None:
        """Make this the text, as a step that can be taken back; the same text is no step."""
        if text != self.text:
            self._past.append(self.text)
            self._future.clear()
            self.text = text

    def undo(self) -> bool:
        """Take the last step back; tell whether there was one."""
        return self._step(self._past, self._future)

    def redo(self) -> bool:
        """Take a step again that was taken back; tell whether there was one."""
        return self._step(self._future, self._past)

    def _step(self, source: list[str], target: list[str]) -> bool:
        if not source:
            return False
        target.append(self.text)
        self.text = source.pop()
        return True

    def difference(self) -> str:
        """Return what saving would change in the file as it is now, as unified lines; '' where nothing.

        What others wrote into it meanwhile stands among the lines that go.
        """
        name, now = self.path.name, self._on_disk()
        told = "saved" if now == self.saved else "it is on disk"
        before, after = ((text or "").splitlines(keepends=True) for text in (now, self.text))
        return "".join(difflib.unified_diff(before, after, f"{name} as {told}", f"{name} as shown", n=1))

    def save(self, *, over: bool = False) -> None:
        """Write the text to the file, whole or not at all.

        Parameters
        ----------
        over : whether what others wrote into the file meanwhile may be lost

        Raises
        ------
        LayoutError : others changed the file and ``over`` isn't given, or it can't be written.
        """
        if not over and self.overtaken():
            raise LayoutError(
                f"{self.path.name} was changed on disk meanwhile, or is not there any more",
                expected="the file as it was last read",
                remedy="look at what was changed there, then take that or write over it",
            )
        self.write(self.path)
        self.saved, self.news, self.trouble = self.text, None, ""
        self._watch = Watch((self.path,))

    def write(self, path: Path) -> None:
        """Write the text to a file, whole or not at all.

        Raises
        ------
        LayoutError : it can't be written.
        """
        with written(path) as partial:
            text = self._mark + self.text
            partial.write_text(text.replace("\n", self._break), encoding="utf-8", newline="")

    def overtaken(self) -> bool:
        """Tell whether others changed the file, or took it away, since it was last read or written."""
        return self._on_disk() != self.saved

    def look(self) -> bool:
        """Look at the file, and tell whether there is something new.

        Where nothing of one's own is unsaved the new text is taken, as a step; else it waits in ``news``.
        """
        if not self._watch.changed():
            return False
        troubled, self.trouble = bool(self.trouble), ""
        try:
            text = self._read()
        except LayoutError as error:
            self.trouble = str(error)
            return True
        if text == self.saved:
            overtaken, self.news = self.news is not None, None
            return troubled or overtaken  # it is back as it was, and what was told of it is past
        if self.changed and text != self.text:
            self.news = text
        else:
            self.take(text)
            self.saved, self.news = text, None
        return True

    def take_news(self) -> None:
        """Take what others wrote, in place of one's own changes, which can be brought back by undo."""
        if self.news is not None:
            self.take(self.news)
            self.saved, self.news = self.news, None

    def _on_disk(self) -> str | None:
        try:
            return self._read()
        except LayoutError:
            return None

    def _read(self) -> str:
        """Read the file's text, and note how it begins and how its lines end."""
        text = read_text(self.path)
        with contextlib.suppress(OSError):  # gone since
            self._mark = "\ufeff" if read(self.path, 3) == BOM_UTF8 else ""
        self._break = "\r\n" if 0 < text.count("\n") == text.count("\r\n") else "\n"
        return text.replace(self._break, "\n")


def _stamp(path: Path) -> Stamp | None:
    """Return when a file was written, its size, its number, and whether something else befell it since."""
    try:
        found = path.stat()
    except OSError:
        return None
    # where a file's name or rights change this time is set, and by writing both are
    later = os.name == "posix" and found.st_ctime_ns > found.st_mtime_ns
    return (found.st_mtime_ns, found.st_size, found.st_ino, later)


def _whole(before: Stamp | None, now: Stamp | None) -> bool:
    """Tell whether a file is as it was, or another was put in its place after that had been written."""
    another = now is not None and (before is None or now[2] != before[2])
    return now == before or (now is not None and another and now[1] > 0 and now[3])
