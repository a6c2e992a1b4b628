"""What most fittings share: hubs round sockets, the wall of the body between them, and their ports.

Own axes of all fittings: the run comes in along +x through port 'a' (which points to -x) and goes on along +x
through 'b'; elbows turn towards +y, a branch points to +y; a valve's handle is up (+z). The origin is where
the axes cross. Sockets have the pipe's outside diameter all the way: the real taper of about 0.1 mm, threads
and mould marks are left out.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace

from layout3d.catalog.entry import Pipe
from layout3d.errors import OutOfRange
from layout3d.fittings.base import FittingSize
from layout3d.fittings.port import FittingPort, FittingShape, Vector
from layout3d.fittings.rings import BODY_SIDES, Outline, corners, mirrored, turned
from layout3d.solid.boolean import difference, union, whole
from layout3d.solid.primitives import sides
from layout3d.solid.shape import Placement, Shape, Solid
from layout3d.units import show

__all__ = [
    "BACK",
    "ON",
    "OVERRUN",
    "SIDE",
    "WATERWAY_SIDES",
    "along",
    "blind_bore",
    "body_radius",
    "branched",
    "carved",
    "chamfer",
    "hub",
    "hub_wall",
    "laid",
    "rim",
    "socket",
    "socket_port",
    "socket_sides",
    "straight",
    "valve",
]

UP: Vector = (0.0, 0.0, 1.0)
BACK: Vector = (-1.0, 0.0, 0.0)
ON: Vector = (1.0, 0.0, 0.0)
SIDE: Vector = (0.0, 1.0, 0.0)
WATERWAY_SIDES = 32  # of the bore between sockets; it keeps its true area
OVERRUN = 1e-3  # how far a cutter reaches past a face, [m]


def along(direction: Vector, at: Vector = (0.0, 0.0, 0.0)) -> Placement:
    """Return the placement that lays a shape made along z along ``direction``, its x up."""
    return Placement.from_frame(at, UP, direction)


def socket_sides(pipe: Pipe) -> int:
    """Return how many sides a socket has: as many as the pipe made for it."""
    return sides(pipe.outside_diameter / 2.0)


def hub_wall(pipe: Pipe) -> float:
    """Return the wall of a hub, [m]."""
    return (pipe.hub_diameter - pipe.outside_diameter) / 2.0


def chamfer(pipe: Pipe) -> float:
    """Return the chamfer of a hub's rim, [m]."""
    return 0.2 * hub_wall(pipe)


def body_radius(size: FittingSize, bend_radius: float) -> float:
    """Return the outside radius of the body between hubs, [m]: the bore with a hub's wall, if it fits.

    Raises
    ------
    OutOfRange : centre to socket bottom is too short for the bore to get round the corner.
    """
    pipe = size.pipe
    bore = pipe.inside_diameter / 2.0
    radius = min(bore + hub_wall(pipe), 0.98 * bend_radius)
    if radius < bore + 1e-3:
        raise OutOfRange(
            f"{size.kind.replace('_', ' ')} for {pipe.name}: centre to socket bottom of "
            f"{show(size.take_off[0], 'length')} leaves no wall round a bore of {show(2.0 * bore, 'length')}",
            expected=f"a take-off of half the bore and {show(1e-3, 'length')}, at least",
            remedy="measure the fitting from its centre to the bottom of the socket",
        )
    return radius


def rim(pipe: Pipe, face: float) -> Outline:
    """Return the outline of a hub's chamfered rim at ``face``, from its outside in."""
    outside, cut = pipe.hub_diameter / 2.0, chamfer(pipe)
    return corners(BODY_SIDES, (outside, face - cut), (outside - cut, face))


def socket(pipe: Pipe, bottom: float, end: float) -> Outline:
    """Return the outline of waterway and socket from its bottom to ``end``."""
    wide, bore = pipe.outside_diameter / 2.0, pipe.inside_diameter / 2.0
    return [(bore, bottom, WATERWAY_SIDES), *corners(socket_sides(pipe), (wide, bottom), (wide, end))]


def hub(size: FittingSize, body: float, *, take_off: float, start: float | None = None) -> Shape:
    """Return a solid hub along z, shoulder (or ``start``) to face; ``body`` is the radius behind it, [m]."""
    pipe = size.pipe
    outside, face = pipe.hub_diameter / 2.0, take_off + pipe.socket_depth
    shoulder = take_off - 0.4 * hub_wall(pipe)
    behind = shoulder - max(outside - body, 1e-4)
    foot = corners(BODY_SIDES, (0.0, behind), (body, behind))
    if start is not None and start < behind:
        foot = corners(BODY_SIDES, (0.0, start), (body, start), (body, behind))
    return turned([*foot, (outside, shoulder, BODY_SIDES), *rim(pipe, face), (0.0, face, 1)])


