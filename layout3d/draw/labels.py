"""Where part labels go: in a column on either side, no two over each other, leaders that do not cross.

Pure and deterministic. Works in pixels, y down. Text is measured by the caller.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

from layout3d.sheets.spaced import spaced

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
    left, top, right, bottom = area
    turn, begin = (left, left - knee) if side == "left" else (right, right + knee)

    def placed(order: Sequence[Wanted], tops: Sequence[float]) -> list[Label]:
        labels = []
        for w, y in zip(order, tops, strict=True):
            x, mid = begin - gap - w.width if side == "left" else begin + gap, y + w.height / 2.0
            box, ends = (x, y, x + w.width, y + w.height), {"stub": (begin, mid), "knee": (turn, mid)}
            labels.append(Label(parts=w.parts, text=w.text, box=box, at=w.at, **ends))
        return labels

    order = sorted(own, key=lambda w: (w.at[1], w.at[0], w.parts))
    labels = placed(order, _tops(order, top, bottom, gap))
    for _ in range(_MOST_ROUNDS):
        conflicts = _conflicts(labels, gap)
        if not conflicts:
            break
        tried = []
        for i, j in itertools.combinations(range(len(order)), 2):
            swapped = list(order)
            swapped[i], swapped[j] = order[j], order[i]
            there = placed(swapped, _tops(swapped, top, bottom, gap))
            tried.append((_conflicts(there, gap), _length(there), i, j, swapped, there))
        best = min(tried, key=lambda item: item[:4])
        if best[0] >= conflicts:
            break
        order, labels = best[4:]
    # crossings left: two labels change places, which shortens their leaders
    pairs = list(itertools.combinations(range(len(order)), 2))
    while pair := next(((i, j) for i, j in pairs if crossing(labels[i], labels[j])), None):
        i, j = pair
        order[i], order[j] = order[j], order[i]
        labels = placed(order, [label.box[1] for label in labels])
    return labels


def _tops(order: Sequence[Wanted], top: float, bottom: float, gap: float) -> list[float]:
    """Return upper edges of labels in this order: as near their points as they can be without touching.

    All of them are on the page: what one would be beyond its ends is put off to those before or after it.
    """
    if not order:
        return []
    tall = order[0].height
    step = tall + gap
    ends = top, bottom - tall - step * (len(order) - 1)
    there = spaced([w.at[1] - tall / 2.0 for w in order], step)
    return [min(max(y - step * k, ends[0]), ends[1]) + step * k for k, y in enumerate(there)]


def _conflicts(labels: Sequence[Label], reach: float) -> float:
    """Count crossings, and as a part of one each leader that runs close over another's point."""
    total = 0.0
    for a, b in itertools.combinations(labels, 2):
        total += crossing(a, b)
        total += 0.25 * _runs_over(b, a.at, reach)
        total += 0.25 * _runs_over(a, b.at, reach)
    return total


def _length(labels: Sequence[Label]) -> float:
    return sum(math.dist(label.knee, label.at) for label in labels)


def _runs_over(label: Label, point: tuple[float, float], reach: float) -> bool:
    """Tell whether a leader runs nearer to a point than ``reach``."""
    begin, end = label.knee, label.at
    if not min(begin[1], end[1]) - reach < point[1] < max(begin[1], end[1]) + reach:
        return False  # most of a column's points are beside it
    return _distance(point, begin, end) < reach


def _distance(p: tuple[float, float], a: tuple[float, float], b: tuple[float, float]) -> float:
    """Return how far a point is from a segment."""
    along = (b[0] - a[0], b[1] - a[1])
    square = along[0] ** 2 + along[1] ** 2
    share = ((p[0] - a[0]) * along[0] + (p[1] - a[1]) * along[1]) / square if square > 0.0 else 0.0
    share = min(max(share, 0.0), 1.0)
    return math.dist(p, (a[0] + share * along[0], a[1] + share * along[1]))


def crossing(a: Label, b: Label) -> bool:
    """Tell whether the leaders of two labels cross."""
    one, other = ((label.stub[1], label.knee[1], label.at[1]) for label in (a, b))
    if max(one) < min(other) or max(other) < min(one):
        return False  # most of a column's pass by each other
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
