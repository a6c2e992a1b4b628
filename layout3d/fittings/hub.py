"""What most fittings share: hubs round sockets, the wall of the body between them, and their ports.

Own axes of all fittings: the run comes in along +x through port 'a' (which points to -x) and goes on along +x
through 'b'; elbows turn towards +y, a branch points to +y; a valve's handle is up (+z). The origin is where
the axes cross. Sockets have the pipe's outside diameter all the way: the real taper of about 0.1 mm, threads
and mould marks are left out.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from layout3d.catalog.entry import Pipe
from layout3d.errors import OutOfRange
from layout3d.fittings.base import FittingSize
from layout3d.fittings.port import FittingPort, FittingShape, Vector
from layout3d.fittings.rings import BODY_SIDES, turned
from layout3d.solid.boolean import difference, union
from layout3d.solid.primitives import sides
from layout3d.solid.shape import Placement, Shape, Solid

__all__ = [
    "BACK",
    "ON",
    "OVERRUN",
    "SIDE",
    "WATERWAY_SIDES",
    "along",
    "barrel",
    "body_radius",
    "bores",
    "carved",
    "chamfer",
    "hub",
    "hub_wall",
    "laid",
    "run_ports",
    "socket_port",
    "socket_sides",
    "straight",
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
            f"{size.take_off[0] * 1e3:.1f} mm leaves no wall round a bore of {2e3 * bore:.1f} mm",
            expected="a take-off of half the bore and 1 mm, at least",
            remedy="measure the fitting from its centre to the bottom of the socket",
        )
    return radius


def hub(size: FittingSize, body: float, *, take_off: float, start: float | None = None) -> Shape:
    """Return a solid hub along z, shoulder (or ``start``) to face; ``body`` is the radius behind it, [m]."""
    pipe = size.pipe
    outside, rim = pipe.hub_diameter / 2.0, chamfer(pipe)
    face = take_off + pipe.socket_depth
    shoulder = take_off - 0.4 * hub_wall(pipe)
    behind = shoulder - max(outside - body, 1e-4)
    n = BODY_SIDES
    profile = [(0.0, behind, 1), (body, behind, n), (outside, shoulder, n), (outside, face - rim, n)]
    profile += [(outside - rim, face, n), (0.0, face, 1)]
    if start is not None and start < behind:
        profile[:2] = [(0.0, start, 1), (body, start, n), (body, behind, n)]
    return turned(profile, closed=False)


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
        up=UP,
    )


def carved(
    kind: str, outside: Sequence[Solid], bores: Iterable[Solid], ports: Sequence[FittingPort]
) -> FittingShape:
    """Join the solids of the outside, take the bores out, and return the fitting."""
    body = union(outside)
    result = difference(body, bores) if body else None
    if result is None:
        raise RuntimeError(f"fault of the program: carved() left nothing of a {kind}")
    return FittingShape(kind=kind, shape=result.shape, ports=tuple(ports))


def run_ports(size: FittingSize) -> tuple[FittingPort, FittingPort]:
    """Return the two sockets of a straight fitting."""
    return (
        socket_port("a", size.pipe, BACK, size.face[0]),
        socket_port("b", size.pipe, ON, size.face[1]),
    )


def laid(shape: Shape) -> Shape:
    """Lay a shape made along z along x."""
    return Shape.trusted(along(ON).apply(shape.vertices), shape.faces)


def straight(size: FittingSize, outside: list[tuple[float, float, int]]) -> FittingShape:
    """Return a straight fitting with two sockets; ``outside`` is its outline (radius, x, sides), x rising."""
    pipe, n = size.pipe, socket_sides(size.pipe)
    wide, bore = pipe.outside_diameter / 2.0, pipe.inside_diameter / 2.0
    (bottom, top), (face_a, face_b) = size.take_off, size.face
    inside = [
        (wide, face_b, n),
        (wide, top, n),
        (bore, top, WATERWAY_SIDES),
        (bore, -bottom, WATERWAY_SIDES),
        (wide, -bottom, n),
        (wide, -face_a, n),
    ]
    return FittingShape(kind=size.kind, shape=laid(turned([*outside, *inside])), ports=run_ports(size))


def barrel(size: FittingSize, middle: list[tuple[float, float]]) -> Solid:
    """Return both hubs and the barrel between them, solid, along x; ``middle`` is (radius, x)."""
    pipe, n, face = size.pipe, BODY_SIDES, size.face[0]
    rim, outside = chamfer(pipe), pipe.hub_diameter / 2.0
    shoulder = size.take_off[0] - 0.1 * hub_wall(pipe)
    profile = [(0.0, -face, 1), (outside - rim, -face, n), (outside, rim - face, n), (outside, -shoulder, n)]
    profile += [(radius, x, n) for radius, x in middle]
    profile += [(outside, shoulder, n), (outside, face - rim, n), (outside - rim, face, n), (0.0, face, 1)]
    return turned(profile, closed=False).solid(along(ON))


def bores(size: FittingSize, *, closed: bool) -> list[Solid]:
    """Return sockets and waterway as cutters: one right through, or two that stop at the ball."""
    pipe, n, water = size.pipe, socket_sides(size.pipe), WATERWAY_SIDES
    wide, bore = pipe.outside_diameter / 2.0, pipe.inside_diameter / 2.0
    bottom, past = size.take_off[0], size.face[0] + OVERRUN
    half = [(bore, bottom, water), (wide, bottom, n), (wide, past, n), (0.0, past, 1)]
    if closed:
        stop = 0.4 * bottom
        one = turned([(0.0, stop, 1), (bore, stop, water), *half], closed=False)
        return [one.solid(along(BACK)), one.solid(along(ON))]
    mirrored = [(radius, -z, count) for radius, z, count in reversed(half)]
    return [turned([*mirrored, *half], closed=False).solid(along(ON))]
