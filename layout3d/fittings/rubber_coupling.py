"""A rubber coupling with clamps: a flexible sleeve over two pipe ends of the same or of different outsides.

Its clamps loosen and have to be reached. It is made for drains; pressure blows it off. Forms are common
practice, no source; makers differ.
"""

from __future__ import annotations

from dataclasses import replace

from layout3d.catalog import Catalog, Pipe
from layout3d.fittings import hub as hubs
from layout3d.fittings.base import Fitting, FittingSize, Through, to_pipe
from layout3d.fittings.hub import BACK, ON
from layout3d.fittings.losses import Loss, fitting_loss, total_loss
from layout3d.fittings.port import FittingShape
from layout3d.fittings.rings import BODY_SIDES, corners, mirrored, turned
from layout3d.solid.boolean import union, whole
from layout3d.solid.primitives import box
from layout3d.solid.shape import Placement, Solid

WALL = 4.5e-3  # of the sleeve, [m]
STOP = 6e-3  # between the pipes' ends, [m]
BAND = (12e-3, 1e-3)  # width and thickness of a clamp, [m]
SCREW = (14e-3, 12e-3, 11e-3)  # housing of a clamp's screw: along the pipe, across, up, [m]


class RubberCoupling(Fitting):
    """A rubber coupling, sized by ``rubber_depth`` of either pipe: how far it goes in."""

    def _size(self, catalog: Catalog, pipe: Pipe, smaller: Pipe | None) -> FittingSize:
        depths = [self._lengths(catalog, each, "rubber_depth")[0] for each in (pipe, smaller or pipe)]
        wide = max(pipe.outside_diameter, (smaller or pipe).outside_diameter)
        return FittingSize(
            kind=self.kind,
            pipe=pipe,
            smaller=smaller,
            take_off=(STOP / 2.0, STOP / 2.0),
            face=(depths[0] + STOP / 2.0, depths[1] + STOP / 2.0),
            body_diameter=wide + 2.0 * (WALL + BAND[1]),
        )

    def loss(self, way: Through) -> Loss | None:
        """Return its loss; see ``Fitting.loss``."""
        return total_loss([fitting_loss(self.kind, way.bore), way.change])

    def _shape(self, size: FittingSize, opening: float) -> FittingShape:
        pipes, half = (size.pipe, size.smaller or size.pipe), STOP / 2.0
        ends = [
            [(pipe.outside_diameter / 2.0 + WALL, at, BODY_SIDES) for at in (half, face)]
            for pipe, face in zip(pipes, size.face, strict=True)
        ]
        first, second = (hubs.socket(pipe, half, face) for pipe, face in zip(pipes, size.face, strict=True))
        sleeve = turned([*mirrored(ends[0]), *ends[1], *reversed([*mirrored(first), *second])])
        solids = [sleeve.solid(hubs.along(ON))]
        for way, (radius, _, _), face in zip((-1.0, 1.0), (ends[0][0], ends[1][0]), size.face, strict=True):
            solids += _clamp(radius, way * (face + half) / 2.0)
        ports = tuple(
            replace(hubs.socket_port(name, pipe, way, face), socket_bottom=face - half)
            for name, pipe, way, face in zip("ab", pipes, (BACK, ON), size.face, strict=True)
        )
        return FittingShape(kind=size.kind, shape=whole(union(solids), size.kind).shape, ports=ports)


RUBBER_COUPLING = RubberCoupling(
    kind="rubber_coupling",
    place="inline",
    word="rubber_coupling",
    alone="a rubber coupling with clamps, on pipe of one size",
    step=to_pipe("rubber_coupling"),
    value="pipe",
    give="rubber_coupling_give",
    hand="tighten",
    drain_only=True,
    comes_apart=True,
    cemented=False,
    finish="dark",
)


def _clamp(radius: float, middle: float) -> list[Solid]:
    """Return a clamp's band round the sleeve, and the housing of its screw."""
    width, thick = BAND
    low, inner, outer = middle - width / 2.0, radius - 0.3 * WALL, radius + thick
    top = low + width
    band = turned(corners(BODY_SIDES, (inner, low), (outer, low), (outer, top), (inner, top)))
    screw = box(SCREW, centre=True).solid(Placement.at((middle, 0.0, radius + SCREW[2] / 2.0 - 0.5e-3)))
    return [band.solid(hubs.along(ON)), screw]
