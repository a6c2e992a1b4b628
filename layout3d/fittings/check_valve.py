"""A swing check valve: a barrel with a round cover on top and an arrow on both sides, without its flap."""

from __future__ import annotations

import math

import numpy as np

from layout3d.fittings import hub as hubs
from layout3d.fittings.base import Fitting, FittingSize
from layout3d.fittings.port import FittingShape
from layout3d.fittings.rings import BODY_SIDES, corners, turned
from layout3d.solid.primitives import prism
from layout3d.solid.shape import Placement, Points


class CheckValve(Fitting):
    """A check valve."""

    def _shape(self, size: FittingSize, opening: float) -> FittingShape:
        body, bottom = size.body_diameter / 2.0, size.take_off[0]
        outside = ((body, -0.75 * bottom), (body, 0.2 * bottom), (0.9 * body, 0.7 * bottom))
        wide = min(0.75 * body, 0.6 * bottom)
        low, top = (size.pipe.inside_diameter / 2.0 + body) / 2.0, 1.3 * body
        cover = turned(
            corners(32, (0.0, low), (wide, low), (wide, 1.2 * body), (0.9 * wide, top), (0.0, top))
        )
        arrow = prism(_arrow(0.9 * bottom, 0.5 * body), 0.2 * body)
        sunk = 0.85 * body  # its face stands 5 % proud of the barrel
        solids = [cover.solid(Placement.at((-0.25 * bottom, 0.0, 0.0)))]
        for side in (1.0, -1.0):
            # a quarter turn about x lays the arrow's face to -y or +y; it points along +x either way
            face = Placement.turned((1.0, 0.0, 0.0), -side * math.pi / 2.0)
            solids.append(arrow.solid(Placement.at((0.0, side * sunk, 0.0)) @ face))
        return hubs.valve(size, corners(BODY_SIDES, *outside), *solids)


CHECK_VALVE = CheckValve(
    kind="check_valve",
    place="inline",
    word="check_valve",
    alone="a check valve",
    in_tube=True,
    lengths=("check_gap", "check_body"),
    losses=("swing_check",),
    hand="open",
    one_way=True,
    finish="valve",
)


def _arrow(length: float, width: float) -> Points:
    """Outline of an arrow along +x, its middle at the origin, (7, 2), [m]."""
    tail, neck, tip = -length / 2.0, 0.0, length / 2.0
    half, shaft = width / 2.0, width / 5.0
    upper = [(tip, 0.0), (neck, half), (neck, shaft), (tail, shaft)]
    return np.array([*upper, *((x, -y) for x, y in reversed(upper[1:]))])
