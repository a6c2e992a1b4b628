"""A return nozzle: a socket, then a cone to a round mouth of 0.6 times the bore (port 'b').

Forms and lengths are common practice, no source; makers differ.
"""

from __future__ import annotations

from layout3d.catalog import Catalog, Pipe
from layout3d.fittings import hub as hubs
from layout3d.fittings.base import Fitting, FittingSize
from layout3d.fittings.hub import BACK, ON
from layout3d.fittings.port import FittingPort, FittingShape
from layout3d.fittings.rings import BODY_SIDES, corners, mirrored, turned

MOUTH = 0.6  # of the pipe's bore


class Nozzle(Fitting):
    """A nozzle. What it costs has the exit in it: see ``losses.nozzle_loss``."""

    def _size(self, catalog: Catalog, pipe: Pipe, smaller: Pipe | None) -> FittingSize:
        return self._sockets(pipe, 0.0)

    def _shape(self, size: FittingSize, opening: float) -> FittingShape:
        pipe, face, web = size.pipe, size.face[0], hubs.hub_wall(size.pipe)
        hub, wide, bore = (d / 2.0 for d in (pipe.hub_diameter, pipe.outside_diameter, pipe.inside_diameter))
        mouth, length = MOUTH * bore, 1.5 * pipe.outside_diameter
        wall = max(0.6 * web, 1.5e-3)
        cone = ((hub, 0.5 * web), (bore + wall, 0.5 * web + (hub - bore - wall)))
        tip = ((mouth + wall, 0.85 * length), (mouth + wall, length))
        water = ((mouth, length), (mouth, 0.85 * length), (bore, web), (bore, 0.0))
        shape = turned(
            [
                *mirrored(hubs.rim(pipe, face)),
                *corners(BODY_SIDES, *cone, *tip),
                *corners(hubs.WATERWAY_SIDES, *water),
                *corners(hubs.socket_sides(pipe), (wide, 0.0), (wide, -face)),
            ]
        )
        out = FittingPort(name="b", at=(length, 0.0, 0.0), direction=ON, end="open", bore=2.0 * mouth)
        ports = (hubs.socket_port("a", pipe, BACK, face), out)
        return FittingShape(kind=size.kind, shape=hubs.laid(shape), ports=ports)


NOZZLE = Nozzle(kind="nozzle", place="end", word="nozzle", alone="end in a nozzle", finish="dark")
