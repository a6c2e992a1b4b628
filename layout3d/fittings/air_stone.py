"""An air stone on the end of an air line: porous, so that air leaves all over it. Pressure: ``flow.air``.

Forms and lengths are common practice, no source; makers differ.
"""

from __future__ import annotations

from layout3d.catalog import Catalog, Pipe
from layout3d.fittings import hub as hubs
from layout3d.fittings.barb import connector_half, connector_tail
from layout3d.fittings.base import Fitting, FittingSize
from layout3d.fittings.hub import BACK
from layout3d.fittings.port import FittingShape
from layout3d.fittings.rings import BODY_SIDES, corners, mirrored, turned
from layout3d.solid.shape import Shape

LONG = 0.025
"""A stone's length, [m], or more on a wide tube."""
WIDE = 0.015
"""A stone's diameter, [m], or more on a wide tube."""


class AirStone(Fitting):
    """An air stone. No water is counted on to get through it."""

    def _size(self, catalog: Catalog, pipe: Pipe, smaller: Pipe | None) -> FittingSize:
        return self._sockets(pipe, 0.0, body=max(WIDE, pipe.hub_diameter))

    def _shape(self, size: FittingSize, opening: float) -> FittingShape:
        pipe, face = size.pipe, size.face[0]
        wide, stone = pipe.outside_diameter / 2.0, size.body_diameter / 2.0
        web = hubs.hub_wall(pipe)
        long = max(LONG, pipe.hub_diameter)
        inside = corners(hubs.socket_sides(pipe), (0.0, 0.0), (wide, 0.0), (wide, -face))
        outside = corners(BODY_SIDES, (stone, web), (stone, 0.9 * long), (0.85 * stone, long), (0.0, long))
        shape = turned([*inside, *mirrored(hubs.rim(pipe, face)), *outside])
        ports = (hubs.socket_port("a", pipe, BACK, face),)
        return FittingShape(kind=size.kind, shape=hubs.laid(shape), ports=ports)

    def on_tube(self, outside: float, inside: float) -> Shape:
        """Return it with its tail in a tube, along z; the tube ends at half a connector below 0."""
        start, radius, neck = -connector_half(outside), max(WIDE / 2.0, 0.85 * outside), 0.49 * inside
        tail, top = start - connector_tail(inside), start + max(LONG, 2.0 * connector_half(outside))
        stone = ((radius, start), (radius, top - 0.15 * radius), (0.85 * radius, top))
        return turned(
            [(0.0, tail, 1), *corners(BODY_SIDES, (neck, tail), (neck, start), *stone), (0.0, top, 1)]
        )


AIR_STONE = AirStone(
    kind="air_stone", place="end", word="air_stone", alone="end in an air stone", in_tube=True, finish="dark"
)
