"""A swing check valve: a barrel with a round cover on top and an arrow on both sides, without its flap."""

from __future__ import annotations

import math

import numpy as np

from layout3d.catalog import Catalog, Pipe
from layout3d.fittings import hub as hubs
from layout3d.fittings.base import Fitting, FittingSize, Through
from layout3d.fittings.kept import kept
from layout3d.fittings.losses import Loss, fitting_loss
from layout3d.fittings.port import FittingShape
from layout3d.fittings.rings import turned
from layout3d.solid.primitives import prism
from layout3d.solid.shape import Placement, Points

__all__ = ["CHECK_VALVE"]


class CheckValve(Fitting):
    """A check valve, sized by ``check_gap`` and ``check_body``."""

    def _size(self, catalog: Catalog, pipe: Pipe, smaller: Pipe | None) -> FittingSize:
        gap, body = self._lengths(catalog, pipe, "check_gap", "check_body")
        return self._sockets(pipe, gap / 2.0, gap / 2.0, body=body)

    def shape(self, size: FittingSize, *, opening: float = 1.0) -> FittingShape:
        """Return its shape."""
        return _check_valve(size)

    def _loss(self, way: Through) -> Loss | None:
        return fitting_loss("swing_check", way.bore) if way.forward else None


CHECK_VALVE = CheckValve(
    kind="check_valve",
    place="inline",
    word="check_valve",
    alone="a check valve",
    in_tube=True,
    hand="open",
    one_way=True,
    finish="valve",
)


@kept
def _check_valve(size: FittingSize) -> FittingShape:
    pipe, body = size.pipe, size.body_diameter / 2.0
    bore, bottom = pipe.inside_diameter / 2.0, size.take_off[0]
    outside = hubs.barrel(size, [(body, -0.75 * bottom), (body, 0.2 * bottom), (0.9 * body, 0.7 * bottom)])
    cover_radius = min(0.75 * body, 0.6 * bottom)
    cover_bottom = (bore + body) / 2.0
    cover = turned(
        [
            (0.0, cover_bottom, 1),
            (cover_radius, cover_bottom, 32),
            (cover_radius, 1.2 * body, 32),
            (0.9 * cover_radius, 1.3 * body, 32),
            (0.0, 1.3 * body, 1),
        ],
        closed=False,
    )
    arrow = prism(_arrow(0.9 * bottom, 0.5 * body), 0.2 * body)
    sunk = 0.85 * body  # its face stands 5 % proud of the barrel
    solids = [outside, cover.solid(Placement.at((-0.25 * bottom, 0.0, 0.0)))]
    for side in (1.0, -1.0):
        # a quarter turn about x lays the arrow's face to -y or +y; it points along +x either way
        face = Placement.turned((1.0, 0.0, 0.0), -side * math.pi / 2.0)
        solids.append(arrow.solid(Placement.at((0.0, side * sunk, 0.0)) @ face))
    return hubs.carved(size.kind, solids, hubs.bores(size, closed=False), hubs.run_ports(size))


def _arrow(length: float, width: float) -> Points:
    """Outline of an arrow along +x, its middle at the origin, (7, 2), [m]."""
    tail, neck, tip = -length / 2.0, 0.0, length / 2.0
    half, shaft = width / 2.0, width / 5.0
    upper = [(tip, 0.0), (neck, half), (neck, shaft), (tail, shaft)]
    return np.array([*upper, *((x, -y) for x, y in reversed(upper[1:]))])
