"""Keep shapes that take long to make. How and where is ``keep``'s; here is what a shape is kept under."""

from __future__ import annotations

import functools
import hashlib
import inspect
import struct
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import ParamSpec

import numpy as np

from layout3d.keep import Form, code_of, file_away, kept, key_of, recalled
from layout3d.solid.shape import Faces, Points, Shape

__all__ = ["READING", "SHAPE", "file_shape", "filed_shape", "stored", "stored_reading", "stored_result"]

Arguments = ParamSpec("Arguments")
KEY = 32  # of a shape's key, [bytes]


def _packed(shape: Shape) -> bytes:
    head = struct.pack("<2Q", len(shape.vertices), len(shape.faces))
    return head + shape.vertices.astype("<f8").tobytes() + shape.faces.astype("<i4").tobytes()


def _unpacked(content: bytes) -> Shape:
    return Shape.trusted(*_arrays(content))


def _arrays(content: bytes) -> tuple[Points, Faces]:
    """Read vertices and faces of a shape; ValueError for bytes that are none."""
    points, corners = struct.unpack_from("<2Q", content) if len(content) >= 16 else (0, 0)
    if not points or not corners or len(content) != 16 + 24 * points + 12 * corners:
        raise ValueError("not a shape: its size")
    vertices = np.frombuffer(content, "<f8", 3 * points, 16)
    faces = np.frombuffer(content, "<i4", 3 * corners, 16 + 24 * points)
    if not np.isfinite(vertices).all() or faces.min() < 0 or faces.max() >= points:
        raise ValueError("not a shape: a corner that is none")
    return vertices.reshape(-1, 3), faces.reshape(-1, 3)


def _size(shape: Shape) -> int:
    return int(shape.vertices.nbytes + shape.faces.nbytes)


def _read(content: bytes) -> tuple[Shape, str]:
    size = int.from_bytes(content[:8], "little")
    return _unpacked(content[8 + size :]), content[8 : 8 + size].decode()


SHAPE: Form[Shape] = Form("shape", _packed, _unpacked, _size)
_KEYED: Form[Shape] = Form(
    "shape by its key",
    lambda shape: shape.key.encode() + _packed(shape),
    lambda content: Shape(*_arrays(content[KEY:]), content[:KEY].decode()),
    _size,
)
RESULT: Form[tuple[Shape, ...]] = Form(
    "one shape or none",
    lambda shapes: _packed(shapes[0]) if shapes else b"",
    lambda content: (_unpacked(content),) if content else (),
    lambda shapes: sum(_size(shape) for shape in shapes),
)
READING: Form[tuple[Shape, str]] = Form(
    "shape read from a file, and what was done",
    lambda read: len(read[1].encode()).to_bytes(8, "little") + read[1].encode() + _packed(read[0]),
    _read,
    lambda read: _size(read[0]) + len(read[1]),
)


def stored(maker: Callable[Arguments, Shape]) -> Callable[Arguments, Shape]:
    """Decorate a function that makes a shape from plain data, so that equal arguments make it once.

    The shape is kept under the function's full name, its arguments with defaults filled in, and the code it
    rests on: the function's own module, this kernel, and all in the same part of the package (for
    ``layout3d.parts.forms.wood`` all of ``layout3d.parts``); what it draws on elsewhere must come in as an
    argument. The function must be pure: same arguments, same shape.

    Raises
    ------
    TypeError : an argument is not plain data (at the call).
    """
    signature = inspect.signature(maker)
    name = f"{maker.__module__}.{maker.__qualname__}"

    @functools.wraps(maker)
    def recalled(*args: Arguments.args, **kwargs: Arguments.kwargs) -> Shape:
        bound = signature.bind(*args, **kwargs)
        bound.apply_defaults()
        key = key_of(name, _code(maker.__module__), tuple(bound.arguments.items()))
        return kept(key, SHAPE, lambda: maker(*args, **kwargs))

    return recalled


def stored_result(what: str, operands: Sequence[object], make: Callable[[], Shape | None]) -> Shape | None:
    """Return what an operation makes of solids, kept under them and where they stand.

    Parameters
    ----------
    what : the operation's name
    operands : in order: solids, or what tells all of them that the operation hangs on (``keep.key_of``)
    make : does it; None where nothing is left
    """

    def made() -> tuple[Shape, ...]:
        shape = make()
        return () if shape is None else (shape,)

    shapes = kept(key_of(what, code_of("solid"), tuple(operands)), RESULT, made)
    return shapes[0] if shapes else None


def stored_reading(content: bytes, how: str, make: Callable[[], tuple[Shape, str]]) -> tuple[Shape, str]:
    """Return the shape that is read from a file's content, and a text about it, both kept under the content.

    Parameters
    ----------
    content : all of the file
    how : every setting of the reading
    make : reads it; what it raises is not kept
    """
    return kept(key_of(how, code_of("solid"), content), READING, make)


def file_shape(shape: Shape) -> None:
    """File a shape under its own key, if it isn't yet, for what names it."""
    file_away(key_of("shape", shape.key), _KEYED, shape, once=True)


def filed_shape(key: str) -> Shape | None:
    """Return the shape that is filed under its own key; None where there is none."""
    found = recalled(key_of("shape", key), _KEYED)
    return found if found is not None and found.key == key else None


@functools.cache
def _code(module: str) -> str:
    """Return the digest of the code that a shape made in a module rests on."""
    names = module.split(".")
    if names[0] == "layout3d" and len(names) > 2:
        return code_of("solid", names[1])
    own = getattr(sys.modules.get(module), "__file__", None)
    return code_of("solid") + (hashlib.sha256(Path(own).read_bytes()).hexdigest() if own else "")
