"""Where part labels go: in a column on either side, no two over each other, leaders that do not cross.

Pure and deterministic. Works in pixels, y down. Text is measured by the caller.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

__all__ = ["Box", "Label", "Wanted", "crossing", "place_labels"]

Box = tuple[float, float, float, float]
"""Left, top, right, bottom, pixels."""


_MOST_ROUNDS = 12


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """A label asked for: the parts it names, its text's size, the point it tells of.

    ``weight`` decides which are kept where there is no room for all.
    """

    parts: tuple[str, ...]
    text: str
    width: float
    height: float
    at: tuple[float, float]
    weight: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Label:
    """A label in its place; its leader runs from ``stub`` over ``knee`` to ``at``."""

    parts: tuple[str, ...]
    text: str
    box: Box
    stub: tuple[float, float]
    knee: tuple[float, float]
    at: tuple[float, float]


def place_labels(
    wanted: Sequence[Wanted], *, area: Box, gap: float, knee: float, most: int = 1000
) -> tuple[tuple[Label, ...], tuple[str, ...]]:
    """Place labels in the columns left and right of what is drawn.

    Parameters
    ----------
    wanted : in any order, all of one height
    area : left, top, right, bottom of what is drawn; the columns stand just outside its left and right
    gap : least distance between two texts, pixels
    knee : how far a leader runs level before it turns to its point, pixels
    most : labels at most

    Returns
    -------
    Labels from the top of the left column down, then of the right one; and the parts that found no room.

    Notes
    -----
    The points are parted into a left and a right half by their x, so leaders of the two columns lie in
    different halves. Within a column two labels change places as long as that leaves fewer conflicts: a
    conflict is two leaders that cross, or one that runs over another's point.
    """
    left, top, right, bottom = area
    tallest = max((w.height for w in wanted), default=0.0) + gap
    room = int((bottom - top + gap) // tallest) if tallest > 0.0 else 0
    kept = sorted(wanted, key=lambda w: (-w.weight, w.parts))[: min(2 * room, most)]
    dropped = tuple(sorted({p for w in wanted for p in w.parts} - {p for w in kept for p in w.parts}))
    across = sorted(kept, key=lambda w: (w.at[0], w.at[1], w.parts))
    middle = (left + right) / 2.0
    count = sum(1 for w in across if w.at[0] < middle)
    # neither column over its room, nor much fuller than the other
    share = len(across) // 2
    count = min(max(count, len(across) - room, share - 2), room, len(across) - share + 2)
    placed: list[Label] = []
    for side, own in (("left", across[:count]), ("right", across[count:])):
        placed += _column(own, side=side, area=area, gap=gap, knee=knee)
    return tuple(placed), dropped


def _column(own: Sequence[Wanted], *, side: str, area: Box, gap: float, knee: float) -> list[Label]:
    ordered = sorted(own, key=lambda w: (w.at[1], w.at[0], w.parts))
    labels = _settled(ordered, side, area, gap, knee)
    left = _conflicts(labels, gap)
    for _ in range(_MOST_ROUNDS):
        if not left:
            break
        tried = []
        for i in range(len(ordered)):
            for j in range(i + 1, len(ordered)):
                swapped = list(ordered)
                swapped[i], swapped[j] = swapped[j], swapped[i]
                placed = _settled(swapped, side, area, gap, knee)
                tried.append((_conflicts(placed, gap), _length(placed), i, j, swapped, placed))
        best = min(tried, key=lambda item: item[:4], default=None)
        if best is None or best[0] >= left:
            break
        left, ordered, labels = best[0], best[4], best[5]
    return _uncrossed(labels)


def _uncrossed(labels: list[Label]) -> list[Label]:
    """Undo the crossings left: two labels of one column change places, which shortens their leaders."""
    while pair := next(
        (
            (i, j)
            for i, a in enumerate(labels)
            for j, b in enumerate(labels[i + 1 :], start=i + 1)
            if crossing(a, b)
        ),
        None,
    ):
        i, j = pair
        labels[i], labels[j] = _exchanged(labels[i], labels[j])
    return labels


def _exchanged(a: Label, b: Label) -> tuple[Label, Label]:
    """Return two labels, each where the other stood."""

    def moved(label: Label, there: Label) -> Label:
        shift = there.stub[1] - label.stub[1]
        left, top, right, bottom = label.box
        return replace(
            label,
            box=(left, top + shift, right, bottom + shift),
            stub=(label.stub[0], there.stub[1]),
            knee=(label.knee[0], there.knee[1]),
        )

    return moved(b, a), moved(a, b)


def _conflicts(labels: Sequence[Label], reach: float) -> float:
    """Count crossings, and as a part of one each leader that runs close over another's point."""
    total = 0.0
    for i, a in enumerate(labels):
        for b in labels[i + 1 :]:
            total += crossing(a, b)
            total += 0.25 * (_distance(a.at, b.knee, b.at) < reach)
            total += 0.25 * (_distance(b.at, a.knee, a.at) < reach)
    return total


