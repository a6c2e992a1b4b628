"""Keep shapes that take long to make, in memory and in the user's cache folder. Stores nothing else."""

from __future__ import annotations

import atexit
import dataclasses
import enum
import functools
import hashlib
import inspect
import os
import sys
import tempfile
import threading
import time
import zipfile
from collections import OrderedDict
from collections.abc import Callable, Sequence
from importlib import metadata
from pathlib import Path
from typing import NamedTuple, ParamSpec

import numpy as np

from layout3d.solid.shape import Shape, Solid

__all__ = ["KERNEL_VERSION", "cache_folder", "forget", "ground", "stored", "stored_reading", "stored_result"]

KERNEL_VERSION = 1  # part of every key: raise it when a stored shape must be made anew for any other reason
FOLDER_LIMIT = 512 * 2**20  # the oldest entries go first, [bytes]
MEMORY_LIMIT = 256 * 2**20  # vertices and faces, [bytes]
WORTH_A_FILE = 0.004  # a shape made in less is not worth reading from a file, [s]
PRUNE_EVERY = 32  # files written between two looks at the folder's size

Arguments = ParamSpec("Arguments")


class Entry(NamedTuple):
    """A kept shape, and a text that belongs to it."""

    shape: Shape
    note: str = ""


_memory: OrderedDict[str, Entry] = OrderedDict()
_lock = threading.Lock()
_written = 0


def stored(maker: Callable[Arguments, Shape]) -> Callable[Arguments, Shape]:
    """Decorate a function that makes a shape from plain data, so that equal arguments make it once.

    The key is made of the function's full name, its arguments with defaults filled in, the text of the
    modules it rests on, KERNEL_VERSION and the versions of the libraries. Those modules are the function's
    own, this kernel, and all in the same part of the package (for ``layout3d.parts.forms.wood`` all of
    ``layout3d.parts``); what it draws on elsewhere must come in as an argument. The function must be pure:
    same arguments, same shape.

    Arguments are None, bool, int, float, str, bytes, enum members, frozen dataclasses, and tuples of these.
    Entries are files ``<key>.npz`` in :func:`cache_folder`, each written whole or not at all. One that cannot
    be read, or does not match its own checksum, is made anew. A folder that cannot be written is left alone.

    Raises
    ------
    TypeError : an argument is not plain data (at the call).
    """
    signature = inspect.signature(maker)

    @functools.wraps(maker)
    def kept(*args: Arguments.args, **kwargs: Arguments.kwargs) -> Shape:
        bound = signature.bind(*args, **kwargs)
        bound.apply_defaults()
        name = f"{maker.__module__}.{maker.__qualname__}"
        given = _plain(tuple(bound.arguments.items()), name)
        key = hashlib.sha256(f"{ground(maker.__module__)} {name} {given}".encode()).hexdigest()
        entry = _kept(key, lambda: Entry(maker(*args, **kwargs)))
        assert entry is not None, "a maker of shapes makes one (stored)"
        return entry.shape

    return kept


def stored_result(what: str, solids: Sequence[Solid], make: Callable[[], Shape | None]) -> Shape | None:
    """Return what an operation makes of solids, kept like a stored shape under them and where they stand.

    Parameters
    ----------
    what : the operation's name, part of the key
    solids : its operands, in order
    make : does it; None (nothing is left) is not kept
    """
    digest = hashlib.sha256(f"{ground(__name__)} {what}".encode())
    for solid in solids:
        digest.update(solid.shape.key.encode())
        digest.update(solid.placement.rotation.tobytes() + solid.placement.offset.tobytes())

    def entry() -> Entry | None:
        shape = make()
        return None if shape is None else Entry(shape)

    result = _kept(digest.hexdigest(), entry)
    return None if result is None else result.shape


def stored_reading(content: bytes, how: str, make: Callable[[], tuple[Shape, str]]) -> tuple[Shape, str]:
    """Return the shape that is read from a file's content, and a text about it, both kept under the content.

    Parameters
    ----------
    content : all of the file
    how : every setting of the reading, part of the key
    make : reads it; what it raises is not kept
    """
    digest = hashlib.sha256(f"{ground(__name__)} {how} ".encode())
    digest.update(content)
    entry = _kept(digest.hexdigest(), lambda: Entry(*make()))
    assert entry is not None, "a reader returns a shape or raises (stored_reading)"
    return entry


def _kept(key: str, make: Callable[[], Entry | None]) -> Entry | None:
    """Return the entry under a key: from memory, from its file, or made and kept."""
    entry = _recall(key)
    if entry is not None:
        return entry
    folder = cache_folder()
    entry = _read(folder, key) if folder else None
    if entry is None:
        begin = time.perf_counter()
        entry = make()
        if entry is None:
            return None
        if folder and time.perf_counter() - begin >= WORTH_A_FILE:
            _write(folder, key, entry)
    _remember(key, entry)
    return entry


