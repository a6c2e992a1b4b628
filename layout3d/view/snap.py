"""Where a part that is dragged holds on: ports, the ground, faces, tops. Boxes alone, and no drawing.

A box is what is told of a thing; of a stone that is round, its face is where it comes out farthest.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from layout3d.view.looks import Heights, Thing

__all__ = ["snapped"]

Floats = NDArray[np.float64]

FLAT = ("equipment", "background", "stand", "sump")  # groups with faces that things are put against
BEAR = ("rock", "wood", "equipment", "substrate")  # groups that things are put on top of


def snapped(
    part: str, offset: Floats, things: Sequence[Thing], ground: Heights, *, reach: float, axes: Sequence[int]
) -> tuple[Floats, str]:
    """Return how far a part goes, held on to what is within reach, and to what in words ('' for nothing).

    Parameters
    ----------
    offset : how far it would go with the hand, (3,) [m]
    reach : from where it is drawn to a port, face or top, [m]
    axes : along which it is held: (2,) where it goes up and down, 0 and 1 over the ground
    """
    own = [thing for thing in things if thing.part == part]
    others = [thing for thing in things if thing.part != part]
    if not own:
        return offset, ""
    ports = np.array([port for thing in own for port in thing.ports.values()]).reshape(-1, 3) + offset
    for thing in others:
        for port in thing.ports.values():
            away = np.array(port) - ports
            near = np.linalg.norm(away, axis=1)
            if len(near) and near.min() <= reach:
                return offset + away[near.argmin()], f"to a port of {thing.part}"
    boxes = np.array([thing.box for thing in own])
    low, high = boxes[:, 0].min(axis=0) + offset, boxes[:, 1].max(axis=0) + offset
    found, words = offset.copy(), []
    for axis in axes:
        ways = [
            (place - side, told)
            for place, told, sides in _places(axis, low, high, others, ground)
            for side in sides
            if abs(place - side) <= reach
        ]
        if ways:
            by, told = min(ways, key=lambda way: abs(way[0]))
            found[axis] += by
            words.append(told)
    return found, ", ".join(words)


def _places(
    axis: int, low: Floats, high: Floats, others: Sequence[Thing], ground: Heights
) -> Iterator[tuple[float, str, tuple[float, ...]]]:
    """Yield places along an axis, what is there, and the sides of the own box that hold on to it."""
    if axis == 2:
        x, y = (low + high)[:2] / 2.0
        yield ground.at(float(x), float(y)), "on the ground", (low[2],)
        for thing in others:
            box = np.array(thing.box)
            if thing.group in BEAR and (low[:2] < box[1, :2]).all() and (high[:2] > box[0, :2]).all():
                yield float(box[1, 2]), f"on {thing.part}", (low[2],)
        return
    ends = (ground.x, ground.y)[axis]
    names = (("left", "right"), ("front", "back"))[axis]
    yield float(ends[0]), f"at the {names[0]}", (low[axis],)
    yield float(ends[-1]), f"at the {names[1]}", (high[axis],)
    rest = [k for k in range(3) if k != axis]
    for thing in others:
        box = np.array(thing.box)
        if thing.group in FLAT and (low[rest] < box[1, rest]).all() and (high[rest] > box[0, rest]).all():
            yield float(box[0, axis]), f"at {thing.part}", (high[axis],)
            yield float(box[1, axis]), f"at {thing.part}", (low[axis],)