def _length(labels: Sequence[Label]) -> float:
    return sum(math.dist(label.knee, label.at) for label in labels)


def _distance(p: tuple[float, float], a: tuple[float, float], b: tuple[float, float]) -> float:
    """Return how far a point is from a segment."""
    along = (b[0] - a[0], b[1] - a[1])
    square = along[0] ** 2 + along[1] ** 2
    share = ((p[0] - a[0]) * along[0] + (p[1] - a[1]) * along[1]) / square if square > 0.0 else 0.0
    share = _clamped(share, 0.0, 1.0)
    return math.dist(p, (a[0] + share * along[0], a[1] + share * along[1]))


def _settled(ordered: Sequence[Wanted], side: str, area: Box, gap: float, knee: float) -> list[Label]:
    """Give labels their heights in this order: as near their points as they can be without touching."""
    left, top, right, bottom = area
    # blocks of labels that touch, each at the mean of what its labels want (pool adjacent violators)
    blocks: list[tuple[list[Wanted], float]] = []
    for item in ordered:
        blocks.append(([item], _clamped(item.at[1] - item.height / 2.0, top, bottom - item.height)))
        while len(blocks) > 1 and blocks[-2][1] + _tall(blocks[-2][0], gap) > blocks[-1][1]:
            later, _ = blocks.pop()
            items = blocks.pop()[0] + later
            starts, down = [], 0.0
            for w in items:
                starts.append(w.at[1] - w.height / 2.0 - down)
                down += w.height + gap
            wish = sum(starts) / len(starts)
            blocks.append((items, _clamped(wish, top, bottom - _tall(items, gap) + gap)))
    labels = []
    for items, start in blocks:
        y = start
        for w in items:
            turn, begin = (left, left - knee) if side == "left" else (right, right + knee)
            box = (
                (begin - gap - w.width, y, begin - gap, y + w.height)
                if side == "left"
                else (begin + gap, y, begin + gap + w.width, y + w.height)
            )
            mid = y + w.height / 2.0
            labels.append(
                Label(parts=w.parts, text=w.text, box=box, stub=(begin, mid), knee=(turn, mid), at=w.at)
            )
            y += w.height + gap
    return labels


def _tall(items: Sequence[Wanted], gap: float) -> float:
    return sum(w.height + gap for w in items)


def _clamped(value: float, low: float, high: float) -> float:
    return max(min(value, high), low)


def crossing(a: Label, b: Label) -> bool:
    """Tell whether the leaders of two labels cross."""
    return any(
        _segments_cross(*one, *two)
        for one in ((a.stub, a.knee), (a.knee, a.at))
        for two in ((b.stub, b.knee), (b.knee, b.at))
    )


def _segments_cross(
    a: tuple[float, float], b: tuple[float, float], c: tuple[float, float], d: tuple[float, float]
) -> bool:
    def turn(p: tuple[float, float], q: tuple[float, float], r: tuple[float, float]) -> float:
        return (q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0])

    return turn(a, b, c) * turn(a, b, d) < 0.0 and turn(c, d, a) * turn(c, d, b) < 0.0
