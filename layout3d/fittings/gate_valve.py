"""A gate valve with a rising stem: bonnet, stem and handwheel, and the room that wheel and hand need.

Open, the wheel stands a bore higher than shut. The gate itself is left out. Form and room are common
practice, no source; makers differ.
"""

from __future__ import annotations

from dataclasses import replace

from layout3d.catalog import Catalog, Pipe
from layout3d.errors import OutOfRange
from layout3d.fields import REQUIRED
from layout3d.fittings import hub as hubs
from layout3d.fittings.base import NAMED, Fitting, FittingSize, Through, key, step
from layout3d.fittings.kept import kept
from layout3d.fittings.losses import Loss, least_opening, throttled_loss
from layout3d.fittings.opening import Opening
from layout3d.fittings.port import FittingShape
from layout3d.fittings.rings import BODY_SIDES, turned
from layout3d.solid.primitives import cylinder
from layout3d.solid.shape import Placement, Shape

__all__ = ["GATE_VALVE"]

HAND_ABOVE = 0.050  # room over the wheel at its highest, for the hand that turns it, [m]
HAND_AROUND = 0.020  # and round its rim, [m]


class GateValve(Fitting):
    """A gate valve, sized by ``gate_gap``, ``gate_body``, ``gate_height`` (open) and ``gate_wheel``."""

    def _size(self, catalog: Catalog, pipe: Pipe, smaller: Pipe | None) -> FittingSize:
        gap, body, height, wheel = self._lengths(
            catalog, pipe, "gate_gap", "gate_body", "gate_height", "gate_wheel"
        )
        least = 0.5 * body + pipe.inside_diameter + 0.2 * wheel
        if height < least:
            raise OutOfRange(
                f"a gate valve for {pipe.name} {height * 1e3:.0f} mm high has no room for its gate's lift",
                expected=f"a gate_height of {least * 1e3:.0f} mm or more",
            )
        return self._sockets(pipe, gap / 2.0, gap / 2.0, body=body, handle=height, wheel=wheel)

    def shape(self, size: FittingSize, *, opening: float = 1.0) -> FittingShape:
        """Return its shape, with the room that has to stay free over it."""
        return _gate_valve(size, opening)

    def _loss(self, way: Through) -> Loss | None:
        return throttled_loss(self.kind, way.bore, way.opening) if way.opening > 0.0 else None


GATE_VALVE = GateValve(
    kind="gate_valve",
    place="inline",
    word="gate_valve",
    alone="a gate valve, open",
    step=step(
        key("gate_valve", Opening(least_opening("gate_valve")), REQUIRED, "how far its gate is lifted"), NAMED
    ),
    value="opening",
    hand="turn",
    valve=True,
    finish="valve",
)


@kept
def _gate_valve(size: FittingSize, opening: float) -> FittingShape:
    pipe, body, wheel = size.pipe, size.body_diameter / 2.0, size.wheel / 2.0
    bore, bottom = pipe.inside_diameter / 2.0, size.take_off[0]
    rim = 0.12 * wheel
    top = size.handle - (1.0 - opening) * pipe.inside_diameter  # the wheel's upper face
    bonnet = size.handle - 2.0 * rim - pipe.inside_diameter
    barrel = hubs.barrel(size, [(body, -0.75 * bottom), (body, 0.75 * bottom)])
    stem_bottom = (bore + body) / 2.0
    neck, narrow, stem = 0.8 * body, 0.45 * body, max(0.16 * body, 3e-3)
    tower = turned(
        [
            (0.0, stem_bottom, 1),
            (neck, stem_bottom, BODY_SIDES),
            (neck, body + 0.30 * (bonnet - body), BODY_SIDES),
            (narrow, body + 0.55 * (bonnet - body), BODY_SIDES),
            (narrow, bonnet, BODY_SIDES),
            (0.0, bonnet, 1),
        ],
        closed=False,
    )
    solids = [
        barrel,
        tower.solid(),
        cylinder(stem, top - stem_bottom, n=24).solid(Placement.at((0.0, 0.0, stem_bottom))),
        _wheel(wheel, rim).solid(Placement.at((0.0, 0.0, top - rim))),
    ]
    made = hubs.carved(size.kind, solids, hubs.bores(size, closed=opening == 0.0), hubs.run_ports(size))
    low = size.handle - 2.0 * rim - pipe.inside_diameter
    room = cylinder(wheel + HAND_AROUND, size.handle + HAND_ABOVE - low)
    lifted = Shape.trusted(Placement.at((0.0, 0.0, low)).apply(room.vertices), room.faces)
    return replace(made, room=lifted)


def _wheel(radius: float, rim: float) -> Shape:
    """Return a handwheel from z = 0 to ``rim``: a disc in a thicker rim, its spokes filled in."""
    n, inner = BODY_SIDES, 0.8 * radius
    return turned(
        [
            (0.0, 0.3 * rim, 1),
            (inner, 0.3 * rim, n),
            (inner, 0.0, n),
            (radius, 0.0, n),
            (radius, rim, n),
            (inner, rim, n),
            (inner, 0.7 * rim, n),
            (0.0, 0.7 * rim, 1),
        ],
        closed=False,
    )
