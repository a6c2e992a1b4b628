"""The exploded view along the build order: parts stand apart in columns, then come in step by step.

Each comes in the way that was found for it, over the rim or past what it goes by; the way there from its
column is a move of the picture, and no claim about the hands that do it.
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from layout3d.draw.camera import Camera, direction_of
from layout3d.film.frame import HOLD, Frame, Setting, corners_of, eased, sequence_kind
from layout3d.model.model import Model
from layout3d.parts.base import Body, vector
from layout3d.shop.order import build_order
from layout3d.shop.step import Step, worked_on

Floats = NDArray[np.float64]

STANDING = ("drill", "temper", "bond", "bond_sump", "dry")
"""Steps whose parts come in by a later one."""
BESIDE = ("bulkhead", "pump", "equipment", "tube")
"""Steps whose parts have nothing to do with each other: they are drawn side by side."""
OVERLAP = 2.0  # how many steps move at a time
COLUMNS = 5  # at most
GAP = 0.06  # between what stands apart, of the scene's longest side
TIGHT = (1.0, 0.85, 0.7)  # how near rows stand over each other: of their heights
SMOOTH = 0.06  # of the sequence's length: over so much the camera's way is made even, both ways
ALL = "all parts, in the order of building"
CLEAR = 0.05  # of a part over the rim that it passes, [m]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Row:
    """What one step puts in. ``place`` is the step's in the order; ``aside`` moves bodies into their row."""

    place: int
    names: tuple[str, ...]
    aside: Mapping[str, float]
    low: Floats
    high: Floats

    @property
    def size(self) -> Floats:
        return self.high - self.low


@sequence_kind("exploded", count=168)
def exploded(setting: Setting) -> tuple[Frame, ...]:
    """Return frames from all apart to all in place; the first, with names, and the last are held."""
    model = setting.model
    order = build_order(model).steps
    axes = _page_axes()
    rows = _rows(model, order, axes)
    apart = _apart(setting, rows, axes)
    outs = {name: _way_out(model, model.body(name), order[row.place]) for row in rows for name in row.names}
    shares = setting.shares()
    boxes = {body.name: body.solid.bounds for body in model.bodies}
    frames, wanted = [], []
    for number, share in enumerate(shares):
        done = share * (len(rows) - 1.0 + OVERLAP) if number else 0.0
        moved = {}
        for rank, row in enumerate(rows):
            through = (done - rank) / OVERLAP
            for name in row.names if through < 1.0 else ():
                moved[name] = _on_its_way(apart[name], outs[name], through)
        now = rows[min(int(done), len(rows) - 1)].place if rows else None
        points = corners_of([box + moved.get(name, np.zeros(3)) for name, box in boxes.items()])
        wanted.append(setting.camera(points))
        frames.append(
            Frame(
                camera=wanted[-1],
                moved=tuple((name, vector(way)) for name, way in moved.items()),
                apart=tuple((name, vector(way)) for name, way in apart.items()) if moved else (),
                joined=eased(share) if number else 0.0,
                named=bool(moved) and number == 0,
                waters=(),
                caption=f"{order[now].number}. {order[now].does}" if now is not None and number else ALL,
                seconds=HOLD if number in (0, len(shares) - 1) else 0.0,
            )
        )
    return tuple(replace(frame, camera=camera) for frame, camera in zip(frames, _even(wanted), strict=True))


def _page_axes() -> Floats:
    """Return the directions in the scene that lead right and up on the picture, (2, 3)."""
    towards = direction_of("three_quarter")
    right = np.cross([0.0, 0.0, 1.0], towards)
    right /= np.linalg.norm(right)
    return np.array([right, np.cross(towards, right)])


def _rows(model: Model, order: Sequence[Step], axes: Floats) -> list[_Row]:
    """Return what each step puts in for good, in order."""
    gap = GAP * _longest(model)
    found: set[str] = set()
    rows = []
    for place, step in enumerate(order):
        names = [] if step.label in STANDING else [n for n in worked_on(model, step) if n not in found]
        if not names:
            continue
        found.update(names)
        seen = {name: corners_of([model.body(name).solid.bounds]) @ axes.T for name in names}
        aside = dict.fromkeys(names, 0.0)
        if step.label in BESIDE:
            parts: dict[str, list[str]] = {}
            for name in names:
                body = model.body(name)
                parts.setdefault(name if body.kind == "bulkhead" else body.part, []).append(name)
            at = 0.0
            for own in parts.values():
                corners = np.concatenate([seen[name] for name in own])
                low = corners.min(axis=0)
                for name in own:
                    aside[name] = at - low[0]
                    seen[name] = seen[name] + np.array([aside[name], 0.0])
                at += float(np.ptp(corners[:, 0])) + gap
        corners = np.concatenate(list(seen.values()))
        rows.append(
            _Row(
                place=place,
                names=tuple(names),
                aside=aside,
                low=corners.min(axis=0),
                high=corners.max(axis=0),
            )
        )
    return rows


