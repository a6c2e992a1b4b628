"""Named points of a part, to be measured from and to: its ports and anchors, and its box. No drawing."""

from __future__ import annotations

import itertools
from collections.abc import Sequence

import numpy as np

from layout3d.parts.base import Vector, vector
from layout3d.view.looks import Thing

__all__ = ["points_of"]

_ENDS = (("left", "right"), ("front", "back"), ("bottom", "top"))


def points_of(part: str, things: Sequence[Thing]) -> tuple[tuple[str, Vector], ...]:
    """Return a part's points with what they are, [m]: () where it has no bodies.

    First its ports and anchors, by name; then of the box around it the middle, the middles of its six sides
    and its eight corners.
    """
    own = [thing for thing in things if thing.part == part]
    if not own:
        return ()
    named = {name: at for thing in own for name, at in {**thing.ports, **thing.anchors}.items()}
    boxes = np.array([thing.box for thing in own])
    places = np.array([boxes[:, 0].min(axis=0), boxes[:, 1].max(axis=0)])
    places = np.stack([places[0], places.mean(axis=0), places[1]])
    found: dict[int, list[tuple[str, Vector]]] = {0: [], 1: [], 3: []}
    for sides in itertools.product((1, 0, 2), repeat=3):
        words = [_ENDS[axis][side // 2] for axis, side in enumerate(sides) if side != 1]
        if len(words) in found:
            told = ("middle of its box", "its box, middle of the ", "", "corner of its box, ")[len(words)]
            at = vector(places[list(sides), range(3)])
            found[len(words)].append((told + " ".join(words), at))
    return (*named.items(), *found[0], *found[1], *found[3])
