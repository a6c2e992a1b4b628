"""The exploded view along the build order: parts come in step by step, each the way that was found for it."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from layout3d.film.frame import HOLD, Frame, Setting, box_corners, eased
from layout3d.film.registry import sequence_kind
from layout3d.model.model import Model
from layout3d.parts.base import Body, Vector, vector
from layout3d.shop.order import build_order
from layout3d.shop.step import Step, worked_on

__all__ = ["exploded"]

SPREAD = 0.18  # how far a step's parts are from those of the one before, of the scene's longest side
WIDEST = 0.9  # how far the last are from the first, of the same, at most
STANDING = ("drill", "temper", "bond", "bond_sump", "dry", "tank")
"""Steps whose parts stay where they are, or come in by a later one."""
OVERLAP = 2.0  # how many steps move at a time


@sequence_kind("exploded", "all parts drawn apart, then put together in the order of building", count=168)
def exploded(setting: Setting) -> tuple[Frame, ...]:
    """Return frames from all apart to all in place; the first and the last are held."""
    model = setting.model
    order = build_order(model).steps
    ways = _ways(model, order)
    moving = list(dict.fromkeys(place for place, _ in ways.values()))
    rank = {place: number for number, place in enumerate(sorted(moving))}
    corners = box_corners(model)
    spread = np.concatenate([corners, *(_moved_box(model, name, way) for name, (_, way) in ways.items())])
    camera = setting.camera(spread)
    shares = setting.shares()
    frames = []
    for number, share in enumerate(shares):
        done = share * (len(rank) - 1.0 + OVERLAP)
        moved = []
        for name, (place, way) in ways.items():
            left = 1.0 - eased((done - rank[place]) / OVERLAP)
            if left > 0.0:
                moved.append((name, vector(np.array(way) * left)))
        now = sorted(rank, key=lambda place: rank[place])[min(int(done), len(rank) - 1)] if rank else 0
        ends = number in (0, len(shares) - 1)
        frames.append(
            Frame(
                camera=camera,
                moved=tuple(moved),
                waters=(),
                caption=f"{order[now].number}. {order[now].does}" if rank else "",
                seconds=HOLD if ends else 0.0,
            )
        )
    return tuple(frames)


def _ways(model: Model, order: tuple[Step, ...]) -> Mapping[str, tuple[int, Vector]]:
    """Return, for each body that comes in, its step's place in the order and how far out it is drawn.

    It goes out the way that the order found; straight up out of the tank, and to the front out of the sump,
    where that was by hand. What comes in first along a way stays nearest.
    """
    found: dict[str, tuple[int, tuple[int, int]]] = {}
    along: dict[tuple[int, int], list[int]] = {}
    for place, step in enumerate(order):
        for name in () if step.label in STANDING else worked_on(model, step):
            if name not in found:
                out = _out(model.body(name), step)
                found[name] = (place, out)
                along.setdefault(out, []).append(place)
    corners = box_corners(model)
    size = np.ptp(corners, axis=0)
    ways = {}
    for name, (place, out) in found.items():
        places = sorted(set(along[out]))
        gap = min(SPREAD, WIDEST / len(places)) * float(size.max())
        way = np.zeros(3)
        way[out[0]] = out[1] * gap * (places.index(place) + 1)
        ways[name] = (place, vector(way))
    return ways


def _out(body: Body, step: Step) -> tuple[int, int]:
    """Return the way that a body is drawn out, as axis and sign."""
    if step.label == "stand":
        return (2, -1)
    pull = step.pulls.get(body.name)
    if pull is not None and pull.reach == np.inf:
        return pull.out
    if body.where == "sump":
        return (1, -1)
    return (2, 1) if body.where == "tank" or pull is None else pull.out


def _moved_box(model: Model, name: str, way: Vector) -> np.ndarray[tuple[int, int], np.dtype[np.float64]]:
    return np.asarray(model.body(name).solid.bounds + np.array(way))
