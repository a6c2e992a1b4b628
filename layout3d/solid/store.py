"""Keep shapes that take long to make. How and where is ``keep``'s; here is what a shape is kept under."""

from __future__ import annotations

import functools
import hashlib
import inspect
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any, ParamSpec

import numpy as np

from layout3d.keep import Form, code_of, file_away, kept, key_of, recalled
from layout3d.plain import form_of
from layout3d.solid.shape import Faces, Points, Shape

__all__ = ["TOLD", "file_shape", "filed_shape", "stored", "stored_reading", "stored_result"]

Arguments = ParamSpec("Arguments")


def _size(shape: Shape) -> int:
    return int(shape.vertices.nbytes + shape.faces.nbytes)


def _read(told: tuple[Points, Faces]) -> Shape:
    """Return a shape; ValueError for corners out of range, which end in a crash of the libraries."""
    vertices, faces = told
    if not np.isfinite(vertices).all() or faces.min() < 0 or faces.max() >= len(vertices):
        raise ValueError("not a shape: a corner that is none")
    return Shape.trusted(vertices, faces)


def _named(told: tuple[Points, Faces, str]) -> Shape:
    """Return a shape that is told with its key, which needn't be computed again."""
    vertices, faces, key = told
    vertices.flags.writeable = faces.flags.writeable = False
    return Shape(vertices, faces, key)


TOLD: dict[type, Any] = {Shape: (lambda shape: (shape.vertices, shape.faces), _read)}
"""How shapes are told as plain data and read again, for ``plain.form_of``."""

SHAPE: Form[Shape] = form_of("shape", size=_size, others=TOLD)
_KEYED: Form[Shape] = form_of(
    "shape by its key",
    size=_size,
    others={Shape: (lambda shape: (shape.vertices, shape.faces, shape.key), _named)},
)
RESULT: Form[tuple[Shape, ...]] = form_of(
    "one shape or none", size=lambda shapes: sum(map(_size, shapes)), others=TOLD
)
READING: Form[tuple[Shape, str]] = form_of(
    "shape read from a file, and what was done",
    size=lambda read: _size(read[0]) + len(read[1]),
    others=TOLD,
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
