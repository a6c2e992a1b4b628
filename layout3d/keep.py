"""Keep what was computed under all that it was computed from: in memory, and in the user's cache folder.

A key is the digest of a result's name, its inputs by content, and the code it rests on: so a kept result
can't grow old. Whoever keeps a result names *all* it hangs on.

On disk there is one file, in a folder that is the user's alone. Each entry carries a seal over its key and
its content, so that one that is damaged, or lies under another's key, is made anew. (The seal proves
belonging, not who wrote it; that, the folder's rights do.) The file is only a help: where it can't be had, is
full, locked or broken, everything is computed again. A file that isn't ours is not read, written or deleted.
"""

from __future__ import annotations

import atexit
import contextlib
import dataclasses
import enum
import functools
import hashlib
import operator
import os
import stat
import struct
import sys
import threading
import time
from array import array
from collections import OrderedDict
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from types import NoneType
from typing import TYPE_CHECKING, Any, Generic, TypeVar, cast

if TYPE_CHECKING:
    import sqlite3

__all__ = [
    "FIGURES",
    "Form",
    "ahead",
    "cache_folder",
    "code_of",
    "file_away",
    "forget",
    "kept",
    "key_of",
    "recalled",
    "remembered",
    "write_waiting",
]

FOLDER_LIMIT = 512 * 2**20  # the entries unused for longest go first, [bytes]
MEMORY_LIMIT = 512 * 2**20  # [bytes]
PENDING_LIMIT = 4 * 2**20  # what is made is written once there is so much of it, or at the end, [bytes]
WORTH_FILING = 0.004  # what is made in less is not worth reading from a file, [s]
BUSY_FOR = 0.5  # another run is writing: wait so long, then do without, [s]
FRESH_FOR = 86_400  # how long an entry counts as just used, so that most runs write nothing, [s]
FOLDER = "kept"
NAMES = ("kept.sqlite", "kept-1.sqlite", "kept-2.sqlite")  # the first that is free or proven ours
OURS = 0x6C_33_64_31  # of SQLite's header: the application that a file belongs to; raised with its layout
SMALL, OVERHEAD = 4096, 100  # of a result of plain figures in memory, about, and of any entry, [bytes]

_DOUBLE = struct.Struct("<d")
Value = TypeVar("Value")


@dataclasses.dataclass(frozen=True, slots=True)
class Form(Generic[Value]):
    """How a kind of result is written as bytes and read again.

    ``unpack`` raises ValueError for other bytes; ``size`` is what it takes in memory, [bytes].
    """

    name: str
    pack: Callable[[Value], bytes]
    unpack: Callable[[bytes], Value]
    size: Callable[[Value], int]


FIGURES: Form[tuple[float, ...]] = Form(
    "figures",
    lambda row: array("d", row).tobytes(),
    lambda content: tuple(array("d", content)),  # ValueError where it is no row of doubles
    lambda row: 8 * len(row),
)


# -- keys ---------------------------------------------------------------------------------------------------


def key_of(what: str, *inputs: object) -> bytes:
    """Return the key of a result: the digest of its name and its inputs by content, (32,) bytes.

    Inputs are None, bool, int, float, str, bytes, enum members, arrays, frozen dataclasses, tuples and
    mappings of these, and what tells its content by a ``content_key``, a text or bytes.

    Raises
    ------
    TypeError : an input is of another kind, so that it can't be told by content.
    """
    told: list[bytes] = []
    _feed(told.append, (what, *inputs), what)
    return hashlib.sha256(b"".join(told)).digest()


def _feed(give: Callable[[bytes], None], values: Iterable[Any], what: str) -> None:
    """Give bytes that differ wherever values or their types do: what has a length tells it first."""
    for value in values:
        kind: Any = type(value)
        plain, items, name = _telling(kind)
        if plain is not None:
            told = plain(value)
            give(b"%s%d:%b" % (name, len(told), told))
            continue
        within = items(value)
        if within is None:
            raise TypeError(f"{what}: inputs of a kept result must be plain data, got {kind.__name__}")
        give(b"%d %s%d:" % (len(name), name, len(within)))
        _feed(give, within, what)


