"""How a stage is kept: its surfaces and lines as bytes of plain arrays, and what its page tells beside them.

What is read again is used only if it fits.
"""

from __future__ import annotations

import itertools
import json
from dataclasses import asdict, fields
from typing import Any, TypeAlias

import numpy as np

from layout3d.draw.pieces import Extent, Lines, Piece, Stage, WaterBody
from layout3d.keep import Form, recalled
from layout3d.model.spot import CameraSpot

__all__ = ["DRAWN", "PAGE_FACTS", "STAGE", "Drawn", "page_facts", "page_read"]

PAGE_FACTS = ("extents", "waters", "title", "style", "waterline", "cameras")
"""What a page tells of a stage beside its surfaces."""

Drawn: TypeAlias = tuple[tuple[Piece, ...], tuple[Lines, ...]]

# of each sort of thing: kind of number, and shape behind the first axis; each takes a multiple of four bytes
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
    head += b" " * (-len(head) % 8)  # so that the arrays behind it begin where their numbers may
    return b"".join([len(head).to_bytes(8, "little"), head, *content])


def _unpacked(content: bytes) -> Drawn:
    """Read what ``_packed`` wrote; ValueError, KeyError or TypeError for anything else."""
    begin = 8 + int.from_bytes(content[:8], "little")
    facts = json.loads(content[8:begin])
    held = bytearray(content)  # one copy, for the drawing library wants arrays that can be written to
    for sort, arrays in ARRAYS.items():
        for name, (kind, shape) in arrays.items():
            counts = [item[name] for item in facts[sort]]
            size = int(np.prod(shape))
            whole = np.frombuffer(held, kind, sum(counts) * size, begin).reshape(-1, *shape)
            begin += whole.nbytes
            for item, (low, high) in zip(
                facts[sort], itertools.pairwise([0, *itertools.accumulate(counts)]), strict=True
            ):
                item[name] = whole[low:high]
    if begin != len(content):
        raise ValueError("not a stage: its size")
    pieces = tuple(Piece(**_plain(item)) for item in facts["pieces"])
    if any(
        len(one.faces) and not 0 <= one.faces.min() <= one.faces.max() < len(one.points) for one in pieces
    ):
        raise ValueError("not a stage: a corner that is none")
    return pieces, tuple(Lines(**(item | {"colour": tuple(item["colour"])})) for item in facts["lines"])


def _size(drawn: Drawn) -> int:
    return sum(
        getattr(item, name).nbytes
        for kind, items in zip(ARRAYS.values(), _sorts(drawn), strict=True)
        for item in items
        for name in kind
    )


DRAWN: Form[Drawn] = Form("stage", _packed, _unpacked, _size)


def page_facts(of: Any) -> dict[str, Any]:
    """Return the fields ``PAGE_FACTS`` of a stage as plain data."""
    facts = {name: getattr(of, name) for name in PAGE_FACTS}
    facts |= {name: [asdict(one) for one in facts[name]] for name in ("extents", "waters")}
    return facts | {"cameras": {name: asdict(spot) for name, spot in of.cameras.items()}}


def page_read(facts: dict[str, Any]) -> dict[str, Any]:
    """Return facts with the fields that ``page_facts`` told as a stage has them."""
    waters = (
        water | {"plan": np.array(water["plan"]), "without": tuple(map(np.array, water["without"]))}
        for water in facts["waters"]
    )
    return facts | {
        "extents": tuple(Extent(**_plain(extent)) for extent in facts["extents"]),
        "waters": tuple(WaterBody(**water) for water in waters),
        "cameras": {name: CameraSpot(**_plain(spot)) for name, spot in facts["cameras"].items()},
    }


def _stage_packed(stage: Stage) -> bytes:
    """Write all of a stage but its bodies; surfaces and lines are kept once, under what they are made of."""
    facts = page_facts(stage) | {"made_of": stage.made_of}
    return json.dumps(facts, default=np.ndarray.tolist).encode()


def _stage_unpacked(content: bytes) -> Stage:
    facts = json.loads(content)
    drawn = recalled(bytes.fromhex(facts["made_of"]), DRAWN)
    if drawn is None:
        raise ValueError("a stage without its surfaces")
    pieces, lines = drawn
    return Stage(pieces=pieces, lines=lines, bodies=None, **page_read(facts))


def _plain(fact: dict[str, Any]) -> dict[str, Any]:
    return {name: tuple(value) if isinstance(value, list) else value for name, value in fact.items()}


STAGE: Form[Stage] = Form(
    "stage and its page", _stage_packed, _stage_unpacked, lambda stage: 1000 * len(stage.extents)
)
