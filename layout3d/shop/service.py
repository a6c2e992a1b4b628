"""What has to come out for service once the tank is finished: equipment and strainers, and by which way.

A way goes out to a side or up, with up to three moves aside before, past the exact meshes (``shop.passage``);
equipment in the tank may be turned as well. A part moves as its convex hull, or as it is where something
reaches into that: a basket with a pipe in it. Lights that hang there are taken off first; leaves, roots and
the bed give way. A part whose pipe has a union, a tube or another joint that comes apart takes its pipe along
up to that; one that is cemented to its pipe goes nowhere. The room's walls, and doors of a stand, are not
known.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from layout3d.fittings.registry import comes_apart
from layout3d.model.model import Model
from layout3d.parts.base import Body
from layout3d.shop.opening import UP, filled, openings
from layout3d.shop.passage import STEP, Passage, Way
from layout3d.shop.task import SOFT
from layout3d.solid.distance import meet
from layout3d.solid.placement import Placement, Vector, along
from layout3d.solid.shape import Solid
from layout3d.water.remembered import kept

__all__ = ["WayOut", "ways_out"]

OUT: tuple[Vector, ...] = (UP, (0.0, -1.0, 0.0), (0.0, 1.0, 0.0), (-1.0, 0.0, 0.0), (1.0, 0.0, 0.0))
THIN = 0.003  # steps past what reaches into a hollow part, [m]
OFF = 0.005  # beyond its socket a strainer is free, [m]
SERVICED = ("strainer",)
"""Kinds of fittings that are taken off for cleaning."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WayOut:
    """How a body comes out of the finished tank: ``way``, None where none was found among ``tried``.

    ``held`` names the run that it is cemented to, '' for none; then no way is looked for.
    """

    part: str
    body: str
    way: Way | None
    tried: int
    held: str = ""


@kept
def ways_out(model: Model) -> tuple[WayOut, ...]:
    """Return how equipment and strainers come out of the finished tank, in the scene's order."""
    hard = [body for body in model.bodies if body.kind not in SOFT]
    hung = {body.name for body in hard if body.kind == "light"}
    holes = openings(model)
    found = []
    for body in hard:
        if body.group == "equipment":
            solid, (held, cemented) = body.solid, _held_by(model, body.part)
        elif body.kind in SERVICED:
            solid, held, cemented = _off(model, body), set(), ""
        else:
            continue
        others = [other for other in hard if other is not body and _stays(other, body, hung | held)]
        if cemented:
            found.append(WayOut(part=body.part, body=body.name, way=None, tried=0, held=cemented))
            continue
        rest = [other.solid for other in others]
        hull = filled(solid)
        caught = any(meet(hull, other) and not meet(solid, other) for other in rest)
        passage = Passage(
            solid if caught else hull,
            rest,
            rim=model.tank.rim,
            openings=holes if body.where == "tank" else [],
            outs=OUT,
            step=THIN if caught else STEP,
        )
        present = frozenset(range(len(others)))
        way = passage.straight(present) or passage.roundabout(present) or passage.turned(present)
        found.append(WayOut(part=body.part, body=body.name, way=way, tried=passage.tried))
    return tuple(found)


def _stays(other: Body, body: Body, taken: set[str]) -> bool:
    """Tell whether a body is in another's way: lights and a part's own are not, a strainer's pipe is."""
    return other.name not in taken and (other.part != body.part or body.kind in SERVICED)


def _held_by(model: Model, part: str) -> tuple[set[str], str]:
    """Return the bodies of pipe that a part takes along: up to what comes apart, or a tube.

    And the first run that starts from it and has nothing that comes apart, or ''.
    """
    found: set[str] = set()
    cemented = ""
    for built in model.runs:
        kinds = [element.kind for element in built.data.elements]
        loose = next((k for k, kind in enumerate(kinds) if kind == "tube" or comes_apart(kind)), None)
        if built.data.start_port.split(".")[0] == part:
            cemented = cemented or (built.part.name if loose is None else "")
            found |= {element.body for element in built.data.elements[: 0 if loose is None else loose + 1]}
    return found, cemented


def _off(model: Model, body: Body) -> Solid:
    """Return a strainer as it is once it is pulled off the pipe that it ends, along that."""
    data = next(built.data for built in model.runs if built.part.name == body.part)
    way = data.end_direction
    pipe = next((model.body(element.body) for element in data.elements[-2:-1]), None)
    if pipe is None:
        return body.solid
    end, start = (along(solid.vertices, way) for solid in (pipe.solid, body.solid))
    return body.solid.moved(Placement.at((max(float(end.max() - start.min()), 0.0) + OFF) * np.array(way)))
