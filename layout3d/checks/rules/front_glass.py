"""Room along the front glass for a cleaning magnet."""

from __future__ import annotations

import math

import numpy as np

from layout3d.checks.base import Findings, rule
from layout3d.checks.measure import gaps_below, limit, missing, too_near
from layout3d.model.beds import lowest_bed
from layout3d.model.model import Model
from layout3d.parts.base import Body
from layout3d.parts.tank_data import Wall
from layout3d.solid.boolean import trim
from layout3d.solid.distance import gap

LET_OFF = ("glass", "background", "substrate")
"""Groups that reach the front by nature: other panes, slabs on the side walls, the bed."""
SEEN_WITHIN = math.radians(60.0)
"""Panes turned no further than this from the first one are looked through as well, [rad]."""


@rule(
    "front-glass",
    asks="A cleaning magnet gets along the inside of the front glass.",
    limits=("magnet_to_front_glass", "magnet_to_front_glass_least"),
    follows=("overlap",),
)
def front_glass(model: Model) -> Findings:
    """Find parts too near the front glass, above the bed; what is fixed to that glass is let off."""
    wanted = limit(model, "magnet_to_front_glass")
    panes = {pane.body: pane for pane in viewing_panes(model)}
    glasses = [model.body(name) for name in panes]
    for body, glass, _ in gaps_below(model, model.such(may_hinder), glasses, wanted):
        pane = panes[glass.name]
        bed = lowest_bed(model, body.solid.bounds, near=pane)
        shown = trim(body.solid, normal=(0.0, 0.0, -1.0), offset=-bed) if bed > 0 else body.solid
        between = gap(shown, glass.solid) if shown is not None else None
        if between is None or not missing(between.distance, wanted):
            continue
        remedy = f"move {body.part} {{short}} away from that glass"
        limits = "magnet_to_front_glass", "magnet_to_front_glass_least"
        yield from too_near(model, body, glass, between, *limits, remedy=remedy)


def may_hinder(body: Body) -> bool:
    """Tell whether a body may be in the way of a cleaning magnet."""
    return body.where == "tank" and body.group not in LET_OFF and body.kind not in ("foliage", "root")


def viewing_panes(model: Model) -> tuple[Wall, ...]:
    """Return the panes that the tank is looked at through: the first wall, and those turned a little from it.

    A pane that a background stands on is not looked through.
    """
    walls = model.tank.walls
    covered = {slab.panel.name for built in model.backgrounds for slab in built.data.slabs}
    first = np.array(walls[0].facing)
    return tuple(
        wall
        for wall in walls
        if wall.name not in covered and float(np.dot(first, wall.facing)) >= math.cos(SEEN_WITHIN) - 1e-9
    )
