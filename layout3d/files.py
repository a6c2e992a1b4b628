"""Write files whole or not at all, and leave nothing behind where that fails; note which files are read.

What is written grows under another name beside its place and is moved there once it is whole. Links are
written through. What ends a run early has to reach here as an exception: ``commands.ending`` sees to signals.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import re
import secrets
import stat
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from layout3d.errors import LayoutError, Place

__all__ = [
    "Noted",
    "clear_unfinished",
    "digest_of",
    "folder_made",
    "folder_written",
    "is_folder",
    "note_again",
    "note_link",
    "noted",
    "ordinary_content",
    "own_data",
    "read",
    "written",
]


@dataclass(slots=True, eq=False)  # one may be taken inside another: each is itself
class Noted:
    """The user's files that were read: the SHA-256 of each by its name, and where links led by theirs."""

    contents: dict[str, str] = field(default_factory=dict)
    links: dict[str, str] = field(default_factory=dict)


_notes: list[Noted] = []


@contextlib.contextmanager
def noted() -> Iterator[Noted]:
    """Note the files that are read meanwhile."""
    note = Noted()
    _notes.append(note)
    try:
        yield note
    finally:
        _notes.remove(note)


def read(path: Path, most: int = -1) -> bytes:
    """Return a file's content, or its first ``most`` bytes, and note it. All files of the user are read here.

    Raises
    ------
    OSError : it can't be read.
    """
    with path.open("rb") as file:
        content = file.read(most)
    for note in _notes:
        note.contents[str(path)] = digest_of(content)
    return content


def note_again(earlier: Noted) -> None:
    """Note what was read earlier, where something else is now made of it without reading it again."""
    for note in _notes:
        note.contents.update(earlier.contents)
        note.links.update(earlier.links)


def own_data(file: Path) -> Any:
    """Return what a YAML file of the package holds; no file of the user's."""
    # imported here: a program that only draws or reads meshes never pays for it
    import yaml

    loader = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
    return yaml.load(file.read_bytes(), Loader=loader)  # a safe loader: plain data only


def note_link(asked: Path, real: Path) -> None:
    """Note where a path led once its links were followed."""
    for note in _notes:
        note.links[str(asked)] = str(real)


def digest_of(content: bytes) -> str:
    """Return the SHA-256 of a file's content."""
    return hashlib.sha256(content).hexdigest()


def ordinary_content(path: Path, most: int) -> bytes | None:
    """Return an ordinary file's content; None where it is another thing, larger, or can't be read."""
    try:
        facts = path.stat()
        if not stat.S_ISREG(facts.st_mode) or facts.st_size > most:
            return None
        return path.read_bytes()
    except (OSError, ValueError):
        return None


@contextlib.contextmanager
def written(to: Path, *, replace: bool = True) -> Iterator[Path]:
    """Give the path of a file to write, in the same folder and with the same suffix, and move it to ``to``.

    Parameters
    ----------
    to : the file; a link is followed. One that is there keeps its rights; a new one has the usual ones
    replace : whether a file that is there may be replaced

    Raises
    ------
    LayoutError : the file is there and may not be replaced, is no ordinary file, or can't be written.
    """
    with _refusals(to):
        real, mode = _real_file(to, replace=replace)
        number = secrets.token_hex(8)
        partial = real.with_name(f".{number}{_mark(number, real.name)}{real.suffix}")
        try:
            os.close(os.open(partial, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o666))
            yield partial
            if mode is not None:
                partial.chmod(mode)
            if replace:
                partial.replace(real)
            else:
                _put_where_nothing_is(partial, real)
        finally:
            partial.unlink(missing_ok=True)


def clear_unfinished(files: Iterable[Path]) -> None:
    """Delete what ``written`` left beside files where its process was killed; it is known by its name."""
    names: dict[Path, list[str]] = {}
    for file in files:
        names.setdefault(file.parent, []).append(file.name)
    for folder, own in names.items():
        for path in folder.glob(".*"):
            found = _PARTIAL.fullmatch(path.stem)
            if found and found[2] in {_mark(found[1], name) for name in own} and path.is_file():
                path.unlink(missing_ok=True)


def _mark(number: str, name: str) -> str:
    """Return what stands after a partial file's random number: of which file it is; no other file has it."""
    return digest_of(f"{number} {name}".encode())[:16]


_PARTIAL = re.compile(r"\.([0-9a-f]{16})([0-9a-f]{16})")


