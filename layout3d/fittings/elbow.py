"""Elbows of 90 and 45 degrees with a round waterway: they stand at the turns of a run by themselves."""

from __future__ import annotations

import math

from layout3d.catalog import Catalog, Pipe
from layout3d.fittings import hub as hubs
from layout3d.fittings.base import Fitting, FittingSize
from layout3d.fittings.hub import BACK, ON
from layout3d.fittings.port import FittingShape, Vector
from layout3d.fittings.rings import BODY_SIDES, bent_bar, placed_ring, ring_arc, skin
from layout3d.solid.outline import circle
from layout3d.solid.shape import Solid


class Elbow(Fitting):
    """An elbow; centre to socket bottom is the pipe's own ``g_90`` or ``g_45``."""

    def _size(self, catalog: Catalog, pipe: Pipe, smaller: Pipe | None) -> FittingSize:
        figure = "g_90" if self.angle > 1.0 else "g_45"
        length = getattr(pipe, figure)
        return self._sockets(pipe, length, length, source=pipe.source_of(figure))

    def _shape(self, size: FittingSize, opening: float) -> FittingShape:
        pipe, turn, (take_off, face) = size.pipe, self.angle, (size.take_off[0], size.face[0])
        bend_radius = take_off / math.tan(turn / 2.0)
        body = hubs.body_radius(size, bend_radius)
        onward: Vector = (math.cos(turn), math.sin(turn), 0.0)
        steps = 8 if turn > 1.0 else 5
        one_hub = hubs.hub(size, body, take_off=take_off)
        return hubs.carved(
            size.kind,
            [
                bent_bar(bend_radius, turn, body, BODY_SIDES, steps).solid(),
                one_hub.solid(hubs.along(BACK)),
                one_hub.solid(hubs.along(onward)),
            ],
            [_bent_bore(size, turn, bend_radius, onward, steps)],
            [hubs.socket_port("a", pipe, BACK, face), hubs.socket_port("b", pipe, onward, face)],
        )


ELBOW_90 = Elbow(kind="elbow_90", place="turn", angle=math.pi / 2.0, half_turned=True)
ELBOW_45 = Elbow(kind="elbow_45", place="turn", angle=math.pi / 4.0, half_turned=True)


def _bent_bore(size: FittingSize, turn: float, bend_radius: float, onward: Vector, steps: int) -> Solid:
    """Both sockets and the waterway between them as one cutter."""
    pipe = size.pipe
    wide = circle(pipe.outside_diameter / 2.0, hubs.socket_sides(pipe))
    take_off, past = size.take_off[0], size.face[0] + hubs.OVERRUN

    def at(direction: Vector, distance: float) -> Vector:
        return (direction[0] * distance, direction[1] * distance, direction[2] * distance)

    rings = [placed_ring(wide, at(BACK, past), ON), placed_ring(wide, at(BACK, take_off), ON)]
    rings += ring_arc(bend_radius, turn, pipe.inside_diameter / 2.0, hubs.WATERWAY_SIDES, steps)
    rings += [placed_ring(wide, at(onward, take_off), onward), placed_ring(wide, at(onward, past), onward)]
    ends = [ring.mean(axis=0, keepdims=True) for ring in (rings[0], rings[-1])]
    return skin([ends[0], *rings, ends[1]], closed=False).solid()
