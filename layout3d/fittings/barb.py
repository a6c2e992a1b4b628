"""Barbs: from a pipe to a tube, and the connectors between two tubes. Threads are left out.

Forms and lengths are common practice, no source; makers differ.
"""

from __future__ import annotations

from layout3d.catalog import Pipe, Tube
from layout3d.errors import OutOfRange
from layout3d.fittings import hub as hubs
from layout3d.fittings.hub import BACK, ON
from layout3d.fittings.kept import kept
from layout3d.fittings.port import FittingPort, FittingShape
from layout3d.fittings.rings import BODY_SIDES, turned
from layout3d.solid.shape import Shape

__all__ = ["barb", "barb_size", "connector_half", "connector_tail", "tube_connector"]

OUTSIDE_RATIO = 1.05  # barb over tube's bore, 1.03 to 1.08. Common practice, no source
BORE_RATIO = 0.75  # 0.70 to 0.80 of the tube's bore. Common practice, no source
LENGTH_RATIO = 1.4  # of the tube's bore, at least 12 mm. Common practice, no source
TEETH = 3


def barb_size(tube: Tube) -> tuple[float, float, float]:
    """Return outside diameter, bore and length of the barb that fits a tube, [m].

    Common practice, no source; makers differ: the barb is 3 to 8 % over the tube's bore and its own bore 0.70
    to 0.80 of it, which is what throttles a small branch.
    """
    return OUTSIDE_RATIO * tube.inside, BORE_RATIO * tube.inside, max(0.012, LENGTH_RATIO * tube.inside)


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
    return FittingShape(kind="barb", shape=hubs.laid(shape), ports=(first, second))


def connector_half(outside: float) -> float:
    """Return half the length of a tube connector's body, where its tubes end, [m]."""
    return 0.9 * outside


def connector_tail(inside: float) -> float:
    """Return how far a tube connector's tail goes into its tube, [m]."""
    return 1.2 * inside


@kept
def tube_connector(outside: float, inside: float, closed: bool) -> Shape:
    """Return a straight body between two tubes (a valve in a tube, or its plug), along z around 0.

    Body 1.7 times the tube's outside, tails of 1.2 times its bore inside the tubes, bore 0.75 of the tube's:
    common practice, no source; makers differ.
    """
    radius, half, n = 0.85 * outside, connector_half(outside), BODY_SIDES
    tail, bore, neck = half + connector_tail(inside), BORE_RATIO * inside / 2.0, 0.49 * inside
    first = [(neck, -tail, n), (neck, -half, n), (radius, -half, n), (radius, half, n)]
    if closed:
        return turned([(0.0, -tail, 1), *first, (0.0, half, 1)], closed=False)
    water = hubs.WATERWAY_SIDES
    return turned([(bore, -tail, water), *first, (neck, half, n), (neck, tail, n), (bore, tail, water)])
