"""The least move that frees a part of another, or of the space that another needs."""

from __future__ import annotations

import math

import numpy as np

from layout3d.checks.measure import length
from layout3d.model.model import Model
from layout3d.parts.base import Body
from layout3d.solid.distance import way_out
from layout3d.solid.shape import Shape, Solid

__all__ = ["GIVES_WAY", "freeing"]

WAYS = {
    "up": (0.0, 0.0, 1.0),
    "to the left": (-1.0, 0.0, 0.0),
    "to the right": (1.0, 0.0, 0.0),
    "to the front": (0.0, -1.0, 0.0),
    "to the back": (0.0, 1.0, 0.0),
    "down": (0.0, 0.0, -1.0),
}
UP_TO = 1e-4
"""A figure is told rounded up to this, [m]."""
SLACK = 1e-4
"""What may stick out past a pane and still counts as within the tank, [m]."""
ALONG = 0.5
"""Share of a move square to a pane from which on a bulkhead in it can't follow."""
GIVES_WAY = ("foliage",)
"""Kinds that bend aside: leaves may touch anything."""


def freeing(model: Model, body: Body, still: Body | Solid) -> str:
    """Return the least move along the tank's axes that frees a body, such as '120 mm up'; '' for none.

    A bulkhead moves along its own pane only. Off a pane it goes square to that, to the side where most of it
    is. What is in the tank stays there, and a light never goes down: water is there.
    """
    pane = "" if isinstance(still, Solid) else still.name
    panel = next((panel for panel in model.tank.panels.values() if panel.body == pane), None)
    moving = _whole(body)
    if panel is not None:
        depth = panel.local(moving.vertices)[:, 2]
        inside = float(depth.mean()) > -panel.thickness / 2
        way = -float(depth.min()) if inside else float(depth.max()) + panel.thickness
        side = "into the tank" if inside else "out of the tank"
        return f"{_told(way)} {side}, off {panel.name}"
    other = still if isinstance(still, Solid) else _whole(still)
    least, told = math.inf, ""
    for words in sorted(WAYS, key=lambda words: _past(moving, other, np.array(WAYS[words]))):
        direction = WAYS[words]
        if not _along_its_pane(model, body, direction) or (body.kind == "light" and words == "down"):
            continue
        way = way_out(moving, other, np.array(direction), within=least)
        first = way < least or (way == least and list(WAYS).index(words) < list(WAYS).index(told))
        if first and (body.where != "tank" or _stays(model, moving, way, np.array(direction))):
            least, told = way, words
    return f"{_told(least)} {told}" if told else ""


def _past(moving: Solid, still: Solid, direction: np.ndarray) -> float:
    """Return how far a solid has to go along an axis until its box has passed another's, [m]."""
    return float((still.bounds @ direction).max() - (moving.bounds @ direction).min())


def _whole(body: Body) -> Solid:
    """Return a body as it can't be passed through: a pipe with its bore, for no pipe gets out through it."""
    if body.group != "plumbing" or body.kind in ("tube", "bulkhead"):
        return body.solid
    hull = Shape.from_manifold(body.solid.shape.manifold.hull())
    return body.solid if hull is None else hull.solid(body.solid.placement)


def _along_its_pane(model: Model, body: Body, direction: tuple[float, float, float]) -> bool:
    if body.kind != "bulkhead":
        return True
    panel = model.tank.panels[model.tank.holes[body.name.rpartition(".")[2]].panel]
    here, there = panel.local(np.array([(0.0, 0.0, 0.0), direction]))[:, 2]
    return abs(float(there - here)) < ALONG


def _stays(model: Model, moving: Solid, way: float, direction: np.ndarray) -> bool:
    """Tell whether a move takes nothing out of the tank that is not out of it now."""
    for panel in model.tank.panels.values():
        here, there = (
            float(panel.local(points)[:, 2].min())
            for points in (moving.vertices, moving.vertices + way * direction)
        )
        if there < min(here, 0.0) - SLACK:
            return False
    return True


def _told(way: float) -> str:
    return length(math.ceil(way / UP_TO - 1e-6) * UP_TO)
