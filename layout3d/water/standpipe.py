"""Bores of standpipes, from a drilled hole up to where they let water in: what is in them runs off.

Left out: pipe that leads down again behind its top, in which water stands as it does around it, and water on
its way through a drain that a valve keeps full: how much that is hangs on the valve.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from layout3d.model.model import Model
from layout3d.parts.base import Vector
from layout3d.parts.run_data import Element, RunData
from layout3d.solid.primitives import cylinder
from layout3d.solid.shape import Placement, Solid
from layout3d.water.remembered import kept

__all__ = ["Bores", "drained_bores", "standpipe_bores"]

DOWN = 0.5  # of its length: pipe that falls by more leads down


@dataclass(frozen=True, slots=True, kw_only=True)
class Bores:
    """Bores whose water runs off: of these bodies, as ``solids`` a little wider than they are."""

    bodies: frozenset[str]
    solids: tuple[Solid, ...]


@kept
def drained_bores(model: Model) -> Bores:
    """Return the bores of the drains in the tank itself that skim its surface, or end over it.

    A drain whose mouth lies more than its own bore under the waterline draws from a full pipe: its bore is
    water of the tank.
    """
    boxed = {hole for built in model.overflow_boxes for hole in built.data.holes}
    return standpipe_bores(model, set(model.tank.holes) - boxed, lowest=model.waterline)


def standpipe_bores(model: Model, holes: Iterable[str], *, lowest: float = -math.inf) -> Bores:
    """Return the bores of the drains that start at these drilled holes.

    Of none that a pump feeds, nor of those whose top stays more than a bore under ``lowest``, z [m].
    """
    bodies: set[str] = set()
    solids: list[Solid] = []
    pressed = _pressed(model)
    for hole in holes:
        port = f"{model.tank_name}.{hole}.inside"
        for built in model.runs:
            elements = _from_port(built.data, port)
            if elements and elements[0].body not in pressed:
                bores = tuple(_bores(elements, model.tank.holes[hole].at))
                top = max((float(solid.bounds[1, 2]) for _, solid in bores), default=-math.inf)
                if top >= lowest - elements[0].bore:
                    bodies |= {body for body, _ in bores}
                    solids += [solid for _, solid in bores]
    return Bores(bodies=frozenset(bodies), solids=tuple(solids))


def _from_port(run: RunData, port: str) -> Sequence[Element]:
    """Return a run's elements from a port on; none where it doesn't meet it."""
    if run.start_port == port:
        return run.elements
    return run.elements[::-1] if run.end_port == port else ()


def _bores(elements: Sequence[Element], hole: Vector) -> Iterator[tuple[str, Solid]]:
    here = hole
    for element in elements:
        path = element.path
        if math.dist(path[-1], here) < math.dist(path[0], here):
            path = path[::-1]
        if element.kind == "strainer" or path[-1][2] - path[0][2] < -DOWN * math.dist(path[0], path[-1]):
            return
        # into the wall, which is no water anyway, so that the cut leaves no slivers beside it
        radius = (element.bore + element.outside) / 4.0
        for a, b in pairwise((here, *path)):
            way = np.subtract(b, a)
            length = float(np.linalg.norm(way))
            if length > 1e-6:
                up = (1.0, 0.0, 0.0) if abs(way[2]) > 0.9 * length else (0.0, 0.0, 1.0)
                yield element.body, cylinder(radius, length).solid(Placement.from_frame(a, up, way / length))
        here = path[-1]


def _pressed(model: Model) -> set[str]:
    """Return the bodies that hang on a pump by sockets and barbs."""
    found = {body.name for built in model.pumps for body in built.bodies}
    links = [{join.a, join.b} for join in model.joins if join.how in ("socket", "barb")]
    while more := [link for link in links if link & found and link - found]:
        found |= set().union(*more)
    return found
