"""Whether pipework that a background hides fits behind its front: the cover left at its thinnest point."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from layout3d.checks.base import Finding, rule
from layout3d.checks.measure import at, length, limit, missing
from layout3d.model.model import Model
from layout3d.parts.background_data import BackgroundData, Slab
from layout3d.parts.base import Body, Vector
from layout3d.parts.run_data import Element, RunData
from layout3d.solid.boolean import difference, intersection
from layout3d.solid.distance import gap
from layout3d.solid.primitives import box, heightfield
from layout3d.solid.shape import Placement, Shape, Solid

__all__ = ["background_cover"]

COME_OUT = ("bulkhead", "strainer", "nozzle", "clip", "suction_cup")
"""Kinds that leave a slab by nature, or stand behind the pipe that has to be covered."""
AHEAD = 1.0
"""How far in front of a slab things still stick out of it, [m]."""
STEP = 0.005
"""Edges of what sticks out are looked at every so far, [m]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Cover:
    """What lies between a body and the front of the slab over it, [m]; below zero where it sticks out.

    ``behind`` tells whether any of it lies behind the front.
    """

    body: Body
    slab: Slab
    cover: float
    at: Vector
    behind: bool


@rule("background-cover", asks="What a background hides lies within its depth, with cover left over it.")
def background_cover(model: Model) -> Iterator[Finding]:
    """Find the thinnest cover over each hidden pipe; a run that leaves the slab on purpose ends its cover."""
    wanted, least = limit(model, "background_cover"), limit(model, "background_cover_least")
    for built in model.of_kind("background"):
        data = built.data
        assert isinstance(data, BackgroundData), "a background builds its data (background_cover)"
        rooms = [_Room(slab, data) for slab in data.slabs]
        for name in dict.fromkeys(data.hides):
            covers = [_over(body, rooms) for body in model.bodies_of(name, f"{model.tank_name}.{name}")]
            found = [cover for cover in covers if cover is not None]
            if not any(cover.behind for cover in found):
                yield _not_behind(built.part.name, name)
                continue
            to_hide = [c for c in found if c.body.group == "plumbing" and c.body.kind not in COME_OUT]
            led_out = _led_out(model, name, found)
            kept = [c for c in to_hide if c.body.name not in led_out]
            thinnest = min(kept, key=lambda c: c.cover, default=None)
            if thinnest is not None and missing(thinnest.cover, wanted):
                yield _finding(model, built.part.name, name, thinnest, wanted, least)


def _finding(model: Model, background: str, name: str, found: _Cover, wanted: float, least: float) -> Finding:
    cover, short = found.cover, wanted - found.cover
    slab_name = f"{background} on {found.slab.panel.name}"
    if cover > 0:
        how = f"lies {length(model, cover)} under the front of {slab_name}"
    elif cover == 0:
        how = f"comes to the front of {slab_name}"
    else:
        how = f"sticks {length(model, -cover)} out of the front of {slab_name}"
    return Finding(
        rule="background-cover",
        severity="fault" if missing(cover, least) else "warning",
        parts=(found.body.name, background),
        measured=cover,
        limit=wanted,
        unit="m",
        at=found.at,
        message=(
            f"{found.body.name} {how} at its thinnest: {length(model, short)} short of "
            f"{length(model, wanted)} (limit background_cover)"
        ),
        remedy=(
            f"move {name} {length(model, short)} towards the glass, or make the slab {length(model, short)} "
            "thicker there"
        ),
    )


def _not_behind(background: str, name: str) -> Finding:
    return Finding(
        rule="background-cover",
        severity="fault",
        parts=(background, name),
        message=f"{background} is to lie around {name}, but none of {name} is behind the front of a slab",
        remedy=f"move {name} into the slab, add its panel to `panels:`, or take {name} out of the background",
    )


