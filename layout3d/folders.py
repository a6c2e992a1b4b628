"""A folder of files that a command writes as a whole, with a list that proves which of them are its own.

So a folder can be written anew without touching a file that somebody else put there or changed.
"""

from __future__ import annotations

import contextlib
import hashlib
import itertools
import json
import os
import re
import stat
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from layout3d.errors import LayoutError, Place
from layout3d.files import folder_written

__all__ = ["OwnFolder"]


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnFolder:
    """A folder of one command's: ``what`` it is in messages, and its list of files.

    ``listed`` is the name of the list, a JSON object; ``names`` is the pattern of every other file's name.
    """

    what: str
    listed: str
    names: re.Pattern[str]

    def write(
        self, to: Path, fill: Callable[[Path], dict[str, Any]], *, replace: bool = False
    ) -> dict[str, Any]:
        """Write the folder whole or not at all, and return its list.

        Parameters
        ----------
        to : the folder; it is made, and must be empty if it is there
        fill : writes the files into the folder that it is given, and returns what the list says beside them
        replace : replace a folder that an earlier run wrote

        Raises
        ------
        LayoutError : the folder holds something else, or can't be written. Then it is left as it was.
        """
        self._refuse_full(to, replace=replace)
        with folder_written(to, clear=self._clear) as folder:
            facts = fill(folder)
            facts["written"] = {name: _digest(folder / name) for name in sorted(files_in(folder))}
            facts["digest"] = _digest_of(facts)
            text = json.dumps(facts, indent=2, allow_nan=False) + "\n"
            (folder / self.listed).write_text(text, encoding="utf-8")
        return facts

    def _refuse_full(self, to: Path, *, replace: bool) -> None:
        place = Place(str(to))
        try:
            if not os.path.lexists(to) or (to.is_symlink() and not to.exists()):
                return
            if not to.is_dir():
                raise LayoutError("is not a folder", expected="a new or empty folder", place=place)
            if not os.path.lexists(to / self.listed):
                # not ours: one entry is enough, and there may be a whole disk below
                found, ours = {path.name for path in itertools.islice(to.iterdir(), 1)}, set[str]()
            else:
                found, ours = files_in(to), self._ours(to)
            others = sorted(found - ours)
        except OSError as fault:
            raise LayoutError(f"can't be read: {fault.strerror or fault}", place=place) from fault
        if others:
            raise LayoutError(
                f"the folder holds other files, or files that were changed since ({others[0]!r})",
                expected="a new or empty folder",
                place=place,
            )
        if found and not replace:
            raise LayoutError(
                f"the folder holds an earlier {self.what}",
                expected="a new or empty folder",
                remedy="name another one, or give --replace",
                place=place,
            )

    def _ours(self, folder: Path) -> set[str]:
        """Return the files that were written here and nobody changed since; empty where it can't be proven.

        The list proves itself by its own digest, and each file that it says was written by that file's. What
        has a name that is never given is none of ours, whatever a list says.
        """
        try:
            facts = json.loads((folder / self.listed).read_text(encoding="utf-8"))
            if (folder / self.listed).is_symlink() or facts.pop("digest") != _digest_of(facts):
                return set()
            told = {str(name): str(digest) for name, digest in facts["written"].items()}
        except (OSError, ValueError, KeyError, TypeError, AttributeError, RecursionError):
            return set()
        return {self.listed} | {
            name
            for name, digest in told.items()
            if self.names.fullmatch(name)
            and not (folder / name).is_symlink()
            and _digest(folder / name) == digest
        }

    def _clear(self, folder: Path) -> None:
        """Delete what was written into a folder, and nothing else."""
        ours = self._ours(folder)
        for name in sorted(ours):
            (folder / name).unlink()
        for name in {str(Path(name).parent) for name in ours} - {"."}:
            with contextlib.suppress(OSError):
                (folder / name).rmdir()


def files_in(folder: Path) -> set[str]:
    """Return everything below a folder but folders that hold something; no link is followed."""
    return {
        path.relative_to(folder).as_posix()
        for path in folder.rglob("*")
        if path.is_symlink() or not path.is_dir() or not any(path.iterdir())
    }


def _digest(file: Path) -> str:
    """Return the SHA-256 of an ordinary file; '' where there is none."""
    try:
        if not stat.S_ISREG(file.lstat().st_mode):
            return ""
        with file.open("rb") as stream:
            return hashlib.file_digest(stream, "sha256").hexdigest()
    except FileNotFoundError:
        return ""


def _digest_of(facts: dict[str, Any]) -> str:
    return hashlib.sha256(json.dumps(facts, sort_keys=True).encode()).hexdigest()
