"""A wye: the run goes straight on, its branch leaves at 45 degrees, on with the run or back against it."""

from __future__ import annotations

import math

from layout3d.catalog import Catalog, Pipe
from layout3d.errors import OutOfRange
from layout3d.fields import Choice
from layout3d.fittings import hub as hubs
from layout3d.fittings.base import Fitting, FittingSize, key, to_way
from layout3d.fittings.port import FittingShape, Vector
from layout3d.units import show

ANGLE = math.pi / 4.0
BRANCH: Vector = (math.cos(ANGLE), math.sin(ANGLE), 0.0)


class Wye(Fitting):
    """A wye; centre to socket bottom is ``wye_back`` on the one side, ``wye_branch`` on the two others."""

    def _size(self, catalog: Catalog, pipe: Pipe, smaller: Pipe | None) -> FittingSize:
        back, branch = self._lengths(catalog, pipe, "wye_back", "wye_branch")
        least = pipe.outside_diameter / 2.0 / math.tan(ANGLE / 2.0)
        if branch < least:
            raise OutOfRange(
                f"sockets of a wye for {pipe.name} run into each other "
                f"{show(branch, 'length')} from its centre",
                expected=f"a wye_branch of {show(least, 'length')} or more",
            )
        return self._sockets(pipe, back, branch, branch)

    def _shape(self, size: FittingSize, opening: float) -> FittingShape:
        body = size.pipe.inside_diameter / 2.0 + hubs.hub_wall(size.pipe)
        return hubs.branched(size, body, BRANCH)


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
    losses=("wye_run", "wye_branch"),
    half_turned=True,
)
