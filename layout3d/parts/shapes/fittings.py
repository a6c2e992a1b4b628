"""Shapes of solvent-weld fittings from their catalogue sizes: elbows, tee, coupling, union, cap, bush.

Own axes: the run comes in along +x through port 'a' (which points to -x) and goes on along +x through 'b';
elbows turn towards +y, a tee's branch points to +y. The origin is where the axes cross; a cap's is its
socket's bottom, a bush's its spigot's tip. Sockets have the pipe's outside diameter all the way: the real
taper of about 0.1 mm, threads and mould marks are left out.
"""

from __future__ import annotations

import math

from layout3d.catalog.entry import FittingSize
from layout3d.errors import UnknownName, nearest
from layout3d.parts.shapes import hub as hubs
from layout3d.parts.shapes.kept import kept
from layout3d.parts.shapes.port import FittingPort, FittingShape, Vector
from layout3d.parts.shapes.rings import BODY_SIDES, bent_bar, circle, placed_ring, ring_arc, skin, turned
from layout3d.solid.shape import Shape, Solid

__all__ = ["cap", "coupling", "elbow", "fitting_shape", "reducing_bush", "tee", "union_fitting"]

BACK: Vector = (-1.0, 0.0, 0.0)
ON: Vector = (1.0, 0.0, 0.0)
SIDE: Vector = (0.0, 1.0, 0.0)
ELBOW_TURN = {"elbow_90": math.pi / 2.0, "elbow_45": math.pi / 4.0}
ELBOW_STEPS = {"elbow_90": 8, "elbow_45": 5}
UNION_NUT_SIDES = 12


@kept
def fitting_shape(size: FittingSize, *, opening: float = 1.0) -> FittingShape:
    """Return the shape of any fitting of the catalogue.

    Parameters
    ----------
    size : from ``Catalog.fitting``
    opening : of a ball valve, 1 open to 0 closed; others take no notice

    Raises
    ------
    UnknownName : a kind that has no shape.
    OutOfRange : sizes that leave no wall.
    """
    from layout3d.parts.shapes import tails, valves

    if size.kind == "ball_valve":
        return valves.ball_valve(size, opening=opening)
    makers = {
        "elbow_90": elbow,
        "elbow_45": elbow,
        "tee": tee,
        "coupling": coupling,
        "union": union_fitting,
        "cap": cap,
        "reducing_bush": reducing_bush,
        "check_valve": valves.check_valve,
        "strainer": tails.strainer,
        "nozzle": tails.nozzle,
    }
    if size.kind not in makers:
        raise UnknownName(f"{size.kind!r} has no shape", expected=nearest(size.kind, [*makers, "ball_valve"]))
    return makers[size.kind](size)


def elbow(size: FittingSize) -> FittingShape:
    """Return a 90 or 45 degree elbow with a round waterway."""
    pipe, turn = size.pipe, ELBOW_TURN[size.kind]
    take_off, face = size.take_off[0], size.face[0]
    bend_radius = take_off / math.tan(turn / 2.0)
    body = hubs.body_radius(size, bend_radius)
    onward: Vector = (math.cos(turn), math.sin(turn), 0.0)
    steps = ELBOW_STEPS[size.kind]
    one_hub = hubs.hub(size, body, take_off=take_off)
    outside = [
        bent_bar(bend_radius, turn, body, BODY_SIDES, steps).solid(),
        one_hub.solid(hubs.along(BACK)),
        one_hub.solid(hubs.along(onward)),
    ]
    return hubs.carved(
        size.kind,
        outside,
        [_bent_bore(size, turn, bend_radius, onward)],
        [hubs.socket_port("a", pipe, BACK, face), hubs.socket_port("b", pipe, onward, face)],
    )


def _bent_bore(size: FittingSize, turn: float, bend_radius: float, onward: Vector) -> Solid:
    """Both sockets and the waterway between them as one cutter."""
    pipe, n = size.pipe, hubs.socket_sides(size.pipe)
    wide = circle(pipe.outside_diameter / 2.0, n)
    take_off, past = size.take_off[0], size.face[0] + hubs.OVERRUN

    def at(direction: Vector, distance: float) -> Vector:
        return (direction[0] * distance, direction[1] * distance, direction[2] * distance)

    rings = [placed_ring(wide, at(BACK, past), ON), placed_ring(wide, at(BACK, take_off), ON)]
    rings += ring_arc(
        bend_radius, turn, pipe.inside_diameter / 2.0, hubs.WATERWAY_SIDES, ELBOW_STEPS[size.kind]
    )
    rings += [placed_ring(wide, at(onward, take_off), onward), placed_ring(wide, at(onward, past), onward)]
    ends = [ring.mean(axis=0, keepdims=True) for ring in (rings[0], rings[-1])]
    return skin([ends[0], *rings, ends[1]], closed=False).solid()


def tee(size: FittingSize) -> FittingShape:
    """Return an equal tee: run along x, branch to +y."""
    pipe, (take_off, face) = size.pipe, (size.take_off[0], size.face[0])
    body = hubs.body_radius(size, take_off)
    long_hub = hubs.hub(size, body, take_off=take_off, start=0.0)
    n, past = hubs.socket_sides(pipe), face + hubs.OVERRUN
    wide, bore = pipe.outside_diameter / 2.0, pipe.inside_diameter / 2.0
    half = [(bore, take_off, hubs.WATERWAY_SIDES), (wide, take_off, n), (wide, past, n), (0.0, past, 1)]
    mirrored = [(radius, -z, count) for radius, z, count in reversed(half)]
    run = turned([*mirrored, *half], closed=False)
    branch = turned([(0.0, 0.0, 1), (bore, 0.0, hubs.WATERWAY_SIDES), *half], closed=False)
    return hubs.carved(
        size.kind,
        [long_hub.solid(hubs.along(way)) for way in (BACK, ON, SIDE)],
        [run.solid(hubs.along(ON)), branch.solid(hubs.along(SIDE))],
        [
            hubs.socket_port("a", pipe, BACK, face),
            hubs.socket_port("b", pipe, ON, face),
            hubs.socket_port("branch", pipe, SIDE, face),
        ],
    )


