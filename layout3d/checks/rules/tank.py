"""The tank and what is in it: the waterline below its rim, room for water, and parts within its glass."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from layout3d.checks.base import Finding, rule
from layout3d.checks.measure import ROUNDING, judged, length, limit, missing, worded
from layout3d.checks.rules.plugged import FLOOD
from layout3d.model.model import Model
from layout3d.parts.background_data import Slab
from layout3d.parts.base import Body, vector
from layout3d.solid.level import volume_below
from layout3d.units import show
from layout3d.water.cavity import tank_cavity
from layout3d.water.displaced import displaced
from layout3d.water.sump import overflow_box_water

__all__ = ["freeboard", "outside", "water_room"]

SLACK = 1e-4
"""What rounding and round solids may reach past a face, [m]: a tenth of what a saw can do."""
MAY_RISE = ("plant", "plumbing", "equipment")
"""Groups that may stand above the rim: leaves, pipes over the edge, hanging fixtures."""
MAY_LEAVE = ("glass", "plumbing")
"""Groups that pass through or over the glass: panes themselves, and pipework."""


@rule(
    "freeboard",
    asks="The waterline stays below the glass's top edge, with freeboard.",
    caution=FLOOD,
    limits=("freeboard_least", "freeboard"),
)
def freeboard(model: Model) -> Iterator[Finding]:
    """Find a waterline too near the top of the glass, and one that wets the perimeter brace."""
    x, y, _ = ((a + b) / 2 for a, b in zip(model.tank.low, model.tank.high, strict=True))
    place = (x, y, model.waterline)
    left = model.tank.height - model.waterline
    yield from judged(
        model,
        left,
        "freeboard",
        limit(model, "freeboard_least") + 2 * ROUNDING,
        parts=(model.tank_name,),
        at=place,
        says=f"the waterline {worded(left, 'leaves {} to', 'is at')} the glass's top edge",
        remedy="lower the waterline by {short}",
    )
    name = f"{model.tank_name}.perimeter_brace"
    for brace in model.bodies_of(name):
        left = float(brace.solid.bounds[0, 2]) - model.waterline
        over = missing(left, 0.0)
        if over:
            yield Finding(
                severity="warning",
                parts=(name,),
                measured=left,
                limit=0.0,
                at=place,
                message=f"the waterline is {length(over)} above the lower face of {name}: water lies in the "
                "seam and under the strip",
                remedy=f"lower the waterline by {length(over)}",
            )


@rule(
    "water-room",
    asks="A slab ends before the wall across from it, and the parts leave room for water.",
    limits=("water_left",),
)
def water_room(model: Model) -> Iterator[Finding]:
    """Find slabs that reach through the tank, else a waterline below which next to no water is left."""
    through = list(_through(model))
    yield from through
    level = model.waterline
    gross = float(volume_below(model.tank.interior, [level])[0])
    net = float(tank_cavity(model).net(level)[0]) + overflow_box_water(model)
    least = limit(model, "water_left")
    if through or gross <= 0.0 or not missing(net / gross, least):
        return
    taken = displaced(model).parts
    most = max(taken, key=lambda part: taken[part], default=model.tank_name)
    x, y, _ = ((a + b) / 2 for a, b in zip(model.tank.low, model.tank.high, strict=True))
    yield Finding(
        parts=(most,),
        measured=net / gross,
        limit=least,
        unit="1",
        at=(x, y, model.waterline),
        message=f"the parts leave {show(net, 'volume')} of water below the waterline, {net / gross:.0%} of "
        f"the space: less than {least:.0%} (limit water_left); {most} takes most",
        remedy=f"make {most} smaller, or raise the waterline",
    )


def _through(model: Model) -> Iterator[Finding]:
    """Find slabs that reach as far as the wall across from theirs."""
    for built in model.backgrounds:
        for slab in built.data.slabs:
            deepest, across = float(np.nanmax(slab.front)), _across(model, slab)
            if missing(deepest, across):
                continue
            yield Finding(
                parts=(built.part.name, slab.panel.body),
                measured=deepest,
                limit=across,
                at=slab.panel.at(slab.panel.length / 2, slab.panel.height / 2),
                message=f"{built.part.name} on {slab.panel.name} stands {length(deepest)} out of the glass "
                f"where the tank is {length(across)} deep: {length(deepest - across)} too far, and no room "
                "is left before it",
                remedy="lower its `thickness:`, its `gap:` or the depth of its relief",
            )


def _across(model: Model, slab: Slab) -> float:
    """Return how far the tank reaches from a slab's pane, square to it, [m]."""
    corners = np.array([[x, y, 0.0] for x, y in model.tank.plan])
    return float(slab.panel.local(corners)[:, 2].max())


@rule(
    "outside",
    asks="What is in the tank stays within its glass, and below its top edge.",
    follows=("overlap",),
)
def outside(model: Model) -> Iterator[Finding]:
    """Find bodies of the tank that reach past its walls, its floor or its rim."""
    tank = model.tank
    for body in model.bodies:
        if body.where != "tank" or body.group in MAY_LEAVE or body.part == model.tank_name:
            continue
        points = body.solid.vertices
        if body.group not in MAY_RISE:
            rise = float(points[:, 2].max()) - tank.height
            if rise > SLACK:
                highest = points[int(points[:, 2].argmax())]
                yield _finding(body, rise, highest, "above the glass's top edge")
        if body.kind == "foliage":
            continue
        if body.group in MAY_RISE:  # what stands over the rim may stand over the glass too
            points = points[points[:, 2] <= tank.height]
            if not len(points):
                continue
        room = np.column_stack([tank.room_beside(points), points[:, 2]])  # the bottom last
        point, side = np.unravel_index(int(room.argmin()), room.shape)
        most = -float(room[point, side])
        if most > SLACK:
            pane = tank.panels[(*tank.sides, "bottom")[int(side)]].body
            yield _finding(body, most, points[point], f"past the inside face of {pane}", pane)


def _finding(body: Body, by: float, point: np.ndarray, where: str, pane: str = "") -> Finding:
    return Finding(
        parts=(body.name, pane) if pane else (body.name,),
        measured=by,
        limit=0.0,
        at=vector(point),
        message=f"{body.name} reaches {length(by)} {where}",
        remedy=f"move {body.part} {length(by)} or more, turn it, or make it smaller",
    )
