"""A gate valve with a rising stem: bonnet, stem and handwheel, and the room that wheel and hand need.

Open, the wheel stands a bore higher than shut. The gate itself is left out. Form and room are common
practice, no source; makers differ.
"""

from __future__ import annotations

from layout3d.catalog import Catalog, Pipe
from layout3d.errors import OutOfRange
from layout3d.fittings import hub as hubs
from layout3d.fittings.base import Fitting, FittingSize, to_opening
from layout3d.fittings.port import FittingShape
from layout3d.fittings.rings import BODY_SIDES, corners, turned
from layout3d.solid.primitives import cylinder
from layout3d.solid.shape import Placement, Shape
from layout3d.units import show

HAND_ABOVE = 0.050  # room over the wheel at its highest, for the hand that turns it, [m]
HAND_AROUND = 0.020  # and round its rim, [m]


class GateValve(Fitting):
    """A gate valve; its height is that of the open valve. Its room for a hand is part of its shape."""

    def _size(self, catalog: Catalog, pipe: Pipe, smaller: Pipe | None) -> FittingSize:
        size = super()._size(catalog, pipe, smaller)
        least = 0.5 * size.body_diameter + pipe.inside_diameter + 0.2 * size.wheel
        if size.handle < least:
            raise OutOfRange(
                f"a gate valve for {pipe.name} {show(size.handle, 'length')} high has no room for its gate's "
                "lift",
                expected=f"a gate_height of {show(least, 'length')} or more",
            )
        return size

    def _shape(self, size: FittingSize, opening: float) -> FittingShape:
        body, wheel, lift = size.body_diameter / 2.0, size.wheel / 2.0, size.pipe.inside_diameter
        bottom, rim = 0.75 * size.take_off[0], 0.12 * wheel
        top = size.handle - (1.0 - opening) * lift  # the wheel's upper face
        bonnet = size.handle - 2.0 * rim - lift
        foot = (lift / 2.0 + body) / 2.0
        neck, narrow, stem = 0.8 * body, 0.45 * body, max(0.16 * body, 3e-3)
        low, high = (body + share * (bonnet - body) for share in (0.30, 0.55))
        tower = ((0.0, foot), (neck, foot), (neck, low), (narrow, high), (narrow, bonnet), (0.0, bonnet))
        room = cylinder(wheel + HAND_AROUND, size.handle + HAND_ABOVE - bonnet)
        return hubs.valve(
            size,
            corners(BODY_SIDES, (body, -bottom), (body, bottom)),
            turned(corners(BODY_SIDES, *tower)).solid(),
            cylinder(stem, top - foot, n=24).solid(Placement.at((0.0, 0.0, foot))),
            _wheel(wheel, rim).solid(Placement.at((0.0, 0.0, top - rim))),
            shut=opening == 0.0,
            room=hubs.laid(room, Placement.at((0.0, 0.0, bonnet))),
        )


GATE_VALVE = GateValve(
    kind="gate_valve",
    place="inline",
    word="gate_valve",
    alone="a gate valve, open",
    step=to_opening("gate_valve", "how far its gate is lifted"),
    value="opening",
    lengths=("gate_gap", "gate_body", "gate_height", "gate_wheel"),
    hand="turn",
    valve=True,
    finish="valve",
)


def _wheel(radius: float, rim: float) -> Shape:
    """Return a handwheel from z = 0 to ``rim``: a disc in a thicker rim, its spokes filled in."""
    inner, low, high = 0.8 * radius, 0.3 * rim, 0.7 * rim
    below = ((0.0, low), (inner, low), (inner, 0.0), (radius, 0.0))
    above = ((radius, rim), (inner, rim), (inner, high), (0.0, high))
    return turned(corners(BODY_SIDES, *below, *above))
