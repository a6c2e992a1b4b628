"""Parts that leave the tank, or stand above its rim, without being meant to."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from layout3d.checks.base import Finding, Findings, rule
from layout3d.checks.measure import length
from layout3d.model.model import Model
from layout3d.parts.base import Body, vector

__all__ = ["outside", "reaches", "stays_in"]

SLACK = 1e-4
"""What rounding and round solids may reach past a face, [m]: a tenth of what a saw can do."""
MAY_RISE = ("plant", "plumbing", "equipment")
"""Groups that may stand above the rim: leaves, pipes over the edge, hanging fixtures."""
MAY_LEAVE = ("glass", "plumbing")
"""Groups that pass through or over the glass: panes themselves, and pipework."""


@rule(
    "outside",
    asks="What is in the tank stays within its glass, and below its top edge.",
    follows=("overlap",),
)
def outside(model: Model) -> Findings:
    """Find bodies of the tank that reach past its walls, its floor or its rim."""
    tank = model.tank
    boxes = model.bounds
    x, y = (boxes[:, ends, axis] for axis, ends in ((0, [0, 0, 1, 1]), (1, [0, 1, 0, 1])))
    least = tank.room_beside(np.stack([x, y], axis=-1).reshape(-1, 2)).reshape(len(boxes), -1).min(axis=1)
    # what keeps to its walls, floor and rim with its box does so
    past = (least < 0.0) | (boxes[:, 0, 2] < 0.0) | (boxes[:, 1, 2] > tank.height)
    for index in np.flatnonzero(past).tolist():
        body = model.bodies[index]
        if stays_in(model, body):  # what stands in a bed is looked at by itself
            yield from reaches(model, body, body.solid.uncarved.vertices)


def stays_in(model: Model, body: Body) -> bool:
    """Tell whether a body has to stay within the tank."""
    return body.where == "tank" and body.group not in MAY_LEAVE and body.part != model.tank_name


def reaches(model: Model, body: Body, points: NDArray[np.float64]) -> list[Finding]:
    """Return how far a body would reach out of the tank with its corners at ``points``, (n, 3) [m]."""
    tank, found = model.tank, []
    if body.group not in MAY_RISE:
        rise = float(points[:, 2].max()) - tank.height
        if rise > SLACK:
            highest = points[int(points[:, 2].argmax())]
            found.append(_finding(body, rise, highest, "above the glass's top edge"))
    if body.kind == "foliage":
        return found
    if body.group in MAY_RISE:  # what stands over the rim may stand over the glass too
        points = points[points[:, 2] <= tank.height]
        if not len(points):
            return found
    room = np.column_stack([tank.room_beside(points), points[:, 2]])  # the bottom last
    point, side = np.unravel_index(int(room.argmin()), room.shape)
    most = -float(room[point, side])
    if most > SLACK:
        pane = tank.panels[(*tank.sides, "bottom")[int(side)]].body
        found.append(_finding(body, most, points[point], f"past the inside face of {pane}", pane))
    return found


def _finding(body: Body, by: float, point: NDArray[np.float64], where: str, pane: str = "") -> Finding:
    return Finding(
        parts=(body.name, pane) if pane else (body.name,),
        measured=by,
        limit=0.0,
        at=vector(point),
        message=f"{body.name} reaches {length(by)} {where}",
        remedy=f"move {body.part} {length(by)} or more, turn it, or make it smaller",
    )
