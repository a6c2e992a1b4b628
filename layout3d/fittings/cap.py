"""A cap on the end of a pipe, or a plug in a tube's; its origin is the socket's bottom."""

from __future__ import annotations

from layout3d.catalog import Catalog, Pipe
from layout3d.fittings import hub as hubs
from layout3d.fittings.base import Fitting, FittingSize
from layout3d.fittings.hub import BACK
from layout3d.fittings.port import FittingShape
from layout3d.fittings.rings import BODY_SIDES, corners, mirrored, turned


class Cap(Fitting):
    """A cap."""

    def _size(self, catalog: Catalog, pipe: Pipe, smaller: Pipe | None) -> FittingSize:
        return self._sockets(pipe, 0.0, source=pipe.source_of("socket_depth"))

    def _shape(self, size: FittingSize, opening: float) -> FittingShape:
        pipe, face = size.pipe, size.face[0]
        wall, outside, wide = hubs.hub_wall(pipe), pipe.hub_diameter / 2.0, pipe.outside_diameter / 2.0
        dome = (
            (outside, 0.2 * wall),
            (0.93 * outside, 0.2 * wall + 0.13 * outside),
            (0.70 * outside, wall + 0.17 * outside),
            (0.0, wall + 0.22 * outside),
        )
        inside = corners(hubs.socket_sides(pipe), (0.0, 0.0), (wide, 0.0), (wide, -face))
        shape = turned([*inside, *mirrored(hubs.rim(pipe, face)), *corners(BODY_SIDES, *dome)])
        ports = (hubs.socket_port("a", pipe, BACK, face),)
        return FittingShape(kind=size.kind, shape=hubs.laid(shape), ports=ports)


CAP = Cap(kind="cap", place="end", word="cap", alone="end in a cap", in_tube=True)
