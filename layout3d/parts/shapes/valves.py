"""Shapes of ball valves and swing check valves. The ball and the flap themselves are left out.

Own axes as in ``fittings``: in along +x at port 'a', out at 'b'; the handle, or the cover, is up (+z).
"""

from __future__ import annotations

import math

import numpy as np

from layout3d.catalog.entry import FittingSize
from layout3d.parts.shapes import hub as hubs
from layout3d.parts.shapes.port import FittingPort, FittingShape, Vector
from layout3d.parts.shapes.rings import BODY_SIDES, turned
from layout3d.solid.primitives import cylinder, prism
from layout3d.solid.shape import Placement, Points, Solid

__all__ = ["ball_valve", "check_valve"]

BACK: Vector = (-1.0, 0.0, 0.0)
ON: Vector = (1.0, 0.0, 0.0)
HANDLE_TURN = math.pi / 2.0  # from open (along the pipe) to closed, [rad]


def ball_valve(size: FittingSize, *, opening: float = 1.0) -> FittingShape:
    """Return a ball valve with its lever: along the pipe when open, square to it when closed.

    Parameters
    ----------
    opening : 1 open to 0 closed; a closed valve has no waterway through its middle
    """
    if not 0.0 <= opening <= 1.0:
        raise ValueError(f"opening must be from 0 to 1, got {opening!r}")
    pipe, body = size.pipe, size.body_diameter / 2.0
    bore, bottom = pipe.inside_diameter / 2.0, size.take_off[0]
    barrel = 0.8 * bottom
    outside = _outside(
        size, [(0.94 * body, -barrel), (body, -0.6 * barrel), (body, 0.6 * barrel), (0.94 * body, barrel)]
    )
    stem_radius = max(0.45 * bore, 3e-3)
    lever_thickness = max(0.12 * body, 3e-3)
    lever_bottom = body + 0.5 * stem_radius + 2e-3
    stem_bottom = (bore + body) / 2.0
    stem = cylinder(stem_radius, lever_bottom + 0.5 * lever_thickness - stem_bottom, n=24)
    lever = prism(_lever(1.7 * stem_radius, 0.9 * stem_radius, size.handle), lever_thickness)
    turn = Placement.turned((0.0, 0.0, 1.0), (1.0 - opening) * HANDLE_TURN)
    solids = [
        outside,
        stem.solid(Placement.at((0.0, 0.0, stem_bottom))),
        lever.solid(Placement.at((0.0, 0.0, lever_bottom)) @ turn),
    ]
    return hubs.carved(size.kind, solids, _bores(size, closed=opening == 0.0), _ports(size))


def check_valve(size: FittingSize) -> FittingShape:
    """Return a swing check valve: a barrel with a round cover on top and an arrow on both sides."""
    pipe, body = size.pipe, size.body_diameter / 2.0
    bore, bottom = pipe.inside_diameter / 2.0, size.take_off[0]
    outside = _outside(size, [(body, -0.75 * bottom), (body, 0.2 * bottom), (0.9 * body, 0.7 * bottom)])
    cover_radius = min(0.75 * body, 0.6 * bottom)
    cover_bottom = (bore + body) / 2.0
    cover = turned(
        [
            (0.0, cover_bottom, 1),
            (cover_radius, cover_bottom, 32),
            (cover_radius, 1.2 * body, 32),
            (0.9 * cover_radius, 1.3 * body, 32),
            (0.0, 1.3 * body, 1),
        ],
        closed=False,
    )
    arrow = prism(_arrow(0.9 * bottom, 0.5 * body), 0.2 * body)
    sunk = 0.85 * body  # its face stands 5 % proud of the barrel
    solids = [outside, cover.solid(Placement.at((-0.25 * bottom, 0.0, 0.0)))]
    for side in (1.0, -1.0):
        # a quarter turn about x lays the arrow's face to -y or +y; it points along +x either way
        face = Placement.turned((1.0, 0.0, 0.0), -side * math.pi / 2.0)
        solids.append(arrow.solid(Placement.at((0.0, side * sunk, 0.0)) @ face))
    return hubs.carved(size.kind, solids, _bores(size, closed=False), _ports(size))


def _outside(size: FittingSize, barrel: list[tuple[float, float]]) -> Solid:
    """Return both hubs and the barrel between them, solid, along x; ``barrel`` is (radius, x)."""
    pipe, n, face = size.pipe, BODY_SIDES, size.face[0]
    rim, outside = hubs.chamfer(pipe), pipe.hub_diameter / 2.0
    shoulder = size.take_off[0] - 0.1 * hubs.hub_wall(pipe)
    profile = [(0.0, -face, 1), (outside - rim, -face, n), (outside, rim - face, n), (outside, -shoulder, n)]
    profile += [(radius, x, n) for radius, x in barrel]
    profile += [(outside, shoulder, n), (outside, face - rim, n), (outside - rim, face, n), (0.0, face, 1)]
    return turned(profile, closed=False).solid(hubs.along(ON))


def _bores(size: FittingSize, *, closed: bool) -> list[Solid]:
    """Return sockets and waterway as cutters: one right through, or two that stop at the ball."""
    pipe, n, water = size.pipe, hubs.socket_sides(size.pipe), hubs.WATERWAY_SIDES
    wide, bore = pipe.outside_diameter / 2.0, pipe.inside_diameter / 2.0
    bottom, past = size.take_off[0], size.face[0] + hubs.OVERRUN
    half = [(bore, bottom, water), (wide, bottom, n), (wide, past, n), (0.0, past, 1)]
    if closed:
        stop = 0.4 * bottom
        one = turned([(0.0, stop, 1), (bore, stop, water), *half], closed=False)
        return [one.solid(hubs.along(BACK)), one.solid(hubs.along(ON))]
    mirrored = [(radius, -z, count) for radius, z, count in reversed(half)]
    return [turned([*mirrored, *half], closed=False).solid(hubs.along(ON))]


def _ports(size: FittingSize) -> list[FittingPort]:
    return [
        hubs.socket_port("a", size.pipe, BACK, size.face[0]),
        hubs.socket_port("b", size.pipe, ON, size.face[1]),
    ]


def _lever(stem: float, tip: float, length: float) -> Points:
    """Outline of a lever in plan, (k, 2), [m]: round at the stem (origin) and at the tip at ``length``."""
    middle = length - tip
    back = np.linspace(math.pi / 2.0, 1.5 * math.pi, 13)
    front = np.linspace(-math.pi / 2.0, math.pi / 2.0, 9)
    outline: Points = np.concatenate(
        [
            stem * np.column_stack([np.cos(back), np.sin(back)]),
            tip * np.column_stack([np.cos(front), np.sin(front)]) + [middle, 0.0],
        ]
    )
    return outline


def _arrow(length: float, width: float) -> Points:
    """Outline of an arrow along +x, its middle at the origin, (7, 2), [m]."""
    tail, neck, tip = -length / 2.0, 0.0, length / 2.0
    half, shaft = width / 2.0, width / 5.0
    upper = [(tip, 0.0), (neck, half), (neck, shaft), (tail, shaft)]
    return np.array([*upper, *((x, -y) for x, y in reversed(upper[1:]))])
