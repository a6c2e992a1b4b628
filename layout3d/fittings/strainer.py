"""A suction strainer: a slotted basket on a socket. Its origin is where the pipe ends.

Forms and lengths are common practice, no source; makers differ.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from layout3d.catalog import Catalog, Pipe
from layout3d.fittings import hub as hubs
from layout3d.fittings.base import Fitting, FittingSize
from layout3d.fittings.hub import BACK, ON
from layout3d.fittings.port import FittingShape
from layout3d.fittings.rings import BODY_SIDES, corners, mirrored, turned
from layout3d.solid.primitives import box
from layout3d.solid.shape import Placement, Solid

__all__ = ["STRAINER", "StrainerSlots", "strainer_slots"]

SLOT = 2e-3  # width of its slots, [m]
SLOT_PAIRS = 8  # slots that face each other


class Strainer(Fitting):
    """A strainer, 1.6 times as wide as its pipe."""

    def _size(self, catalog: Catalog, pipe: Pipe, smaller: Pipe | None) -> FittingSize:
        return self._sockets(pipe, 0.0, body=1.6 * pipe.outside_diameter)

    def _shape(self, size: FittingSize, opening: float) -> FittingShape:
        pipe, face, web = size.pipe, size.face[0], hubs.hub_wall(size.pipe)
        bore, wide = pipe.inside_diameter / 2.0, pipe.outside_diameter / 2.0
        length, (wall, outside) = _basket_length(size), _basket(size)
        inside, top = outside - wall, length - wall
        foot = ((pipe.hub_diameter / 2.0, -0.5 * web), (outside, 0.0))
        basket = turned(
            [
                *corners(32, (0.0, top), (inside, top), (inside, web)),
                *corners(hubs.WATERWAY_SIDES, (bore, web), (bore, 0.0)),
                *corners(hubs.socket_sides(pipe), (wide, 0.0), (wide, -face)),
                *mirrored(hubs.rim(pipe, face)),
                *corners(BODY_SIDES, *foot, (outside, length - 2.0 * wall), (inside, length), (0.0, length)),
            ]
        )
        ports = [hubs.socket_port("a", pipe, BACK, face)]
        return hubs.carved(size.kind, [basket.solid(hubs.along(ON))], _slots(strainer_slots(size)), ports)


STRAINER = Strainer(
    kind="strainer",
    place="end",
    word="strainer",
    alone="end in a strainer",
    losses=("suction_strainer",),
    finish="valve",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class StrainerSlots:
    """Where a strainer's slots are, in its own axes: +x from the end of the pipe to the closed end, [m].

    ``rows`` are the (start, end) of each row along x; a row has a slot of ``width`` at each of ``angles``
    [rad] round the axis, from the z axis, on a basket of ``radius`` outside.
    """

    rows: tuple[tuple[float, float], ...]
    angles: tuple[float, ...]
    width: float
    radius: float


def strainer_slots(size: FittingSize) -> StrainerSlots:
    """Return where the slots of a strainer are: what water can get through."""
    wall, outside = _basket(size)
    start, end = hubs.hub_wall(size.pipe) + wall, _basket_length(size) - 2.5 * wall
    rib = 0.1 * (end - start)
    row = (end - start - rib) / 2.0
    return StrainerSlots(
        rows=((start, start + row), (end - row, end)),
        angles=tuple(math.pi * (number + 0.5) / SLOT_PAIRS for number in range(2 * SLOT_PAIRS)),
        width=SLOT,
        radius=outside,
    )


def _basket(size: FittingSize) -> tuple[float, float]:
    """Return wall and outside radius of a strainer's basket, [m]."""
    outside = size.body_diameter / 2.0
    wall = max(0.08 * outside, 2e-3)
    return wall, max(outside, size.pipe.hub_diameter / 2.0)


def _basket_length(size: FittingSize) -> float:
    return 2.2 * size.pipe.outside_diameter


def _slots(slots: StrainerSlots) -> list[Solid]:
    """Return bars that each cut two slots facing each other."""
    row = slots.rows[0][1] - slots.rows[0][0]
    bar = box((row, slots.width, 2.2 * slots.radius), centre=True)
    return [
        bar.solid(Placement.turned(ON, angle) @ Placement.at(((start + end) / 2.0, 0.0, 0.0)))
        for angle in slots.angles[:SLOT_PAIRS]
        for start, end in slots.rows
    ]