@contextlib.contextmanager
def folder_written(to: Path, *, clear: Callable[[Path], None]) -> Iterator[Path]:
    """Give a new folder to write to, and put it in the place of ``to`` once all is written.

    Parameters
    ----------
    to : the folder; a link is followed
    clear : takes out of the folder that stood there what may be deleted; it is given its path, and is called
        once the new one stands. What it leaves is kept

    Raises
    ------
    LayoutError : it can't be written, or something was left of what stood there, with its new place.
    """
    import shutil

    with _refusals(to):
        real = _real(to)
        with folder_made(real.parent):
            partial = real.with_name(f".{secrets.token_hex(8)}")
            aside = partial.with_name(f"{partial.name}-old")
            try:
                partial.mkdir()
                try:
                    yield partial
                except LayoutError as error:
                    if error.place.file.startswith(str(partial)):
                        error.place = Place(str(to) + error.place.file.removeprefix(str(partial)))
                    raise
                with contextlib.suppress(FileNotFoundError):
                    partial.chmod(stat.S_IMODE(real.stat().st_mode))
                    real.rename(aside)
                partial.rename(real)
            finally:
                if aside.exists() and not real.exists():
                    aside.rename(real)
                shutil.rmtree(partial, ignore_errors=True)
        if aside.exists():
            clear(aside)
            with contextlib.suppress(OSError):
                aside.rmdir()
            if aside.exists():
                raise LayoutError(
                    "written, but files came in meanwhile",
                    remedy=f"they are kept in {aside}",
                    place=Place(str(to)),
                )


@contextlib.contextmanager
def folder_made(folder: Path) -> Iterator[None]:
    """Make a folder and those above it; take out again what was made, where nothing came to be written.

    Raises
    ------
    LayoutError : it can't be made.
    """
    made: list[Path] = []
    try:
        try:
            real = _real(folder)
            for each in (*reversed(real.parents), real):
                if not each.is_dir():
                    made.append(each)
                    each.mkdir(exist_ok=True)
        except (OSError, ValueError) as fault:  # ValueError: a null character
            reason = getattr(fault, "strerror", None) or str(fault)
            raise LayoutError(f"can't be made a folder: {reason}", place=Place(str(folder))) from fault
        yield
    except BaseException:
        for each in reversed(made):
            with contextlib.suppress(OSError):
                each.rmdir()  # of a folder that holds something this does nothing
        raise


def is_folder(path: Path) -> bool:
    """Tell whether a path leads to a folder; False too where it can't be followed at all."""
    try:
        return path.is_dir()
    except (OSError, ValueError):
        return False


@contextlib.contextmanager
def _refusals(to: Path) -> Iterator[None]:
    try:
        yield
    except OSError as fault:
        raise LayoutError(f"can't be written: {fault.strerror or fault}", place=Place(str(to))) from fault


def _real(path: Path) -> Path:
    """Follow links; one that leads nowhere but to itself is an OSError."""
    real = Path(os.path.realpath(path))
    if real.is_symlink():
        real.stat()  # says that links go round
    return real


def _real_file(to: Path, *, replace: bool) -> tuple[Path, int | None]:
    """Return where a file is to be written, and the rights of the one that is there."""
    try:
        if not replace and to.is_symlink():
            raise FileExistsError
        real = _real(to)
        found = real.lstat()
    except FileNotFoundError:
        return real, None
    except FileExistsError:
        found = None
    except ValueError as fault:  # a null character
        raise LayoutError(f"can't be written: {fault}", place=Place(str(to))) from fault
    if not replace:
        raise _there(to)
    assert found is not None
    if not stat.S_ISREG(found.st_mode):
        what = "a folder" if stat.S_ISDIR(found.st_mode) else "not an ordinary file"
        raise LayoutError(f"is {what}", expected="a file to write", place=Place(str(to)))
    if not found.st_mode & 0o222 or not os.access(real, os.W_OK):  # moving another file there would still do
        raise LayoutError(
            "is read-only, and left alone", remedy="give yourself the right to write it", place=Place(str(to))
        )
    return real, stat.S_IMODE(found.st_mode)


def _there(to: Path) -> LayoutError:
    return LayoutError(
        "there is such a file already", remedy="choose another name; it is left alone", place=Place(str(to))
    )


def _put_where_nothing_is(partial: Path, to: Path) -> None:
    try:
        os.link(partial, to)  # fails where something is, in one step
    except FileExistsError:
        raise _there(to) from None
    except OSError:  # a file system without hard links
        if os.path.lexists(to):
            raise _there(to) from None
        partial.rename(to)