@functools.cache
def _telling(kind: Any) -> tuple[Any, Any, bytes]:
    """Return what tells a type's values by bytes, or by other values (None: nothing does), and its name."""
    name: bytes = kind.__qualname__.encode()
    if hasattr(kind, "content_key"):
        return lambda value: key if isinstance(key := value.content_key, bytes) else key.encode(), None, name
    if issubclass(kind, enum.Enum):
        return None, lambda value: (value.name,), name
    if issubclass(kind, NoneType | bool | int | str):
        return lambda value: repr(value).encode(), None, name
    if issubclass(kind, float):
        return lambda value: _DOUBLE.pack(value + 0.0), None, b"float"
    if issubclass(kind, bytes | tuple):
        return (bytes, None, b"bytes") if issubclass(kind, bytes) else (None, tuple, b"tuple")
    if issubclass(kind, Mapping):
        return None, lambda value: tuple(value.items()), b"mapping"
    if kind.__module__ == "numpy" and hasattr(kind, "tobytes"):
        return None, lambda a: None if a.dtype.hasobject else (a.dtype.str, tuple(a.shape), a.tobytes()), name
    if getattr(getattr(kind, "__dataclass_params__", None), "frozen", False):
        names = [field.name for field in dataclasses.fields(kind)]
        fields = operator.attrgetter(*names) if len(names) > 1 else lambda v: [getattr(v, n) for n in names]
        return None, fields, f"{name!r} {names}".encode()
    return None, lambda _: None, name


@functools.cache
def code_of(*folders: str) -> str:
    """Return the digest of the code that a result rests on: these folders of the package, and the libraries.

    Parameters
    ----------
    folders : such as "solid"; none for the whole package
    """
    names = [f"{sys.version} {sys.platform} {os.uname().machine if os.name == 'posix' else ''}"]
    for folder in sorted({path for path in sys.path if path}):
        with contextlib.suppress(OSError):
            # each library that is installed says its version in the name of a folder
            names += sorted(name for name in os.listdir(folder) if name.endswith(".dist-info"))  # noqa: PTH208
    names += [name + _sources(Path(__file__).parent / name) for name in folders or ("",)]
    return hashlib.sha256("\n".join(names).encode()).hexdigest()


@functools.cache
def _sources(folder: Path) -> str:
    """Return the digest of the code in a folder and those below it; each file is read once."""
    digest = hashlib.sha256()
    for path in sorted(folder.iterdir()):
        code = path.name.endswith((".py", ".yaml", ".json", ".txt"))
        if code or (path.is_dir() and path.name != "__pycache__"):
            content = path.read_bytes() if code else _sources(path).encode()
            digest.update(f"{path.name} {len(content)} ".encode() + content)
    return digest.hexdigest()


# -- keeping ------------------------------------------------------------------------------------------------

_memory: OrderedDict[bytes, tuple[Any, int]] = OrderedDict()
_held = 0
_lock = threading.RLock()
ahead: dict[str, Callable[[bytes], Any]] = {}  # a form's name -> waits for what is made beside: `beside.py`


def kept(key: bytes, form: Form[Any], make: Callable[[], Value], *, worth: float | None = None) -> Value:
    """Return the result under a key: from memory, from the file, or made and kept.

    Parameters
    ----------
    key : from ``key_of``
    make : computes it, the same for the same key each time; None (nothing came of it) and errors are not kept
    worth : the least time of making it for which it is filed, [s]; ``WORTH_FILING`` by default
    """
    found: Value | None = recalled(key, form)
    if found is None and form.name in ahead:
        found = ahead[form.name](key)
    if found is not None:
        return found
    begin = time.perf_counter()
    made = make()
    if made is not None:
        if time.perf_counter() - begin >= (WORTH_FILING if worth is None else worth):
            file_away(key, form, made)
        else:
            _remember(_filed_under(key, form), made, form.size(made))
    return made


def remembered(
    what: str, *inputs: object, make: Callable[[], Value], size: Callable[[Value], int] = lambda _: SMALL
) -> Value:
    """Return a result from memory, kept under its name and its inputs by content, or make it.

    For what can't be filed, or is made sooner than read; ``make`` is as in ``kept``.
    ``size`` tells about what a result takes, [bytes].
    """
    key = key_of(what, *inputs)
    with _lock:
        if key in _memory:
            _memory.move_to_end(key)
            return cast(Value, _memory[key][0])
    made = make()
    if made is not None:
        _remember(key, made, size(made))
    return made


def recalled(key: bytes, form: Form[Value]) -> Value | None:
    """Return the result that is kept under a key, in memory or in the file; None for none."""
    key = _filed_under(key, form)
    with _lock:
        if key in _memory:
            _memory.move_to_end(key)
            return cast(Value, _memory[key][0])
        content = _file.read(key)
    if content is None:
        return None
    try:
        value = form.unpack(content)
    except (ValueError, KeyError, TypeError):
        return None
    _remember(key, value, form.size(value), filed=True)
    return value


def file_away(key: bytes, form: Form[Value], value: Value, *, once: bool = False) -> None:
    """Keep a result under a key, in memory and in the file; ``once`` leaves one that is filed as it is."""
    key = _filed_under(key, form)
    with _lock:
        if not (once and _file.rows("1", key)):
            _file.add(key, form.pack(value))
    _remember(key, value, form.size(value), filed=True)


