"""Shapes of what ends a run or changes it to tube: barbs, strainers, nozzles. Threads are left out.

Own axes as in ``fittings``: the run comes in along +x at port 'a'; the origin is where the pipe ends. Forms
and lengths are common practice, no source; makers differ.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from layout3d.catalog.entry import FittingSize, Pipe, Tube
from layout3d.catalog.fitting import barb_size
from layout3d.errors import OutOfRange
from layout3d.parts.shapes import hub as hubs
from layout3d.parts.shapes.kept import kept
from layout3d.parts.shapes.port import FittingPort, FittingShape, Vector
from layout3d.parts.shapes.rings import BODY_SIDES, turned
from layout3d.solid.primitives import box
from layout3d.solid.shape import Placement, Shape, Solid

__all__ = ["StrainerSlots", "barb", "nozzle", "strainer", "strainer_slots"]

BACK: Vector = (-1.0, 0.0, 0.0)
ON: Vector = (1.0, 0.0, 0.0)
TEETH = 3
SLOT = 2e-3  # width of a strainer's slots, [m]
SLOT_PAIRS = 8  # slots that face each other


def _laid(shape: Shape) -> Shape:
    return Shape.trusted(hubs.along(ON).apply(shape.vertices), shape.faces)


@kept
def barb(pipe: Pipe, tube: Tube, *, spigot: bool = False) -> FittingShape:
    """Return a barb for a tube on a socket for a pipe, or on a spigot that goes into a pipe's socket.

    Ports: 'a' takes the pipe (or is the spigot's tip); 'b' is the barb's tip, over which the tube is pushed
    up to the collar. The tube is stretched over the barb: the two share space on purpose.

    Raises
    ------
    OutOfRange : the tube is a hose that is cemented into sockets itself.
    """
    if tube.kind == "hose":
        raise OutOfRange(
            f"{tube.name} is cemented into sockets of its size and goes on no barb",
            expected="a flexible tube",
            remedy="join the hose to a socket, or name a tube",
        )
    outside, bore, length = (value / 2.0 for value in barb_size(tube))
    length *= 2.0
    n, m, water = BODY_SIDES, hubs.socket_sides(pipe), hubs.WATERWAY_SIDES
    wide, root = pipe.outside_diameter / 2.0, min(tube.inside / 2.0, 0.95 * outside)
    bore = min(bore, pipe.inside_diameter / 2.0)
    collar = max(pipe.hub_diameter / 2.0, 1.15 * tube.outside / 2.0)
    web = max(hubs.hub_wall(pipe), 2e-3)
    depth = pipe.socket_depth
    tail = []
    for tooth in range(TEETH):
        start = web + length * tooth / TEETH
        tail += [(root, start + 0.1 * length / TEETH, 32), (outside, start + 0.4 * length / TEETH, 32)]
    tip = web + length
    tail += [(0.97 * root, tip, 32), (bore, tip, water)]
    if spigot:
        profile = [
            (bore, -depth, water),
            (wide, -depth, m),
            (wide, 0.0, m),
            (collar, 0.0, n),
            (collar, web, n),
        ]
    else:
        rim = hubs.chamfer(pipe)
        profile = [(bore, 0.0, water), (wide, 0.0, m), (wide, -depth, m), (collar - rim, -depth, n)]
        profile += [(collar, rim - depth, n), (collar, web, n)]
    shape = turned([*profile, (root, web, 32), *tail])
    first = FittingPort(
        name="a",
        at=(-depth, 0.0, 0.0),
        direction=BACK,
        end="spigot" if spigot else "socket",
        socket_bottom=0.0 if spigot else depth,
        bore=2.0 * bore,
    )
    second = FittingPort(
        name="b", at=(tip, 0.0, 0.0), direction=ON, end="barb", socket_bottom=length, bore=2.0 * bore
    )
    return FittingShape(kind="barb", shape=_laid(shape), ports=(first, second))


@dataclass(frozen=True, slots=True, kw_only=True)
class StrainerSlots:
    """Where a strainer's slots are, in its own axes: +x from the end of the pipe to the closed end, [m].

    ``rows`` are the (start, end) of each row along x; a row has a slot of ``width`` at each of ``angles``
    [rad] round the axis, from the z axis, on a basket of ``radius`` outside.
    """

    rows: tuple[tuple[float, float], ...]
    angles: tuple[float, ...]
    width: float
    radius: float


def strainer_slots(size: FittingSize) -> StrainerSlots:
    """Return where the slots of a strainer are: what water can get through."""
    wall, outside = _basket(size)
    start, end = hubs.hub_wall(size.pipe) + wall, _basket_length(size) - 2.5 * wall
    rib = 0.1 * (end - start)
    row = (end - start - rib) / 2.0
    return StrainerSlots(
        rows=((start, start + row), (end - row, end)),
        angles=tuple(math.pi * (number + 0.5) / SLOT_PAIRS for number in range(2 * SLOT_PAIRS)),
        width=SLOT,
        radius=outside,
    )


def _basket(size: FittingSize) -> tuple[float, float]:
    """Return wall and outside radius of a strainer's basket, [m]."""
    outside = size.body_diameter / 2.0
    wall = max(0.08 * outside, 2e-3)
    return wall, max(outside, size.pipe.hub_diameter / 2.0)


def _basket_length(size: FittingSize) -> float:
    return 2.2 * size.pipe.outside_diameter


def strainer(size: FittingSize) -> FittingShape:
    """Return a suction strainer: a slotted basket on a socket; slots are 2 mm wide."""
    pipe, n, m = size.pipe, BODY_SIDES, hubs.socket_sides(size.pipe)
    rim, wide, bore = hubs.chamfer(pipe), pipe.outside_diameter / 2.0, pipe.inside_diameter / 2.0
    hub, face, web = pipe.hub_diameter / 2.0, size.face[0], hubs.hub_wall(pipe)
    length, (wall, outside) = _basket_length(size), _basket(size)
    inside = outside - wall
    profile = [
        (0.0, length - wall, 1),
        (inside, length - wall, 32),
        (inside, web, 32),
        (bore, web, hubs.WATERWAY_SIDES),
        (bore, 0.0, hubs.WATERWAY_SIDES),
        (wide, 0.0, m),
        (wide, -face, m),
        (hub - rim, -face, n),
        (hub, rim - face, n),
        (hub, -0.5 * web, n),
        (outside, 0.0, n),
        (outside, length - 2.0 * wall, n),
        (outside - wall, length, n),
        (0.0, length, 1),
    ]
    basket = turned(profile, closed=False).solid(hubs.along(ON))
    return hubs.carved(
        size.kind,
        [basket],
        _slots(strainer_slots(size)),
        [hubs.socket_port("a", pipe, BACK, face)],
    )


def _slots(slots: StrainerSlots) -> list[Solid]:
    """Return bars that each cut two slots facing each other."""
    row = slots.rows[0][1] - slots.rows[0][0]
    bar = box((row, slots.width, 2.2 * slots.radius), centre=True)
    return [
        bar.solid(Placement.turned(ON, angle) @ Placement.at(((start + end) / 2.0, 0.0, 0.0)))
        for angle in slots.angles[:SLOT_PAIRS]
        for start, end in slots.rows
    ]


def nozzle(size: FittingSize) -> FittingShape:
    """Return a return nozzle: a socket, then a cone to a round mouth of 0.6 times the bore (port 'b')."""
    pipe, n, m, water = size.pipe, BODY_SIDES, hubs.socket_sides(size.pipe), hubs.WATERWAY_SIDES
    rim, wide, bore = hubs.chamfer(pipe), pipe.outside_diameter / 2.0, pipe.inside_diameter / 2.0
    hub, face, web = pipe.hub_diameter / 2.0, size.face[0], hubs.hub_wall(pipe)
    mouth, length = 0.6 * bore, 1.5 * pipe.outside_diameter
    wall = max(0.6 * web, 1.5e-3)
    shape = turned(
        [
            (hub - rim, -face, n),
            (hub, rim - face, n),
            (hub, 0.5 * web, n),
            (bore + wall, 0.5 * web + (hub - bore - wall), n),
            (mouth + wall, 0.85 * length, n),
            (mouth + wall, length, n),
            (mouth, length, water),
            (mouth, 0.85 * length, water),
            (bore, web, water),
            (bore, 0.0, water),
            (wide, 0.0, m),
            (wide, -face, m),
        ]
    )
    out = FittingPort(
        name="b", at=(length, 0.0, 0.0), direction=ON, end="open", socket_bottom=0.0, bore=2.0 * mouth
    )
    return FittingShape(
        kind=size.kind, shape=_laid(shape), ports=(hubs.socket_port("a", pipe, BACK, face), out)
    )
