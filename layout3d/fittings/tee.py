"""An equal tee: the run goes straight on, its branch is square to it."""

from __future__ import annotations

from layout3d.catalog import Catalog, Pipe
from layout3d.fittings import hub as hubs
from layout3d.fittings.base import Fitting, FittingSize, to_way
from layout3d.fittings.hub import SIDE
from layout3d.fittings.port import FittingShape


class Tee(Fitting):
    """A tee; centre to socket bottom is the pipe's ``g_90`` on all three ends."""

    def _size(self, catalog: Catalog, pipe: Pipe, smaller: Pipe | None) -> FittingSize:
        return self._sockets(pipe, pipe.g_90, pipe.g_90, pipe.g_90, source=pipe.source_of("g_90"))

    def _shape(self, size: FittingSize, opening: float) -> FittingShape:
        return hubs.branched(size, hubs.body_radius(size, size.take_off[0]), SIDE)


TEE = Tee(
    kind="tee",
    place="inline",
    word="tee",
    step=to_way("tee", "the way its branch points"),
    value="branch",
    losses=("tee_run", "tee_branch"),
    half_turned=True,
)
