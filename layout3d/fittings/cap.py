"""A cap on the end of a pipe, or a plug in a tube's; its origin is the socket's bottom."""

from __future__ import annotations

from layout3d.catalog import Catalog, Pipe
from layout3d.fittings import hub as hubs
from layout3d.fittings.base import Fitting, FittingSize, Through
from layout3d.fittings.hub import BACK
from layout3d.fittings.kept import kept
from layout3d.fittings.losses import Loss
from layout3d.fittings.port import FittingShape
from layout3d.fittings.rings import BODY_SIDES, turned

__all__ = ["CAP"]


class Cap(Fitting):
    """A cap."""

    def _size(self, catalog: Catalog, pipe: Pipe, smaller: Pipe | None) -> FittingSize:
        return self._sockets(pipe, 0.0, source=pipe.source_of("socket_depth"))

    def shape(self, size: FittingSize, *, opening: float = 1.0) -> FittingShape:
        """Return its shape."""
        return _cap(size)

    def _loss(self, way: Through) -> Loss | None:
        return None  # nothing gets through


CAP = Cap(kind="cap", place="end", word="cap", alone="end in a cap", in_tube=True)


@kept
def _cap(size: FittingSize) -> FittingShape:
    pipe = size.pipe
    rim, wall, outside = hubs.chamfer(pipe), hubs.hub_wall(pipe), pipe.hub_diameter / 2.0
    face, n, m = size.face[0], BODY_SIDES, hubs.socket_sides(pipe)
    wide = pipe.outside_diameter / 2.0
    shape = turned(
        [
            (0.0, 0.0, 1),
            (wide, 0.0, m),
            (wide, -face, m),
            (outside - rim, -face, n),
            (outside, rim - face, n),
            (outside, 0.2 * wall, n),
            (0.93 * outside, 0.2 * wall + 0.13 * outside, n),
            (0.70 * outside, wall + 0.17 * outside, n),
            (0.0, wall + 0.22 * outside, 1),
        ],
        closed=False,
    )
    ports = (hubs.socket_port("a", pipe, BACK, face),)
    return FittingShape(kind=size.kind, shape=hubs.laid(shape), ports=ports)