def cache_folder() -> Path | None:
    """Return where shapes are kept on disk; None where the environment says LAYOUT3D_CACHE=off."""
    wish = os.environ.get("LAYOUT3D_CACHE", "")
    if wish.lower() == "off":
        return None
    if wish:
        return Path(wish).expanduser()
    try:
        home = Path.home()
    except RuntimeError:  # no home is known for this user
        return None
    if sys.platform == "darwin":
        return home / "Library" / "Caches" / "layout3d"
    if sys.platform == "win32":
        return Path(os.environ.get("LOCALAPPDATA") or home / "AppData" / "Local") / "layout3d" / "Cache"
    return Path(os.environ.get("XDG_CACHE_HOME") or home / ".cache") / "layout3d"


def forget() -> None:
    """Drop the shapes kept in memory; files stay."""
    with _lock:
        _memory.clear()


atexit.register(forget)  # what the kernel's library made has to go before the interpreter does


def _plain(value: object, name: str) -> str:
    """Write an argument as text that differs wherever the value or its type does."""
    if isinstance(value, enum.Enum):
        return f"{type(value).__qualname__}.{value.name}"
    if isinstance(value, bytes):
        return f"b{hashlib.sha256(value).hexdigest()}"
    if value is None or isinstance(value, bool | int | str):
        return repr(value)
    if isinstance(value, float):
        return (float(value) + 0.0).hex()
    if isinstance(value, tuple):
        return "(" + ",".join(_plain(item, name) for item in value) + ",)"
    if dataclasses.is_dataclass(value) and not isinstance(value, type) and _frozen(value):
        items = tuple((field.name, getattr(value, field.name)) for field in dataclasses.fields(value))
        return type(value).__qualname__ + _plain(items, name)
    raise TypeError(f"{name}: arguments of a stored shape must be plain data, got {type(value).__name__}")


def _frozen(value: object) -> bool:
    return bool(type(value).__dataclass_params__.frozen)  # type: ignore[attr-defined]  # private to dataclasses


@functools.cache
def ground(module: str) -> str:
    """Return the digest of the code that a stored result of a module rests on: that module, this kernel."""
    digest = hashlib.sha256(f"{KERNEL_VERSION} {np.__version__} {metadata.version('manifold3d')}".encode())
    kernel = Path(__file__).parent
    sources = set(kernel.rglob("*.py"))
    names = module.split(".")
    if names[0] == "layout3d" and len(names) > 2:
        sources |= set((kernel.parent / names[1]).rglob("*.py"))
    own = getattr(sys.modules.get(module), "__file__", None)
    if own:
        sources.add(Path(own))
    for source in sorted(sources):
        digest.update(source.name.encode() + source.read_bytes())
    return digest.hexdigest()


def _recall(key: str) -> Entry | None:
    with _lock:
        if key in _memory:
            _memory.move_to_end(key)
            return _memory[key]
    return None


def _remember(key: str, entry: Entry) -> None:
    with _lock:
        _memory[key] = entry
        total = sum(_bytes(kept.shape) for kept in _memory.values())
        while total > MEMORY_LIMIT and len(_memory) > 1:
            total -= _bytes(_memory.popitem(last=False)[1].shape)


def _bytes(shape: Shape) -> int:
    return int(shape.vertices.nbytes + shape.faces.nbytes)


def _read(folder: Path, key: str) -> Entry | None:
    path = folder / f"{key}.npz"
    try:
        with path.open("rb") as file, np.load(file, allow_pickle=False) as entry:
            shape = Shape.trusted(entry["vertices"], entry["faces"])
            note = str(entry["note"])
            if str(entry["key"]) != shape.key + hashlib.sha256(note.encode()).hexdigest():
                return None
    except (OSError, ValueError, KeyError, EOFError, zipfile.BadZipFile):
        return None  # missing or damaged: it is made anew and written over
    try:
        os.utime(path)  # what is used stays longest
    except OSError:
        return Entry(shape, note)
    return Entry(shape, note)


def _write(folder: Path, key: str, kept: Entry) -> None:
    global _written
    shape, note = kept
    checksum = shape.key + hashlib.sha256(note.encode()).hexdigest()
    try:
        folder.mkdir(parents=True, exist_ok=True)
        handle, name = tempfile.mkstemp(prefix="part-", suffix=".tmp", dir=folder)
        partial = Path(name)
        try:
            with os.fdopen(handle, "wb") as file:
                np.savez(
                    file,
                    vertices=shape.vertices,
                    faces=shape.faces,
                    note=np.array(note),
                    key=np.array(checksum),
                )
            partial.replace(folder / f"{key}.npz")
        finally:
            partial.unlink(missing_ok=True)
        if _written % PRUNE_EVERY == 0:
            _prune(folder)
        _written += 1
    except OSError:
        return  # full or read-only: the shape is made again next time, nothing is lost


def _prune(folder: Path) -> None:
    """Delete the entries unused for longest until the folder is under its limit."""
    found = []
    for path in [*folder.glob("*.npz"), *folder.glob("part-*.tmp")]:
        try:
            facts = path.stat()
        except FileNotFoundError:  # another run pruned it
            continue
        abandoned = path.suffix == ".tmp" and time.time() - facts.st_mtime > 3600.0
        if abandoned:
            path.unlink(missing_ok=True)
        elif path.suffix == ".npz":
            found.append((facts.st_mtime, facts.st_size, path))
    total = sum(size for _, size, _ in found)
    for _, size, path in sorted(found):
        if total <= FOLDER_LIMIT:
            break
        path.unlink(missing_ok=True)
        total -= size
