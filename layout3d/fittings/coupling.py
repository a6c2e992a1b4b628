"""A coupling: a plain sleeve with a stop in its middle."""

from __future__ import annotations

from layout3d.catalog import Catalog, Pipe
from layout3d.fittings import hub as hubs
from layout3d.fittings.base import Fitting, FittingSize
from layout3d.fittings.port import FittingShape


class Coupling(Fitting):
    """A coupling; socket bottom to socket bottom is the pipe's ``coupling_gap``."""

    def _size(self, catalog: Catalog, pipe: Pipe, smaller: Pipe | None) -> FittingSize:
        half = pipe.coupling_gap / 2.0
        return self._sockets(pipe, half, half, source=pipe.source_of("coupling_gap"))

    def _shape(self, size: FittingSize, opening: float) -> FittingShape:
        return hubs.straight(size, [])


COUPLING = Coupling(kind="coupling", place="inline", word="coupling", alone="a coupling")