def _straight(size: FittingSize, outside: list[tuple[float, float, int]]) -> FittingShape:
    """Return a straight fitting with two sockets; ``outside`` is its outline (radius, x, sides), x rising."""
    pipe, n = size.pipe, hubs.socket_sides(size.pipe)
    wide, bore, water = pipe.outside_diameter / 2.0, pipe.inside_diameter / 2.0, hubs.WATERWAY_SIDES
    (bottom, top), (face_a, face_b) = size.take_off, size.face
    inside = [
        (wide, face_b, n),
        (wide, top, n),
        (bore, top, water),
        (bore, -bottom, water),
        (wide, -bottom, n),
        (wide, -face_a, n),
    ]
    shape = turned([*outside, *inside])
    return FittingShape(
        kind=size.kind,
        shape=_laid(shape),
        ports=(hubs.socket_port("a", pipe, BACK, face_a), hubs.socket_port("b", pipe, ON, face_b)),
    )


def _laid(shape: Shape) -> Shape:
    """Lay a shape made along z along x."""
    return Shape.trusted(hubs.along(ON).apply(shape.vertices), shape.faces)


def coupling(size: FittingSize) -> FittingShape:
    """Return a coupling: a plain sleeve with a stop in its middle."""
    rim, outside, n = hubs.chamfer(size.pipe), size.pipe.hub_diameter / 2.0, BODY_SIDES
    face = size.face[0]
    return _straight(
        size,
        [
            (outside - rim, -face, n),
            (outside, rim - face, n),
            (outside, face - rim, n),
            (outside - rim, face, n),
        ],
    )


def union_fitting(size: FittingSize) -> FittingShape:
    """Return a union: two hubs and a nut with twelve flats, drawn tight."""
    pipe = size.pipe
    rim, outside, n = hubs.chamfer(pipe), pipe.hub_diameter / 2.0, BODY_SIDES
    face = size.face[0]
    # corners of a nut stand out beyond the circle of its area
    step = 2.0 * math.pi / UNION_NUT_SIDES
    nut = size.body_diameter / 2.0 / math.sqrt(step / math.sin(step))
    back, front = -0.30 * face, 0.45 * face
    collar = (outside + nut) / 2.0
    return _straight(
        size,
        [
            (outside - rim, -face, n),
            (outside, rim - face, n),
            (outside, back - 0.15 * face, n),
            (collar, back - 0.15 * face, n),
            (collar, back, n),
            (nut, back, UNION_NUT_SIDES),
            (nut, front, UNION_NUT_SIDES),
            (outside, front, n),
            (outside, face - rim, n),
            (outside - rim, face, n),
        ],
    )


def cap(size: FittingSize) -> FittingShape:
    """Return a cap; the origin is the socket's bottom."""
    pipe = size.pipe
    rim, wall, outside = hubs.chamfer(pipe), hubs.hub_wall(pipe), pipe.hub_diameter / 2.0
    face, n, m = size.face[0], BODY_SIDES, hubs.socket_sides(pipe)
    wide = pipe.outside_diameter / 2.0
    shape = turned(
        [
            (0.0, 0.0, 1),
            (wide, 0.0, m),
            (wide, -face, m),
            (outside - rim, -face, n),
            (outside, rim - face, n),
            (outside, 0.2 * wall, n),
            (0.93 * outside, 0.2 * wall + 0.13 * outside, n),
            (0.70 * outside, wall + 0.17 * outside, n),
            (0.0, wall + 0.22 * outside, 1),
        ],
        closed=False,
    )
    return FittingShape(kind=size.kind, shape=_laid(shape), ports=(hubs.socket_port("a", pipe, BACK, face),))


def reducing_bush(size: FittingSize) -> FittingShape:
    """Return a reducing bush: a spigot for the larger socket, a rim, a socket for the smaller pipe."""
    pipe, smaller = size.pipe, size.smaller
    if smaller is None:
        raise ValueError("FittingSize of a reducing bush lacks its smaller pipe")
    length, bottom = size.face[1], size.take_off[1]
    n, m, small = BODY_SIDES, hubs.socket_sides(pipe), hubs.socket_sides(smaller)
    spigot, rim = pipe.outside_diameter / 2.0, size.body_diameter / 2.0
    cut = 0.2 * (rim - spigot)
    socket, bore = smaller.outside_diameter / 2.0, smaller.inside_diameter / 2.0
    shape = turned(
        [
            (spigot, 0.0, m),
            (spigot, pipe.socket_depth, m),
            (rim, pipe.socket_depth, n),
            (rim, length - cut, n),
            (rim - cut, length, n),
            (socket, length, small),
            (socket, bottom, small),
            (bore, bottom, hubs.WATERWAY_SIDES),
            (bore, 0.0, hubs.WATERWAY_SIDES),
        ]
    )
    tip = FittingPort(
        name="a",
        at=(0.0, 0.0, 0.0),
        direction=BACK,
        end="spigot",
        socket_bottom=0.0,
        bore=smaller.inside_diameter,
    )
    return FittingShape(
        kind=size.kind, shape=_laid(shape), ports=(tip, hubs.socket_port("b", smaller, ON, length))
    )
