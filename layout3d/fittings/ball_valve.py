"""A ball valve with its lever: along the pipe when open, square to it when shut. The ball is left out."""

from __future__ import annotations

import math

import numpy as np

from layout3d.fittings import hub as hubs
from layout3d.fittings.base import Fitting, FittingSize, to_opening
from layout3d.fittings.port import FittingShape
from layout3d.fittings.rings import BODY_SIDES, corners
from layout3d.solid.primitives import cylinder, prism
from layout3d.solid.shape import Placement, Points

HANDLE_TURN = math.pi / 2.0  # from open (along the pipe) to shut, [rad]


class BallValve(Fitting):
    """A ball valve; shut, its lever stands square to the pipe."""

    def _shape(self, size: FittingSize, opening: float) -> FittingShape:
        body, bore = size.body_diameter / 2.0, size.pipe.inside_diameter / 2.0
        barrel = 0.8 * size.take_off[0]
        outside = ((0.94 * body, -barrel), (body, -0.6 * barrel), (body, 0.6 * barrel), (0.94 * body, barrel))
        stem_radius = max(0.45 * bore, 3e-3)
        lever_thickness = max(0.12 * body, 3e-3)
        lever_bottom = body + 0.5 * stem_radius + 2e-3
        stem_bottom = (bore + body) / 2.0
        stem = cylinder(stem_radius, lever_bottom + 0.5 * lever_thickness - stem_bottom, n=24)
        lever = prism(_lever(1.7 * stem_radius, 0.9 * stem_radius, size.handle), lever_thickness)
        turn = Placement.turned((0.0, 0.0, 1.0), (1.0 - opening) * HANDLE_TURN)
        return hubs.valve(
            size,
            corners(BODY_SIDES, *outside),
            stem.solid(Placement.at((0.0, 0.0, stem_bottom))),
            lever.solid(Placement.at((0.0, 0.0, lever_bottom)) @ turn),
            shut=opening == 0.0,
        )


BALL_VALVE = BallValve(
    kind="ball_valve",
    place="inline",
    word="ball_valve",
    alone="a ball valve, open",
    step=to_opening("ball_valve", "how far it is open; 50 % is 0.5"),
    value="opening",
    in_tube=True,
    lengths=("valve_gap", "valve_body", "handle"),
    hand="turn",
    valve=True,
    finish="valve",
)


def _lever(stem: float, tip: float, length: float) -> Points:
    """Outline of a lever in plan, (k, 2), [m]: round at the stem (origin) and at the tip at ``length``."""
    middle = length - tip
    back = np.linspace(math.pi / 2.0, 1.5 * math.pi, 13)
    front = np.linspace(-math.pi / 2.0, math.pi / 2.0, 9)
    outline: Points = np.concatenate(
        [
            stem * np.column_stack([np.cos(back), np.sin(back)]),
            tip * np.column_stack([np.cos(front), np.sin(front)]) + [middle, 0.0],
        ]
    )
    return outline
