"""An equal tee: the run goes straight on, its branch is square to it."""

from __future__ import annotations

from layout3d.catalog import Catalog, Pipe
from layout3d.fittings import hub as hubs
from layout3d.fittings.base import Fitting, FittingSize, Through, to_way
from layout3d.fittings.hub import BACK, ON, SIDE
from layout3d.fittings.kept import kept
from layout3d.fittings.losses import Loss, fitting_loss
from layout3d.fittings.port import FittingShape
from layout3d.fittings.rings import turned

__all__ = ["TEE"]


class Tee(Fitting):
    """A tee; centre to socket bottom is the pipe's ``g_90`` on all three ends."""

    def _size(self, catalog: Catalog, pipe: Pipe, smaller: Pipe | None) -> FittingSize:
        return self._sockets(pipe, pipe.g_90, pipe.g_90, pipe.g_90, source=pipe.source_of("g_90"))

    def shape(self, size: FittingSize, *, opening: float = 1.0) -> FittingShape:
        """Return its shape: run along x, branch to +y."""
        return _tee(size)

    def _loss(self, way: Through) -> Loss | None:
        return fitting_loss("tee_branch" if way.branch else "tee_run", way.bore)


TEE = Tee(
    kind="tee",
    place="inline",
    word="tee",
    step=to_way("tee", "the way its branch points"),
    value="branch",
    half_turned=True,
)


@kept
def _tee(size: FittingSize) -> FittingShape:
    pipe, (take_off, face) = size.pipe, (size.take_off[0], size.face[0])
    body = hubs.body_radius(size, take_off)
    long_hub = hubs.hub(size, body, take_off=take_off, start=0.0)
    n, past = hubs.socket_sides(pipe), face + hubs.OVERRUN
    wide, bore = pipe.outside_diameter / 2.0, pipe.inside_diameter / 2.0
    half = [(bore, take_off, hubs.WATERWAY_SIDES), (wide, take_off, n), (wide, past, n), (0.0, past, 1)]
    mirrored = [(radius, -z, count) for radius, z, count in reversed(half)]
    run = turned([*mirrored, *half], closed=False)
    branch = turned([(0.0, 0.0, 1), (bore, 0.0, hubs.WATERWAY_SIDES), *half], closed=False)
    return hubs.carved(
        size.kind,
        [long_hub.solid(hubs.along(way)) for way in (BACK, ON, SIDE)],
        [run.solid(hubs.along(ON)), branch.solid(hubs.along(SIDE))],
        [*hubs.run_ports(size), hubs.socket_port("branch", pipe, SIDE, face)],
    )
