"""A ball valve with its lever: along the pipe when open, square to it when shut. The ball is left out."""

from __future__ import annotations

import math

import numpy as np

from layout3d.catalog import Catalog, Pipe
from layout3d.fields import REQUIRED
from layout3d.fittings import hub as hubs
from layout3d.fittings.base import NAMED, Fitting, FittingSize, Through, key, step
from layout3d.fittings.kept import kept
from layout3d.fittings.losses import Loss, least_opening, throttled_loss
from layout3d.fittings.opening import Opening
from layout3d.fittings.port import FittingShape
from layout3d.solid.primitives import cylinder, prism
from layout3d.solid.shape import Placement, Points

__all__ = ["BALL_VALVE"]

HANDLE_TURN = math.pi / 2.0  # from open (along the pipe) to shut, [rad]


class BallValve(Fitting):
    """A ball valve, sized by ``valve_gap``, ``valve_body`` and ``handle``."""

    def _size(self, catalog: Catalog, pipe: Pipe, smaller: Pipe | None) -> FittingSize:
        gap, body, handle = self._lengths(catalog, pipe, "valve_gap", "valve_body", "handle")
        return self._sockets(pipe, gap / 2.0, gap / 2.0, body=body, handle=handle)

    def shape(self, size: FittingSize, *, opening: float = 1.0) -> FittingShape:
        """Return its shape; shut, it has no waterway through its middle."""
        if not 0.0 <= opening <= 1.0:
            raise ValueError(f"opening must be from 0 to 1, got {opening!r}")
        return _ball_valve(size, opening)

    def _loss(self, way: Through) -> Loss | None:
        return throttled_loss(self.kind, way.bore, way.opening) if way.opening > 0.0 else None


BALL_VALVE = BallValve(
    kind="ball_valve",
    place="inline",
    word="ball_valve",
    alone="a ball valve, open",
    step=step(
        key("ball_valve", Opening(least_opening("ball_valve")), REQUIRED, "how far it is open; 50 % is 0.5"),
        NAMED,
    ),
    value="opening",
    in_tube=True,
    hand="turn",
    valve=True,
    finish="valve",
)


@kept
def _ball_valve(size: FittingSize, opening: float) -> FittingShape:
    pipe, body = size.pipe, size.body_diameter / 2.0
    bore, bottom = pipe.inside_diameter / 2.0, size.take_off[0]
    barrel = 0.8 * bottom
    outside = hubs.barrel(
        size, [(0.94 * body, -barrel), (body, -0.6 * barrel), (body, 0.6 * barrel), (0.94 * body, barrel)]
    )
    stem_radius = max(0.45 * bore, 3e-3)
    lever_thickness = max(0.12 * body, 3e-3)
    lever_bottom = body + 0.5 * stem_radius + 2e-3
    stem_bottom = (bore + body) / 2.0
    stem = cylinder(stem_radius, lever_bottom + 0.5 * lever_thickness - stem_bottom, n=24)
    lever = prism(_lever(1.7 * stem_radius, 0.9 * stem_radius, size.handle), lever_thickness)
    turn = Placement.turned((0.0, 0.0, 1.0), (1.0 - opening) * HANDLE_TURN)
    solids = [
        outside,
        stem.solid(Placement.at((0.0, 0.0, stem_bottom))),
        lever.solid(Placement.at((0.0, 0.0, lever_bottom)) @ turn),
    ]
    return hubs.carved(size.kind, solids, hubs.bores(size, closed=opening == 0.0), hubs.run_ports(size))


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