def socket_port(name: str, pipe: Pipe, direction: Vector, face: float) -> FittingPort:
    """Return the port of a socket whose face lies ``face`` from the origin along ``direction``."""
    x, y, z = (face * way for way in direction)
    return FittingPort(
        name=name,
        at=(x, y, z),
        direction=direction,
        end="socket",
        socket_bottom=pipe.socket_depth,
        bore=pipe.inside_diameter,
    )


def carved(
    kind: str, outside: Sequence[Solid], bores: Iterable[Solid], ports: Sequence[FittingPort]
) -> FittingShape:
    """Join the solids of the outside, take the bores out, and return the fitting."""
    made = whole(difference(whole(union(outside), kind), bores), kind)
    return FittingShape(kind=kind, shape=made.shape, ports=tuple(ports))


def laid(shape: Shape, placement: Placement | None = None) -> Shape:
    """Return a shape made anew where ``placement`` puts it; by default, one made along z laid along x."""
    return Shape.trusted((placement or along(ON)).apply(shape.vertices), shape.faces)


def straight(size: FittingSize, middle: Outline) -> FittingShape:
    """Return a straight fitting with two sockets; ``middle`` is its outline between its rims, x rising."""
    first, last = (rim(size.pipe, face) for face in size.face)
    inside = _both(lambda port: socket(size.pipe, size.take_off[port], size.face[port]))
    shape = turned([*mirrored(first), *middle, *last, *reversed(inside)])
    return FittingShape(kind=size.kind, shape=laid(shape), ports=_run_ports(size))


def valve(
    size: FittingSize, middle: Outline, *more: Solid, shut: bool = False, room: Shape | None = None
) -> FittingShape:
    """Return a straight fitting with a waterway, stopped where ``shut``, and ``more`` on its outside.

    ``middle`` is the outline between its hubs, x rising; ``room`` what a hand needs around it.
    """
    pipe, face = size.pipe, size.face[0]
    shoulder = (pipe.hub_diameter / 2.0, size.take_off[0] - 0.1 * hub_wall(pipe), BODY_SIDES)
    half = [shoulder, *rim(pipe, face), (0.0, face, 1)]
    barrel = turned([*mirrored(half), *middle, *half]).solid(along(ON))
    stop = 0.4 * size.take_off[0]
    bores = (
        [blind_bore(size, port, stop, way) for port, way in enumerate((BACK, ON))] if shut else [_bore(size)]
    )
    return replace(carved(size.kind, [barrel, *more], bores, _run_ports(size)), room=room)


def branched(size: FittingSize, body: float, branch: Vector) -> FittingShape:
    """Return a run along x with a ``branch`` from its middle; ``body`` is its radius between hubs, [m]."""
    ways = (BACK, ON, branch)
    return carved(
        size.kind,
        [
            hub(size, body, take_off=take_off, start=0.0).solid(along(way))
            for way, take_off in zip(ways, size.take_off, strict=True)
        ],
        [_bore(size), blind_bore(size, 2, 0.0, branch)],
        [*_run_ports(size), socket_port("branch", size.pipe, branch, size.face[2])],
    )


def blind_bore(size: FittingSize, port: int, start: float, way: Vector) -> Solid:
    """Return waterway and socket of one port as a cutter that begins ``start`` from the origin, [m]."""
    first = corners(WATERWAY_SIDES, (0.0, start), (size.pipe.inside_diameter / 2.0, start))
    return turned([*first, *_cut(size, port)]).solid(along(way))


def _bore(size: FittingSize) -> Solid:
    """Return both sockets of the run and its waterway as one cutter."""
    return turned(_both(lambda port: _cut(size, port))).solid(along(ON))


def _cut(size: FittingSize, port: int) -> Outline:
    past = size.face[port] + OVERRUN
    return [*socket(size.pipe, size.take_off[port], past), (0.0, past, 1)]


def _both(half: Callable[[int], Outline]) -> Outline:
    """Return the outline of both halves of a run, each given for its port, along +x."""
    return [*mirrored(half(0)), *half(1)]


def _run_ports(size: FittingSize) -> tuple[FittingPort, FittingPort]:
    return socket_port("a", size.pipe, BACK, size.face[0]), socket_port("b", size.pipe, ON, size.face[1])
