"""A rubber coupling with clamps: a flexible sleeve over two pipe ends of the same or of different outsides.

Its clamps loosen and have to be reached. It is made for drains; pressure blows it off. Forms are common
practice, no source; makers differ.
"""

from __future__ import annotations

from dataclasses import replace

from layout3d.catalog import Catalog, Pipe
from layout3d.catalog.entry import MEASURE_YOURS
from layout3d.fittings import hub as hubs
from layout3d.fittings.base import Fitting, FittingSize, Through, to_pipe
from layout3d.fittings.hub import BACK, ON
from layout3d.fittings.kept import kept
from layout3d.fittings.losses import Loss, change_loss, fitting_loss, total_loss
from layout3d.fittings.port import FittingShape
from layout3d.fittings.rings import BODY_SIDES, turned
from layout3d.solid.boolean import union
from layout3d.solid.primitives import box
from layout3d.solid.shape import Placement, Shape, Solid

__all__ = ["RUBBER_COUPLING"]

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
            source=MEASURE_YOURS,
        )

    def shape(self, size: FittingSize, *, opening: float = 1.0) -> FittingShape:
        """Return its shape, clamps tight, screws on top."""
        return _rubber_coupling(size)

    def _loss(self, way: Through) -> Loss | None:
        before, after = way.before or way.bore, way.after or way.bore
        change = change_loss(before, after) if way.forward else change_loss(after, before)
        return total_loss([fitting_loss(self.kind, way.bore), change.on_bore(min(before, after), way.bore)])


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
    finish="dark",
)


@kept
def _rubber_coupling(size: FittingSize) -> FittingShape:
    first, second = size.pipe, size.smaller or size.pipe
    (face_a, face_b), half = size.face, STOP / 2.0
    a, b = first.outside_diameter / 2.0, second.outside_diameter / 2.0
    bore_a, bore_b = first.inside_diameter / 2.0, second.inside_diameter / 2.0
    n, side_a, side_b = BODY_SIDES, hubs.socket_sides(first), hubs.socket_sides(second)
    sleeve = turned(
        [
            (a + WALL, -face_a, n),
            (a + WALL, -half, n),
            (b + WALL, half, n),
            (b + WALL, face_b, n),
            (b, face_b, side_b),
            (b, half, side_b),
            (bore_b, half, hubs.WATERWAY_SIDES),
            (bore_a, -half, hubs.WATERWAY_SIDES),
            (a, -half, side_a),
            (a, -face_a, side_a),
        ]
    )
    solids = [sleeve.solid(hubs.along(ON))]
    for radius, middle in ((a + WALL, -(face_a + half) / 2.0), (b + WALL, (face_b + half) / 2.0)):
        solids += _clamp(radius, middle)
    joined = union(solids)
    if joined is None:
        raise RuntimeError("fault of the program: _rubber_coupling() made nothing")
    ports = tuple(
        replace(hubs.socket_port(name, pipe, way, face), socket_bottom=face - half)
        for name, pipe, way, face in (("a", first, BACK, face_a), ("b", second, ON, face_b))
    )
    return FittingShape(kind=size.kind, shape=joined.shape, ports=ports)


def _clamp(radius: float, middle: float) -> list[Solid]:
    """Return a clamp's band round the sleeve, and the housing of its screw."""
    width, thick = BAND
    low, inner, outer = middle - width / 2.0, radius - 0.3 * WALL, radius + thick
    band: Shape = turned(
        [
            (inner, low, BODY_SIDES),
            (outer, low, BODY_SIDES),
            (outer, low + width, BODY_SIDES),
            (inner, low + width, BODY_SIDES),
        ]
    )
    screw = box(SCREW, centre=True).solid(Placement.at((middle, 0.0, radius + SCREW[2] / 2.0 - 0.5e-3)))
    return [band.solid(hubs.along(ON)), screw]
