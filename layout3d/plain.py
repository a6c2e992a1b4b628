"""Forms of kept results that are frozen data: written by their own fields, and read again as they were.

Texts, figures, tuples, mappings by text, sets of texts, arrays, and the dataclasses that a form is given.
"""

from __future__ import annotations

import dataclasses
import json
from collections.abc import Callable, Mapping
from typing import Any

from layout3d.keep import Form

__all__ = ["form_of"]

_WHAT = ""
"""Key under which stands what a mapping in the bytes is, where it is none of the value's own."""
_ALIGNED = 8  # arrays begin at a multiple of this, so that they may be used where they lie, [bytes]


def form_of(
    name: str,
    *kinds: type,
    size: Callable[[Any], int],
    others: Mapping[type, tuple[Callable[[Any], object], Callable[[Any], Any]]] | None = None,
) -> Form[Any]:
    """Return the form of a result.

    Parameters
    ----------
    kinds : the dataclasses that it may hold
    size : what a result takes in memory, [bytes]
    others : for types that are not written by their fields, what tells them as plain data and what reads that
    """
    tells = {kind: tell for kind, (tell, _) in (others or {}).items()}
    reads = {kind.__name__: read for kind, (_, read) in (others or {}).items()}
    known = {kind.__name__: kind for kind in kinds}

    def pack(value: object) -> bytes:
        arrays: list[bytes] = []

        def told(one: Any) -> object:
            kind = type(one)
            if isinstance(one, tuple | list):
                return [*map(told, one)]
            if kind in tells:
                return {_WHAT: kind.__name__, "of": told(tells[kind](one))}
            if kind.__name__ in known:
                names = (field.name for field in dataclasses.fields(kind))
                return {_WHAT: kind.__name__} | {name: told(getattr(one, name)) for name in names}
            if isinstance(one, frozenset):
                return {_WHAT: "set", "of": sorted(one)}
            if isinstance(one, Mapping):
                return {key: told(item) for key, item in one.items()}
            if hasattr(one, "tobytes"):
                content = one.tobytes()
                arrays.append(content + bytes(-len(content) % _ALIGNED))
                return {_WHAT: "array", "kind": one.dtype.str, "shape": one.shape}
            return one

        head = json.dumps(told(value)).encode()
        head += b" " * (-len(head) % _ALIGNED)
        return b"".join([len(head).to_bytes(_ALIGNED, "little"), head, *arrays])

    def unpack(content: bytes) -> Any:
        """Read what ``pack`` wrote; ValueError, KeyError or TypeError for anything else."""
        begin = _ALIGNED + int.from_bytes(content[:_ALIGNED], "little")
        held = bytearray(content)  # one copy: some libraries want arrays that can be written to

        def array(kind: str, shape: tuple[int, ...]) -> Any:
            nonlocal begin
            import numpy as np

            count = int(np.prod(shape))
            found = np.frombuffer(held, kind, count, begin).reshape(shape)
            begin += found.nbytes + -found.nbytes % _ALIGNED
            return found

        def read(one: Any) -> Any:
            if isinstance(one, list):
                return tuple(map(read, one))
            if not isinstance(one, dict):
                return one
            what = one.pop(_WHAT, None)
            facts = {key: read(item) for key, item in one.items()}
            if what is None:
                return facts
            if what == "array":
                return array(**facts)
            return (
                frozenset(facts["of"])
                if what == "set"
                else (reads[what](facts["of"]) if what in reads else known[what](**facts))
            )

        value = read(json.loads(content[_ALIGNED:begin]))
        if begin != len(content):
            raise ValueError(f"no {name}: its size")
        return value

    return Form(name, pack, unpack, size)
