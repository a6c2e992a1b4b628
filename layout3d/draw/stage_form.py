"""How the surfaces and lines of a stage are kept: bytes of plain arrays, and read again only if they fit."""

from __future__ import annotations

import itertools
import json
from dataclasses import fields
from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

from layout3d.draw.pieces import Lines, Piece
from layout3d.keep import Form

__all__ = ["DRAWN", "Drawn"]

Drawn: TypeAlias = tuple[tuple[Piece, ...], tuple[Lines, ...]]

# of each sort of thing: kind of number, and shape behind the first axis
ARRAYS: dict[str, dict[str, tuple[str, tuple[int, ...]]]] = {
    "pieces": {
        "points": ("<f4", (3,)),
        "normals": ("<f4", (3,)),
        "faces": ("<i4", (3,)),
        "colours": ("|u1", (4,)),
    },
    "lines": {"segments": ("<f4", (2, 3))},
}


def _sorts(drawn: Drawn) -> tuple[tuple[Piece | Lines, ...], ...]:
    return drawn


def _packed(drawn: Drawn) -> bytes:
    facts: dict[str, Any] = {}
    content = []
    for (sort, arrays), items in zip(ARRAYS.items(), _sorts(drawn), strict=True):
        facts[sort] = [
            {field.name: getattr(item, field.name) for field in fields(item) if field.name not in arrays}
            | {name: len(getattr(item, name)) for name in arrays}
            for item in items
        ]
        for name, (kind, _) in arrays.items():
            content += [getattr(item, name).astype(kind).tobytes() for item in items]
    head = json.dumps(facts).encode()
    return b"".join([len(head).to_bytes(8, "little"), head, *content])


def _unpacked(content: bytes) -> Drawn:
    """Read what ``_packed`` wrote; ValueError, KeyError or TypeError for anything else."""
    begin = 8 + int.from_bytes(content[:8], "little")
    facts = json.loads(content[8:begin])
    for sort, arrays in ARRAYS.items():
        for name, (kind, shape) in arrays.items():
            counts = [item[name] for item in facts[sort]]
            size = int(np.prod(shape))
            whole = np.frombuffer(content, kind, sum(counts) * size, begin).reshape(-1, *shape)
            begin += whole.nbytes
            for item, part in zip(facts[sort], _split(whole, counts), strict=True):
                item[name] = part
    if begin != len(content):
        raise ValueError("not a stage: its size")
    pieces = tuple(Piece(**item) for item in facts["pieces"])
    if any(
        len(one.faces) and not 0 <= one.faces.min() <= one.faces.max() < len(one.points) for one in pieces
    ):
        raise ValueError("not a stage: a corner that is none")
    return pieces, tuple(Lines(**(item | {"colour": tuple(item["colour"])})) for item in facts["lines"])


def _split(whole: NDArray[Any], counts: list[int]) -> list[NDArray[Any]]:
    ends = [0, *itertools.accumulate(counts)]
    # copies, for the drawing library wants arrays that can be written to
    return [whole[low:high].copy() for low, high in itertools.pairwise(ends)]


def _size(drawn: Drawn) -> int:
    return sum(
        getattr(item, name).nbytes
        for kind, items in zip(ARRAYS.values(), _sorts(drawn), strict=True)
        for item in items
        for name in kind
    )


DRAWN: Form[Drawn] = Form("stage", _packed, _unpacked, _size)
