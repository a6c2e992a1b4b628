"""A union: two hubs and a nut with twelve flats, drawn tight; what can be opened again."""

from __future__ import annotations

import math

from layout3d.catalog import Catalog, Pipe
from layout3d.fittings import hub as hubs
from layout3d.fittings.base import Fitting, FittingSize
from layout3d.fittings.kept import kept
from layout3d.fittings.port import FittingShape
from layout3d.fittings.rings import BODY_SIDES

__all__ = ["UNION"]

NUT_SIDES = 12


class Union(Fitting):
    """A union, sized by ``union_gap`` and ``union_body``."""

    def _size(self, catalog: Catalog, pipe: Pipe, smaller: Pipe | None) -> FittingSize:
        gap, body = self._lengths(catalog, pipe, "union_gap", "union_body")
        return self._sockets(pipe, gap / 2.0, gap / 2.0, body=body)

    def shape(self, size: FittingSize, *, opening: float = 1.0) -> FittingShape:
        """Return its shape."""
        return _union(size)


UNION = Union(kind="union", place="inline", word="union", alone="a union", hand="open", finish="valve")


@kept
def _union(size: FittingSize) -> FittingShape:
    rim, outside, n = hubs.chamfer(size.pipe), size.pipe.hub_diameter / 2.0, BODY_SIDES
    face = size.face[0]
    # corners of a nut stand out beyond the circle of its area
    step = 2.0 * math.pi / NUT_SIDES
    nut = size.body_diameter / 2.0 / math.sqrt(step / math.sin(step))
    back, front = -0.30 * face, 0.45 * face
    collar = (outside + nut) / 2.0
    return hubs.straight(
        size,
        [
            (outside - rim, -face, n),
            (outside, rim - face, n),
            (outside, back - 0.15 * face, n),
            (collar, back - 0.15 * face, n),
            (collar, back, n),
            (nut, back, NUT_SIDES),
            (nut, front, NUT_SIDES),
            (outside, front, n),
            (outside, face - rim, n),
            (outside - rim, face, n),
        ],
    )
