"""Where part labels go: in a column on either side, no two over each other, leaders that do not cross.

Pure and deterministic. Works in pixels, y down. Text is measured by the caller.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

__all__ = ["Box", "Label", "Wanted", "crossing", "place_labels"]

Box = tuple[float, float, float, float]
"""Left, top, right, bottom, pixels."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """A label asked for: its text's size, the point it tells of, and its weight (the heaviest are kept)."""

    part: str
    text: str
    width: float
    height: float
    at: tuple[float, float]
    weight: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Label:
    """A label in its place; its leader runs from ``stub`` over ``knee`` to ``at``."""

    part: str
    text: str
    box: Box
    stub: tuple[float, float]
    knee: tuple[float, float]
    at: tuple[float, float]


def place_labels(
    wanted: Sequence[Wanted], *, area: Box, gap: float, knee: float
) -> tuple[tuple[Label, ...], tuple[str, ...]]:
    """Place labels in the columns left and right of what is drawn.

    Parameters
    ----------
    wanted : in any order
    area : left, top, right, bottom of the page that labels may use; texts stand against its sides
    gap : least distance between two texts, pixels
    knee : how far a leader runs level before it turns to its point, pixels

    Returns
    -------
    Labels from the top of the left column down, then of the right one; and the parts that found no room.

    Notes
    -----
    The points are parted into a left and a right half by their x, so leaders of the two columns lie in
    different halves. Within a column two labels change places as long as that undoes a crossing; each such
    change shortens the leaders, so it ends.
    """
    left, top, right, bottom = area
    tallest = max((w.height for w in wanted), default=0.0) + gap
    room = int((bottom - top + gap) // tallest) if tallest > 0.0 else 0
    kept = sorted(wanted, key=lambda w: (-w.weight, w.part))[: 2 * room]
    dropped = tuple(sorted({w.part for w in wanted} - {w.part for w in kept}))
    across = sorted(kept, key=lambda w: (w.at[0], w.at[1], w.part))
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
    ordered = sorted(own, key=lambda w: (w.at[1], w.at[0], w.part))
    labels = _settled(ordered, side, area, gap, knee)
    for _ in range(len(ordered) ** 2):
        pair = next(
            (
                (i, j)
                for i in range(len(labels))
                for j in range(i + 1, len(labels))
                if crossing(labels[i], labels[j])
            ),
            None,
        )
        if pair is None:
            break
        i, j = pair
        ordered[i], ordered[j] = ordered[j], ordered[i]
        labels = _settled(ordered, side, area, gap, knee)
    return labels


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
            box = (
                (left, y, left + w.width, y + w.height)
                if side == "left"
                else (right - w.width, y, right, y + w.height)
            )
            mid = y + w.height / 2.0
            begin = box[2] + gap if side == "left" else box[0] - gap
            turn = begin + knee if side == "left" else begin - knee
            labels.append(
                Label(part=w.part, text=w.text, box=box, stub=(begin, mid), knee=(turn, mid), at=w.at)
            )
            y += w.height + gap
    # all knees of a column in one line, so that sloping parts of leaders start side by side
    if labels:
        line = max(lb.knee[0] for lb in labels) if side == "left" else min(lb.knee[0] for lb in labels)
        labels = [replace(lb, knee=(line, lb.knee[1])) for lb in labels]
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
