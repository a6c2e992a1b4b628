"""A wye: the run goes straight on, its branch leaves at 45 degrees, on with the run or back against it."""

from __future__ import annotations

import math

from layout3d.catalog import Catalog, Pipe
from layout3d.errors import OutOfRange
from layout3d.fields import Choice
from layout3d.fittings import hub as hubs
from layout3d.fittings.base import Fitting, FittingSize, Through, key, to_way
from layout3d.fittings.hub import BACK, ON
from layout3d.fittings.kept import kept
from layout3d.fittings.losses import Loss, fitting_loss
from layout3d.fittings.port import FittingShape, Vector
from layout3d.fittings.rings import turned

__all__ = ["WYE"]

ANGLE = math.pi / 4.0
BRANCH: Vector = (math.cos(ANGLE), math.sin(ANGLE), 0.0)


class Wye(Fitting):
    """A wye; centre to socket bottom is ``wye_back`` on the one side, ``wye_branch`` on the two others."""

    def _size(self, catalog: Catalog, pipe: Pipe, smaller: Pipe | None) -> FittingSize:
        back, branch = self._lengths(catalog, pipe, "wye_back", "wye_branch")
        least = pipe.outside_diameter / 2.0 / math.tan(ANGLE / 2.0)
        if branch < least:
            raise OutOfRange(
                f"sockets of a wye for {pipe.name} run into each other {branch * 1e3:.1f} mm from its centre",
                expected=f"a wye_branch of {least * 1e3:.1f} mm or more",
            )
        return self._sockets(pipe, back, branch, branch)

    def shape(self, size: FittingSize, *, opening: float = 1.0) -> FittingShape:
        """Return its shape: run along x, branch between x and y."""
        return _wye(size)

    def _loss(self, way: Through) -> Loss | None:
        return fitting_loss("wye_branch" if way.branch else "wye_run", way.bore)


WYE = Wye(
    kind="wye",
    place="inline",
    word="wye",
    step=to_way(
        "wye",
        "the side its branch is on; it points halfway between that way and the run",
        key(
            "lean",
            Choice(("on", "back")),
            "on",
            "whether it points on with the run (water parts), or back against it (water joins)",
        ),
    ),
    value="branch",
    half_turned=True,
)


@kept
def _wye(size: FittingSize) -> FittingShape:
    pipe, n = size.pipe, hubs.socket_sides(size.pipe)
    wide, bore = pipe.outside_diameter / 2.0, pipe.inside_diameter / 2.0
    body = bore + hubs.hub_wall(pipe)
    ways = tuple(zip((BACK, ON, BRANCH), size.take_off, size.face, strict=True))

    def inside(take_off: float, face: float) -> list[tuple[float, float, int]]:
        past = face + hubs.OVERRUN
        return [(bore, take_off, hubs.WATERWAY_SIDES), (wide, take_off, n), (wide, past, n), (0.0, past, 1)]

    back, on, branch = (inside(*lengths) for lengths in zip(size.take_off, size.face, strict=True))
    run = turned([*((r, -z, k) for r, z, k in reversed(back)), *on], closed=False)
    side = turned([(0.0, 0.0, 1), (bore, 0.0, hubs.WATERWAY_SIDES), *branch], closed=False)
    return hubs.carved(
        size.kind,
        [hubs.hub(size, body, take_off=length, start=0.0).solid(hubs.along(way)) for way, length, _ in ways],
        [run.solid(hubs.along(ON)), side.solid(hubs.along(BRANCH))],
        [
            hubs.socket_port(name, pipe, way, face)
            for name, (way, _, face) in zip(("a", "b", "branch"), ways, strict=True)
        ],
    )