def _filed_under(key: bytes, form: Form[Any]) -> bytes:
    return hashlib.sha256(form.name.encode() + key).digest()


def write_waiting(limit: int) -> None:
    """Write what waits to be filed, and from now on by itself only once there is so much of it, [bytes]."""
    with _lock:
        _file.save()
        _file.most_waiting = limit


def forget() -> None:
    """Drop what is kept in memory, after filing what waits."""
    global _held
    with _lock:
        write_waiting(PENDING_LIMIT)
        _file.close()
        _file.barred = None
        _memory.clear()
        _held = 0


def _remember(key: bytes, value: object, size: int, *, filed: bool = False) -> None:
    """Hold a result in memory; of what is filed, one that would push many others out goes before them."""
    global _held
    size += OVERHEAD
    with _lock:
        _held += size - _memory.pop(key, (None, 0))[1]
        _memory[key] = (value, size)
        _memory.move_to_end(key, last=not filed or size <= MEMORY_LIMIT // 4)
        while _held > MEMORY_LIMIT and len(_memory) > 1:
            _held -= _memory.popitem(last=False)[1][1]


# -- the file -----------------------------------------------------------------------------------------------


def cache_folder() -> Path | None:
    """Return where results are kept on disk; None for LAYOUT3D_CACHE=off, or where no home is known."""
    wish = os.environ.get("LAYOUT3D_CACHE", "")
    if wish.lower() == "off":
        return None
    try:
        if wish:
            return Path(wish).expanduser()
        home = Path.home()
    except RuntimeError:  # no home is known for this user
        return None
    if sys.platform == "darwin":
        return home / "Library" / "Caches" / "layout3d"
    if sys.platform == "win32":
        return Path(os.environ.get("LOCALAPPDATA") or home / "AppData" / "Local") / "layout3d" / "Cache"
    return Path(os.environ.get("XDG_CACHE_HOME") or home / ".cache") / "layout3d"


class _File:
    """The entries on disk, and those still to be written."""

    def __init__(self) -> None:
        self._pending: dict[bytes, bytes] = {}
        self._waiting, self.most_waiting = 0, PENDING_LIMIT
        self._used: set[bytes] = set()
        self._connection: sqlite3.Connection | None = None
        self._path = Path()
        self._here: tuple[Path | None, int] = (None, 0)  # cache folder and process of the connection
        self.barred: tuple[Path | None, int] | None = None
        self._inherited: list[sqlite3.Connection] = []

    def read(self, key: bytes) -> bytes | None:
        """Return an entry's content; None where there is none that is whole and lies under its own key."""
        if key in self._pending:
            return self._pending[key]
        for seal, used, content in self.rows("seal, used, content", key):
            if isinstance(content, bytes) and seal == hashlib.sha256(key + content).digest():
                if not isinstance(used, int) or abs(time.time() - used) > FRESH_FOR:
                    self._used.add(key)
                return content
        return None

    def rows(self, columns: str, key: bytes) -> Any:
        """Return columns of the entry that was written under a key, whole or not, in a list."""
        connection = self._open(make=False)
        ask = f"SELECT {columns} FROM kept WHERE key = ?"
        return (connection and self._try(lambda: connection.execute(ask, (key,)).fetchall())) or ()

    def add(self, key: bytes, content: bytes) -> None:
        """Let an entry wait to be written."""
        if cache_folder() is None or len(content) > FOLDER_LIMIT // 4:
            return
        self._waiting += len(content) - len(self._pending.get(key, b""))
        self._pending[key] = content
        if self._waiting > self.most_waiting:
            self.save()

    def save(self) -> None:
        """Write what waits, all of it or none."""
        pending, used = self._pending, self._used
        self._pending, self._used, self._waiting = {}, set(), 0
        if not pending and not used:
            return
        self.barred = None
        for _ in range(2):  # a broken file is deleted at the first try, and begun anew at the second
            connection = self._open(make=bool(pending))
            if connection is None or self._try(functools.partial(_write, connection, pending, used)):
                return

    def close(self) -> None:
        """Let go of the file."""
        if self._connection is not None:
            if self._here[1] == os.getpid():
                self._connection.close()
            else:
                self._inherited.append(self._connection)  # a fork must neither use nor close it
        self._connection = None

    def _open(self, *, make: bool) -> sqlite3.Connection | None:
        here = (cache_folder(), os.getpid())
        if here != self._here:
            self.close()
            self._here = here
        if self._connection is None and here[0] is not None and (make or here != self.barred):
            path = _file_in(here[0], make=make)
            if path is not None:
                self._path = path
                self._connection = self._try(lambda: _connected(path, make=make))
        return self._connection

    def _try(self, act: Callable[[], Any]) -> Any:
        """Do something with the file; None where that fails. A file of ours that is broken is deleted."""
        import sqlite3

        try:
            return act()
        except (sqlite3.Error, ValueError, OverflowError) as fault:  # ValueError: text that is none
            code = getattr(fault, "sqlite_errorcode", None)
            self.close()
            if code is not None and code & 0xFF in _PASSING:
                self.barred = self._here
            elif _is_ours(self._path):
                with contextlib.suppress(OSError):
                    self._path.unlink()
            return None


# what SQLite answers for a file that may be sound but is locked, full, not to be written: sqlite.org/rescode
_PASSING = {3, 5, 6, 7, 8, 9, 10, 13, 14, 15, 22, 23}


def _connected(path: Path, *, make: bool) -> sqlite3.Connection:
    import sqlite3

    connection = sqlite3.connect(
        f"{path.absolute().as_uri()}?mode=rw", uri=True, timeout=BUSY_FOR, check_same_thread=False
    )
    # no files beside it, no waiting for the disk: what a crash breaks is noticed, and made anew
    settings = "journal_mode = MEMORY", "synchronous = OFF", "trusted_schema = OFF", "cell_size_check = ON"
    for setting in settings:
        connection.execute(f"PRAGMA {setting}").fetchall()
    if make:
        with connection:
            connection.execute(f"PRAGMA application_id = {OURS}")
            connection.execute(
                "CREATE TABLE IF NOT EXISTS kept"
                " (key BLOB PRIMARY KEY, seal BLOB, used INTEGER, content BLOB)"
            )
    return connection


def _write(connection: sqlite3.Connection, pending: dict[bytes, bytes], used: set[bytes]) -> bool:
    now = int(time.time())
    rows = [(key, hashlib.sha256(key + content).digest(), now, content) for key, content in pending.items()]
    with connection:
        connection.executemany("INSERT OR REPLACE INTO kept VALUES (?, ?, ?, ?)", rows)
        connection.executemany("UPDATE kept SET used = ? WHERE key = ?", [(now, key) for key in used])
        _drop_oldest(connection)
    return True


def _drop_oldest(connection: sqlite3.Connection) -> None:
    """Delete the entries unused for longest until the file is well under its limit."""
    page, pages, free = (
        connection.execute(f"PRAGMA {name}").fetchone()[0]
        for name in ("page_size", "page_count", "freelist_count")
    )
    excess = page * (pages - free) - FOLDER_LIMIT
    if excess <= 0:
        return
    excess += FOLDER_LIMIT // 8
    gone = []
    for key, size in connection.execute("SELECT key, length(content) FROM kept ORDER BY used, rowid"):
        if excess <= 0:
            break
        gone.append((key,))
        excess -= (size or 0) + OVERHEAD
    connection.executemany("DELETE FROM kept WHERE key = ?", gone)


def _file_in(folder: Path, *, make: bool) -> Path | None:
    """Return the file of a cache folder, made if asked for; None where there is none or it can't be had."""
    own = folder / FOLDER
    try:
        if make:
            folder.mkdir(parents=True, exist_ok=True)
            own.mkdir(mode=0o700, exist_ok=True)
        facts = own.lstat()
        if not stat.S_ISDIR(facts.st_mode) or not _private(facts):
            return None
        for path in (own / name for name in NAMES):
            # the database library takes files of these names for its own
            if any(os.path.lexists(f"{path}{tail}") for tail in ("-journal", "-wal", "-shm")):
                continue
            if not os.path.lexists(path):
                if not make:
                    continue
                os.close(os.open(path, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600))
            if _is_ours(path):
                return path if make or path.stat().st_size else None
    except OSError:
        return None
    return None


def _is_ours(path: Path) -> bool:
    """Tell whether a file is one that this module made: by its rights, and by what stands at its head."""
    try:
        facts = path.lstat()
        if not stat.S_ISREG(facts.st_mode) or not _private(facts) or facts.st_nlink != 1:
            return False
        with path.open("rb") as file:
            head = file.read(100)
    except OSError:
        return False
    # sqlite.org/fileformat2.html, section 1.3: magic, versions 1 (no log beside it), application
    return not head or (
        head[:16] == b"SQLite format 3\0"
        and head[18:20] == b"\1\1"
        and head[68:72] == OURS.to_bytes(4, "big")
    )


def _private(facts: os.stat_result) -> bool:
    """Tell whether something is the user's own, and nobody else may look into it."""
    return os.name != "posix" or (facts.st_uid == os.geteuid() and not facts.st_mode & 0o077)


_file = _File()
atexit.register(forget)  # before the interpreter goes: some results hold objects of other libraries