class _Room:
    """The room in front of one slab, less what the background's other slabs take of it."""

    def __init__(self, slab: Slab, data: BackgroundData) -> None:
        self.slab = slab
        panel = slab.panel
        low = panel.at(float(slab.u[0]), float(slab.v[0]), -AHEAD)
        size = (float(np.ptp(slab.u)), float(np.ptp(slab.v)), 2 * AHEAD + float(slab.front.max()))
        self.stretch = box(size).solid(Placement.from_frame(low, panel.along, panel.inward))
        # turned over, so that the room ahead is what lies between the front and a far base
        far = -(float(slab.front.max()) + AHEAD)
        ahead = heightfield(slab.u, -slab.v[::-1], -slab.front[:, ::-1], far)
        over = Placement.from_frame(panel.origin, panel.along, -np.array(panel.inward))
        others = [_behind(other) for other in data.slabs if other is not slab]
        self.ahead = difference(ahead.solid(over), others)


def _behind(slab: Slab) -> Solid:
    """Return what lies between the glass and the front of a slab."""
    base = min(0.0, float(slab.front.min()))
    return heightfield(slab.u, slab.v, slab.front, base).solid(slab.panel.placement())


def _over(body: Body, rooms: list[_Room]) -> _Cover | None:
    """Return the cover over a body from the slab on the nearest panel; None where none stands over it."""
    found = []
    for room in rooms:
        stretch = intersection(body.solid, room.stretch)
        if stretch is not None:
            depth = float(room.slab.panel.local(stretch.vertices)[:, 2].mean())
            found.append((depth, room, stretch))
    if not found:
        return None
    _, room, stretch = min(found, key=lambda item: item[0])
    if room.ahead is None:
        return None
    between = gap(stretch, room.ahead)
    if between.distance > 0:
        cover, where, behind = between.distance, between.at_a, True
    else:
        out = intersection(stretch, room.ahead)
        cover, where = (0.0, between.at_a) if out is None else _sticking_out(out, room.slab)
        behind = out is None or difference(stretch, [room.ahead]) is not None
    return _Cover(body=body, slab=room.slab, cover=cover, at=at(where), behind=behind)


def _sticking_out(out: Solid, slab: Slab) -> tuple[float, np.ndarray]:
    """Return minus the way that a solid stands out of a slab's front, square to the panel, and where.

    Looked at on its surface, at points ``STEP`` apart or nearer.
    """
    points = _dense(out.shape).solid(out.placement).vertices
    local = slab.panel.local(points)
    cover = slab.front_at(local[:, 0], local[:, 1]) - local[:, 2]
    index = int(cover.argmin())
    return min(float(cover[index]), 0.0), points[index]


def _dense(shape: Shape) -> Shape:
    made = Shape.from_manifold(shape.manifold.refine_to_length(STEP))
    return shape if made is None else made


def _led_out(model: Model, name: str, found: list[_Cover]) -> set[str]:
    """Return the elements of a run that leave the slab on purpose, from an end that is no cap inward.

    What stands wholly in front of the slab, or goes through its front from one side to the other, is let off
    up to the first element that does neither. What sticks out along its side is not.
    """
    built = model.built.get(name)
    if built is None or not isinstance(built.data, RunData):
        return set()
    run, covers = built.data, {cover.body.name: cover for cover in found}
    let_off: set[str] = set()
    for elements in (run.elements, run.elements[::-1] if run.end != "cap" else ()):
        for element in elements:
            cover = covers.get(element.body)
            if cover is not None and cover.behind and not _goes_through(element, cover.slab):
                break
            let_off.add(element.body)
    return let_off


def _goes_through(element: Element, slab: Slab) -> bool:
    """Tell whether an element's centreline begins on one side of a slab's front and ends on the other."""
    local = slab.panel.local(np.array([element.path[0], element.path[-1]]))
    first, last = slab.front_at(local[:, 0], local[:, 1]) - local[:, 2]
    return bool((first > 0) != (last > 0))
