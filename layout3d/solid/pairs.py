"""Figures of pairs of solids, kept in memory and, for the next run, in one file of the user's cache folder.

A pair's figures depend on both shapes and on how one stands to the other, so they stay true wherever the two
stand together, and moving one solid costs only its own pairs.
"""

from __future__ import annotations

import atexit
import contextlib
import hashlib
import sqlite3
import struct
import threading
import zlib
from collections import OrderedDict
from collections.abc import Callable
from pathlib import Path
from typing import TypeAlias

import numpy as np

from layout3d.solid.shape import Placement, Shape
from layout3d.solid.store import cache_folder, ground

__all__ = ["Figures", "PairCache", "pair_cache"]

Figures: TypeAlias = tuple[float, ...]

ROUNDED = 9  # decimals of the relative placement in the key: 1e-9 m and 1e-9 rad
KEPT_PAIRS = 100_000  # in memory
FILED_PAIRS = 200_000  # in the file, some 30 MB; the oldest go first
FILE_NAME = "pairs.sqlite"
BUSY_FOR = 0.5  # another run is writing: wait so long, then do without, [s]


class PairCache:
    """Figures by pair; ``hits`` and ``misses`` count what was asked for.

    The file is only a help: where there is none, or it is damaged, locked or full, pairs are measured again.
    """

    def __init__(self, size: int = KEPT_PAIRS, *, filed: bool = False) -> None:
        self.size = size
        self.filed = filed
        self.hits = 0
        self.misses = 0
        self._kept: OrderedDict[bytes, Figures] = OrderedDict()
        self._unsaved: dict[bytes, Figures] = {}
        self._file: Path | None = None
        self._open: sqlite3.Connection | None = None
        self._barred: Path | None = None
        self._at_end = False
        self._lock = threading.RLock()

    def __len__(self) -> int:
        return len(self._kept)

    def of(
        self, what: str, a: Shape, b: Shape, relative: Placement, measure: Callable[[], Figures]
    ) -> Figures:
        """Return the figures of a pair, measured if they are not known.

        Parameters
        ----------
        what : what is measured
        a, b : the two shapes
        relative : where b stands in a's axes
        measure : measures it
        """
        numbers = np.concatenate([relative.rotation.ravel(), relative.offset]).round(ROUNDED) + 0.0
        digest = hashlib.sha256(f"{what} {a.key} {b.key} ".encode() + numbers.tobytes())
        key = digest.digest()[:16]
        with self._lock:
            figures = self._kept.get(key)
            if figures is None and self.filed:
                figures = self._read(key)
            if figures is not None:
                self.hits += 1
                self._keep(key, figures)
                return figures
            self.misses += 1
        figures = measure()
        with self._lock:
            self._keep(key, figures)
            if self.filed:
                self._save_at_the_end()
                self._unsaved[key] = figures
        return figures

    def clear(self) -> None:
        """Forget what is in memory, saved or not."""
        with self._lock:
            self._kept.clear()
            self._unsaved.clear()
            self.hits = self.misses = 0

    def save(self) -> None:
        """Write what was measured into the file, all of it or none; done by itself when the program ends."""
        with self._lock:
            self._barred = None
            rows = [(_filed_key(key), _packed(figures)) for key, figures in self._unsaved.items()]
            self._unsaved.clear()
            connection = self._connection(make=True) if rows else None
            if connection is None:
                self.close()
                return
            try:
                with connection:
                    connection.execute(
                        "CREATE TABLE IF NOT EXISTS pairs (key BLOB PRIMARY KEY, figures BLOB)"
                    )
                    connection.executemany("INSERT OR REPLACE INTO pairs VALUES (?, ?)", rows)
                    newest = connection.execute("SELECT max(rowid) FROM pairs").fetchone()[0]
                    connection.execute("DELETE FROM pairs WHERE rowid <= ?", (newest - FILED_PAIRS,))
            except sqlite3.Error as fault:
                self._give_up(fault)
            self.close()

    def close(self) -> None:
        """Let go of the file."""
        with self._lock:
            if self._open is not None:
                self._open.close()
            self._open = self._file = None

    def _keep(self, key: bytes, figures: Figures) -> None:
        self._kept[key] = figures
        self._kept.move_to_end(key)
        while len(self._kept) > self.size:
            self._kept.popitem(last=False)

    def _read(self, key: bytes) -> Figures | None:
        connection = self._connection(make=False)
        if connection is None:
            return None
        try:
            row = connection.execute("SELECT figures FROM pairs WHERE key = ?", (_filed_key(key),)).fetchone()
        except sqlite3.Error as fault:
            self._give_up(fault)
            return None
        return _unpacked(row[0]) if row else None

    def _connection(self, *, make: bool) -> sqlite3.Connection | None:
        folder = cache_folder()
        file = folder / FILE_NAME if folder else None
        if file != self._file:
            self.close()
        if file is None or self._open is not None:
            return self._open
        if file == self._barred and not make:
            return None
        try:
            if make:
                file.parent.mkdir(parents=True, exist_ok=True)
            elif not file.is_file():
                return None
            self._open = sqlite3.connect(file, timeout=BUSY_FOR, check_same_thread=False)
        except (OSError, sqlite3.Error):
            return None
        self._file = file
        self._save_at_the_end()
        return self._open

    def _save_at_the_end(self) -> None:
        if not self._at_end:
            atexit.register(self.save)
            self._at_end = True

    def _give_up(self, fault: sqlite3.Error) -> None:
        """Read the file no more; one that is no database any longer is deleted, to be begun anew."""
        file = self._barred = self._file
        self.close()
        if isinstance(fault, sqlite3.OperationalError) or file is None:
            return  # locked, full, read-only, or without its table
        with contextlib.suppress(OSError):
            file.unlink(missing_ok=True)


pair_cache = PairCache(filed=True)


def _filed_key(key: bytes) -> bytes:
    # figures of another version of this kernel are another pair's
    return hashlib.sha256(ground(__name__).encode() + key).digest()[:16]


def _packed(figures: Figures) -> bytes:
    content = struct.pack(f"<{len(figures)}d", *figures)
    return content + struct.pack("<I", zlib.crc32(content))


def _unpacked(packed: object) -> Figures | None:
    if not isinstance(packed, bytes) or len(packed) % 8 != 4:
        return None
    content = packed[:-4]
    if struct.unpack("<I", packed[-4:])[0] != zlib.crc32(content):
        return None
    return struct.unpack(f"<{len(content) // 8}d", content)
