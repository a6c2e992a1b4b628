"""A label on a page: a mark in a balloon, a name, and a leader to what it points to."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from layout3d.sheets.drawing import HEIGHT, Area, Circle, Element, Point, Text, arrow_at, line
from layout3d.sheets.figure import Label
from layout3d.sheets.letters import text_width
from layout3d.sheets.placer import Placer

__all__ = ["SMALL", "lettered", "pointing"]

BALLOON = 3.0
"""Radius of a balloon, [mm]."""
SMALL = 1.8
"""Height of names, [mm]."""

_FAR = (5.0, 8.0, 11.0, 15.0, 20.0, 26.0, 34.0, 46.0, 62.0, 85.0)
_TURNS = tuple(math.radians(15 * k) for k in (3, 9, 21, 15, *(k for k in range(24) if k % 6 and k % 6 != 3)))
_WAYS = np.array([(far * math.cos(turn), far * math.sin(turn)) for far in _FAR for turn in _TURNS])
"""From what a leader points to, to its label, [mm]: never level or upright, as the view's own lines are."""


def pointing(
    label: Label, ends: Sequence[Point], placer: Placer, *, within: Sequence[float]
) -> list[Element]:
    """Return a label whose leader ends at one of ``ends``, ``within`` a box; nothing where no room is."""
    tips = np.repeat(np.array(ends), len(_WAYS), axis=0)
    right = np.tile(_WAYS[:, 0] >= 0.0, len(ends))
    near = tips + np.tile(_WAYS, (len(ends), 1))  # where the label is nearest to what it points to
    sign = np.where(right, 1.0, -1.0)
    name = text_width(label.text, SMALL) if label.text else 0.0
    tall = BALLOON if label.mark else 0.7 * SMALL
    long = (2 * BALLOON if label.mark else 0.0) + name + (0.8 if label.mark and name else 0.0)
    low_x = np.where(right, near[:, 0], near[:, 0] - long) - 0.3
    boxes = np.column_stack([low_x, near[:, 1] - tall - 0.3, low_x + long + 0.6, near[:, 1] + tall + 0.3])
    middles = near + np.column_stack([BALLOON * sign, np.zeros(len(near))])
    starts = near
    if label.mark:
        ways = tips - middles
        starts = middles + BALLOON * ways / np.linalg.norm(ways, axis=1, keepdims=True)
    best = placer.put_label(boxes, np.stack([starts, tips], axis=1), within=within)
    if best is None:
        return []
    (x, y), (tip_x, tip_y), (mid_x, _) = (
        starts[best].tolist(),
        tips[best].tolist(),
        middles[best].tolist(),
    )
    made: list[Element] = [line((x, y), (tip_x, tip_y), layer="labels")]
    if label.edge:
        long = math.dist((x, y), (tip_x, tip_y))
        made.append(arrow_at((tip_x, tip_y), ((tip_x - x) / long, (tip_y - y) / long), layer="labels"))
    else:
        made.append(Area((ring_of((tip_x, tip_y), 0.45),), layer="labels"))
    at_x, at_y = float(near[best, 0]), float(near[best, 1])
    if label.mark:
        made += [
            Area((ring_of((mid_x, at_y), BALLOON),), 1.0, "labels"),
            Circle((mid_x, at_y), 2 * BALLOON, "narrow", "labels"),
            Text((mid_x, at_y - HEIGHT / 2), label.mark, HEIGHT, "middle", layer="labels"),
        ]
        at_x = mid_x + float(sign[best]) * (BALLOON + 0.8)
    if label.text:
        begin = at_x if right[best] else at_x - name
        low, high = (begin - 0.3, at_y - 0.8 * SMALL), (begin + name + 0.3, at_y + 0.8 * SMALL)
        under = (low, (high[0], low[1]), high, (low[0], high[1]))
        text = Text((begin, at_y - SMALL / 2), label.text, SMALL, layer="labels")
        made += [Area((under,), 1.0, "labels"), text]
    return made


def lettered(letter: str, centre: Point, radius: float, placer: Placer) -> list[Element]:
    """Return the letter of a detail, as near to its circle as it is free."""
    for far in (1.5, 3.0, 5.0, 8.0):
        out = radius + far
        turns = (math.radians(30 * k) for k in (1, 5, 7, 11, 2, 4, 8, 10, 0, 3, 6, 9))
        places = ((centre[0] + out * math.cos(t), centre[1] + out * math.sin(t) - HEIGHT / 2) for t in turns)
        for found in placer.put(Text(at, letter, HEIGHT, "middle", layer="detail") for at in places):
            return [Area((found.corners,), 1.0, "detail"), found]
    return []


def ring_of(middle: Sequence[float], radius: float) -> tuple[Point, ...]:
    turns = np.linspace(0.0, 2 * math.pi, 24, endpoint=False)
    return tuple((middle[0] + radius * math.cos(t), middle[1] + radius * math.sin(t)) for t in turns)
