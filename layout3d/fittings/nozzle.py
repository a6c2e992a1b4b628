"""A return nozzle: a socket, then a cone to a round mouth of 0.6 times the bore (port 'b').

Forms and lengths are common practice, no source; makers differ.
"""

from __future__ import annotations

from layout3d.catalog import Catalog, Pipe
from layout3d.fittings import hub as hubs
from layout3d.fittings.base import Fitting, FittingSize, Through
from layout3d.fittings.hub import BACK, ON
from layout3d.fittings.kept import kept
from layout3d.fittings.losses import Loss, nozzle_loss
from layout3d.fittings.port import FittingPort, FittingShape
from layout3d.fittings.rings import BODY_SIDES, turned

__all__ = ["NOZZLE"]

MOUTH = 0.6  # of the pipe's bore


class Nozzle(Fitting):
    """A nozzle. Its loss has the exit in it: the whole velocity head of its mouth leaves."""

    def _size(self, catalog: Catalog, pipe: Pipe, smaller: Pipe | None) -> FittingSize:
        return self._sockets(pipe, 0.0)

    def shape(self, size: FittingSize, *, opening: float = 1.0) -> FittingShape:
        """Return its shape."""
        return _nozzle(size)

    def _loss(self, way: Through) -> Loss | None:
        pipe = way.before or way.bore / MOUTH
        return nozzle_loss(pipe, way.bore).on_bore(pipe, way.bore)


NOZZLE = Nozzle(kind="nozzle", place="end", word="nozzle", alone="end in a nozzle", finish="dark")


@kept
def _nozzle(size: FittingSize) -> FittingShape:
    """Return a return nozzle: a socket, then a cone to a round mouth of 0.6 times the bore (port 'b')."""
    pipe, n, m, water = size.pipe, BODY_SIDES, hubs.socket_sides(size.pipe), hubs.WATERWAY_SIDES
    rim, wide, bore = hubs.chamfer(pipe), pipe.outside_diameter / 2.0, pipe.inside_diameter / 2.0
    hub, face, web = pipe.hub_diameter / 2.0, size.face[0], hubs.hub_wall(pipe)
    mouth, length = MOUTH * bore, 1.5 * pipe.outside_diameter
    wall = max(0.6 * web, 1.5e-3)
    shape = turned(
        [
            (hub - rim, -face, n),
            (hub, rim - face, n),
            (hub, 0.5 * web, n),
            (bore + wall, 0.5 * web + (hub - bore - wall), n),
            (mouth + wall, 0.85 * length, n),
            (mouth + wall, length, n),
            (mouth, length, water),
            (mouth, 0.85 * length, water),
            (bore, web, water),
            (bore, 0.0, water),
            (wide, 0.0, m),
            (wide, -face, m),
        ]
    )
    out = FittingPort(
        name="b", at=(length, 0.0, 0.0), direction=ON, end="open", socket_bottom=0.0, bore=2.0 * mouth
    )
    return FittingShape(
        kind=size.kind, shape=hubs.laid(shape), ports=(hubs.socket_port("a", pipe, BACK, face), out)
    )
