"""A reducing bush: a spigot for the larger socket, a rim, a socket for the smaller pipe.

Its origin is the spigot's tip. A route's ``reduce`` puts it in a coupling of the wider pipe.
"""

from __future__ import annotations

from layout3d.catalog import Catalog, Pipe
from layout3d.errors import OutOfRange, SceneMistake
from layout3d.fittings import hub as hubs
from layout3d.fittings.base import Fitting, FittingSize, Through, to_pipe
from layout3d.fittings.hub import BACK, ON
from layout3d.fittings.losses import Loss
from layout3d.fittings.port import FittingPort, FittingShape
from layout3d.fittings.rings import BODY_SIDES, corners, turned
from layout3d.units import show

RIM = 0.004  # what stays outside of the larger socket, [m]. Common practice, no source


class ReducingBush(Fitting):
    """A bush; the larger pipe's socket takes its whole spigot, and its own socket lies within."""

    @property
    def said(self) -> str:
        """Its name in a sentence, as a step of a route."""
        return "reduction"

    def _size(self, catalog: Catalog, pipe: Pipe, smaller: Pipe | None) -> FittingSize:
        if smaller is None:
            raise SceneMistake(
                f"a reducing bush in {pipe.name} lacks the pipe it comes down to",
                expected="the name of a smaller pipe",
            )
        if smaller.outside_diameter + 2e-3 > pipe.outside_diameter:
            raise OutOfRange(
                f"a reducing bush from {pipe.name} to {smaller.name} has no wall: "
                f"{show(pipe.outside_diameter, 'length', digits=4)} outside, "
                f"{show(smaller.outside_diameter, 'length', digits=4)} socket",
                expected=f"a smaller pipe at least {show(2e-3, 'length')} below the larger one's outside",
            )
        spigot = max(pipe.socket_depth, smaller.socket_depth)
        length = max(pipe.socket_depth + RIM, spigot + 1e-3)
        return FittingSize(
            kind=self.kind,
            pipe=pipe,
            smaller=smaller,
            take_off=(0.0, length - smaller.socket_depth),
            face=(0.0, length),
            body_diameter=(pipe.outside_diameter + pipe.hub_diameter) / 2.0,
        )

    def loss(self, way: Through) -> Loss | None:
        """Return its loss; see ``Fitting.loss``."""
        return way.change

    def _shape(self, size: FittingSize, opening: float) -> FittingShape:
        pipe, smaller = size.pipe, size.smaller
        if smaller is None:
            raise ValueError("FittingSize of a reducing bush lacks its smaller pipe")
        length, depth = size.face[1], pipe.socket_depth
        spigot, rim = pipe.outside_diameter / 2.0, size.body_diameter / 2.0
        cut = 0.2 * (rim - spigot)
        shape = turned(
            [
                *corners(hubs.socket_sides(pipe), (spigot, 0.0), (spigot, depth)),
                *corners(BODY_SIDES, (rim, depth), (rim, length - cut), (rim - cut, length)),
                *reversed(hubs.socket(smaller, size.take_off[1], length)),
                (smaller.inside_diameter / 2.0, 0.0, hubs.WATERWAY_SIDES),
            ]
        )
        tip = FittingPort(
            name="a", at=(0.0, 0.0, 0.0), direction=BACK, end="spigot", bore=smaller.inside_diameter
        )
        ports = (tip, hubs.socket_port("b", smaller, ON, length))
        return FittingShape(kind=size.kind, shape=hubs.laid(shape), ports=ports)


REDUCING_BUSH = ReducingBush(
    kind="reducing_bush",
    place="inline",
    word="reduce",
    step=to_pipe("reduce"),
    value="pipe",
    holder="coupling",
)