def _apart(setting: Setting, rows: Sequence[_Row], axes: Floats) -> dict[str, Floats]:
    """Return how far each body stands out of its place, so that all together fill the picture.

    Rows stand over each other in columns, in the order of building, from the left column's foot on. Of all
    ways to part them into columns that one is taken on which they are largest. The first row stays where it
    is.
    """
    if not rows:
        return {}
    wide, high = setting.size
    room = np.array([wide, high * (1.0 - setting.foot)])
    gap = GAP * _longest(setting.model)
    best = max(
        (
            (_scale(rows, ends, tight, gap, room) * tight**0.5, tight, ends)
            for count in range(1, min(COLUMNS, len(rows)) + 1)
            for ends in itertools.combinations(range(1, len(rows)), count - 1)
            for tight in TIGHT
        ),
        key=lambda tried: tried[0],
    )
    columns = _columns(rows, best[2])
    tallest = max(_height(own, best[1], gap) for own in columns)
    ways: dict[str, Floats] = {}
    left = 0.0
    for own in columns:
        width = max(row.size[0] for row in own)
        # a shorter column is drawn out to the height of the tallest
        more = (tallest - _height(own, best[1], gap)) / max(len(own) - 1, 1)
        foot = 0.0 if len(own) > 1 else more / 2.0
        for row in own:
            centre = left + width / 2.0 - (row.low[0] + row.high[0]) / 2.0
            lift = (foot - row.low[1]) / axes[1, 2]
            for name in row.names:
                ways[name] = axes[0] * (centre + row.aside[name]) + np.array([0.0, 0.0, lift])
            foot += row.size[1] * best[1] + gap + more
        left += width + gap
    stays = ways[rows[0].names[0]].copy()
    return {name: way - stays for name, way in ways.items()}


def _columns(rows: Sequence[_Row], ends: Sequence[int]) -> list[Sequence[_Row]]:
    return [rows[a:b] for a, b in itertools.pairwise([0, *ends, len(rows)])]


def _height(own: Sequence[_Row], tight: float, gap: float) -> float:
    below = sum(float(row.size[1]) * tight + gap for row in own[:-1])
    return below + float(own[-1].size[1])


def _scale(rows: Sequence[_Row], ends: Sequence[int], tight: float, gap: float, room: Floats) -> float:
    """Return how large rows are in columns that fill a room: pixels to a metre."""
    columns = _columns(rows, ends)
    wide = sum(max(float(row.size[0]) for row in own) + gap for own in columns) - gap
    return float(min(room[0] / wide, room[1] / max(_height(own, tight, gap) for own in columns)))


def _way_out(model: Model, body: Body, step: Step) -> Floats:
    """Return where a body is when it has left the scene by the way that the order found, (3,), [m].

    Straight up out of the tank, and to the front out of the sump, where that was by hand.
    """
    pull = step.pulls.get(body.name)
    if pull is not None and pull.reach == np.inf:
        axis, sign = pull.out
    elif body.where == "sump":
        axis, sign = 1, -1
    else:
        axis, sign = (2, 1) if body.where == "tank" or pull is None else pull.out
    low, high = body.solid.bounds[:, axis]
    ends = corners_of([one.solid.bounds for one in model.bodies])[:, axis]
    rim = model.tank.height if axis == 2 else float(ends.max())
    far = (rim - low if sign > 0 else high - float(ends.min())) + CLEAR
    way = np.zeros(3)
    way[axis] = sign * max(far, CLEAR)
    return way


def _on_its_way(apart: Floats, out: Floats, through: float) -> Floats:
    """Return how far a body is out of its place, ``through`` of its way: up, across, then in."""
    lift = np.array([0.0, 0.0, apart[2]])
    up, across, home = (
        eased((through - begin) / long) for begin, long in ((0, 0.4), (0.15, 0.45), (0.55, 0.45))
    )
    return np.asarray(lift * (1.0 - up) + (apart - lift) * (1.0 - across) + out * (up - home))


def _even(cameras: Sequence[Camera]) -> list[Camera]:
    """Return the cameras on an even way: each in the middle of those before and after it."""
    reach = round(SMOOTH * len(cameras))
    found = []
    for number, camera in enumerate(cameras):
        near = min(reach, number, len(cameras) - 1 - number)
        around = cameras[number - near : number + near + 1]
        at, focal = (np.mean([getattr(one, of) for one in around], axis=0) for of in ("position", "focal"))
        found.append(replace(camera, position=vector(at), focal=vector(focal)))
    return found


def _longest(model: Model) -> float:
    corners = corners_of([body.solid.bounds for body in model.bodies])
    return float(np.ptp(corners, axis=0).max())
