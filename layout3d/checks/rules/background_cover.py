"""Whether pipework that a background hides fits behind its front: the cover left at its thinnest point."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from layout3d.checks.base import Finding, Findings, rule
from layout3d.checks.measure import ROUNDING, judged, limit, worded
from layout3d.fittings.registry import fittings
from layout3d.keep import FIGURES, code_of, kept, key_of
from layout3d.model.around import dense
from layout3d.model.model import Model
from layout3d.parts.background_data import Slab, Window
from layout3d.parts.base import Body, Vector, vector
from layout3d.parts.run_data import Element, RunData
from layout3d.solid.boolean import difference, intersection
from layout3d.solid.distance import gap, overlap
from layout3d.solid.primitives import box, heightfield
from layout3d.solid.shape import Placement, Solid

COME_OUT = ("bulkhead", "strainer", "nozzle", "clip", "suction_cup")
"""Kinds that leave a slab by nature, or stand behind the pipe that has to be covered."""
AHEAD = 1.0
"""How far in front of a slab things still stick out of it, [m]."""
NEAR = 0.05
"""So far round a body the fronts of slabs are looked at, unless more cover is asked for, [m]."""
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


@rule(
    "background-cover",
    asks="What a background hides lies within its depth, with cover left over it.",
    limits=("background_cover", "background_cover_least"),
)
def background_cover(model: Model) -> Findings:
    """Find the thinnest cover over each hidden pipe; a run that leaves the slab on purpose ends its cover."""
    margin = max(limit(model, "background_cover"), NEAR)
    for built in model.backgrounds:
        data = built.data
        for name in dict.fromkeys(data.hides):
            hidden = model.bodies_of(name, f"{model.tank_name}.{name}")
            covers = [_covered(body, data.slabs, margin) for body in hidden]
            found = [cover for cover in covers if cover is not None]
            if not any(cover.behind for cover in found):
                yield Finding(
                    parts=(built.part.name, name),
                    message=f"{built.part.name} is to lie around {name}, but none of {name} is behind the "
                    "front of a slab",
                    remedy=f"move {name} into the slab, add its panel to `panels:`, or take {name} out of "
                    "the background",
                )
                continue
            to_hide = [c for c in found if c.body.group == "plumbing" and c.body.kind not in COME_OUT]
            led_out = _led_out(model, name, found)
            kept = [c for c in to_hide if c.body.name not in (*led_out, *data.comes_out)]
            thinnest = min(kept, key=lambda c: c.cover, default=None)
            if thinnest is not None:
                cover, body = thinnest.cover, thinnest.body.name
                lies = worded(cover, "lies {} under", "sticks {} out of", "comes to")
                yield from judged(
                    model,
                    cover,
                    "background_cover",
                    "background_cover_least",
                    parts=(body, built.part.name),
                    at=thinnest.at,
                    says=f"{body} {lies} the front of {built.part.name} on {thinnest.slab.panel.name} at its "
                    "thinnest",
                    remedy=f"move {name} {{short}} towards the glass, make the slab {{short}} thicker there, "
                    f"or name {body} under `comes_out:` if it leaves the slab on purpose",
                )
            yield from _bared(model, built.part.name, name, [c for c in kept if c.behind])


def _bared(model: Model, background: str, name: str, covers: list[_Cover]) -> Findings:
    """Find the cut-out that leaves least over a hidden pipe; one over drip holes or a valve is meant."""
    near_holes = _near_holes(model, name)
    found = []
    for cover in covers:
        for opening in () if cover.body.name in near_holes else cover.slab.openings:
            between = gap(cover.body.solid, opening)
            shared = overlap(cover.body.solid, opening) if between.distance <= 0 else None
            left = -shared.depth if shared else between.distance
            if left <= 0 or not near_holes:  # a slit may well pass near to what leads to the holes
                found.append((left, cover.body.name, vector(shared.at if shared else between.at_a)))
    if not found:
        return
    left, body, where = min(found)
    how = worded(left, "leaves {} over", "bares")
    yield from judged(
        model,
        left,
        "background_cover",
        ROUNDING * 2,
        parts=(body, background),
        at=where,
        says=f"a cut-out of {background} {how} {body}",
        remedy=f"move the cut-out or {name} {{short}} away, let the cut stop before it (`stop:`), or name "
        f"{body} under `comes_out:`",
    )


def _near_holes(model: Model, name: str) -> set[str]:
    """Return the pieces of a run with drip holes or for a hand to reach, and two on either side of each."""
    built = model.built.get(name)
    elements = built.data.elements if built and isinstance(built.data, RunData) else ()
    numbers = {k + step for k, element in enumerate(elements) if _shown(element) for step in range(-2, 3)}
    return {element.body for k, element in enumerate(elements) if k in numbers}


def _shown(element: Element) -> bool:
    """Tell whether an opening over a piece of a run is meant: for its drops, or for a hand."""
    made = fittings().get(element.kind)
    return bool(element.holes) or (made is not None and bool(made.hand))


def _covered(body: Body, slabs: Sequence[Slab], margin: float) -> _Cover | None:
    """Return the cover over a body, kept by the fronts of the slabs, not by what is cut out of them."""

    def find() -> tuple[float, ...]:
        cover = _over(body, slabs, margin)
        if cover is None:
            return ()
        number = next(k for k, slab in enumerate(slabs) if slab is cover.slab)
        return (number, cover.cover, *cover.at, cover.behind)

    fronts = tuple((slab.panel, slab.u, slab.v, slab.front) for slab in slabs)
    row = kept(
        key_of("cover", code_of("checks", "parts", "solid"), body.solid, fronts, margin), FIGURES, find
    )
    if not row:
        return None
    number, cover, x, y, z, behind = row
    return _Cover(body=body, slab=slabs[int(number)], cover=cover, at=(x, y, z), behind=behind > 0.0)


def _over(body: Body, slabs: Sequence[Slab], margin: float) -> _Cover | None:
    """Return the cover over a body from the slab on the nearest panel; None where none stands over it.

    A cover above ``margin`` may be told too large: no more of the slabs than that is looked at, [m].
    """
    found = []
    for slab in slabs:
        stretch = intersection(body.solid, _column(slab))
        if stretch is not None:
            depth = float(slab.panel.local(stretch.vertices)[:, 2].mean())
            found.append((depth, slab, stretch))
    if not found:
        return None
    _, slab, stretch = min(found, key=lambda item: item[0])
    others = [_behind(other, stretch, margin) for other in slabs if other is not slab]
    ahead = difference(_ahead(slab, stretch, margin), [other for other in others if other is not None])
    if ahead is None:
        return None
    between = gap(stretch, ahead)
    if between.distance > 0:
        cover, where, behind = between.distance, between.at_a, True
    else:
        out = intersection(stretch, ahead)
        cover, where = (0.0, between.at_a) if out is None else _sticking_out(out, slab)
        behind = out is None or difference(stretch, [ahead]) is not None
    return _Cover(body=body, slab=slab, cover=cover, at=vector(where), behind=behind)


def _column(slab: Slab) -> Solid:
    """Return all the room that a slab stands over, from behind its panel to far in front of it."""
    low = slab.panel.at(float(slab.u[0]), float(slab.v[0]), -AHEAD)
    size = (float(np.ptp(slab.u)), float(np.ptp(slab.v)), 2 * AHEAD + float(slab.front.max()))
    return box(size).solid(Placement.from_frame(low, slab.panel.along, slab.panel.inward))


def _ahead(slab: Slab, near: Solid, margin: float) -> Solid:
    """Return the room in front of a slab, over a solid and a margin round it."""
    window = _window(slab, near, margin)
    assert window is not None, "a slab stands over what was cut out of its own column (_ahead)"
    u, v, front = window
    # turned over, so that the room ahead is what lies between the front and a far base
    over = Placement.from_frame(slab.panel.origin, slab.panel.along, -np.array(slab.panel.inward))
    return heightfield(u, -v[::-1], -front[:, ::-1], -(float(front.max()) + AHEAD)).solid(over)


def _behind(slab: Slab, near: Solid, margin: float) -> Solid | None:
    """Return what lies between the glass and the front of a slab, over a solid and a margin round it."""
    window = _window(slab, near, margin)
    return None if window is None else slab.behind(window)


def _window(slab: Slab, near: Solid, margin: float) -> Window | None:
    """Return the part of a slab's grid over a solid and a margin round it; None where it does not reach."""
    local = slab.panel.local(near.vertices)
    (low_u, low_v, _), (high_u, high_v, _) = local.min(axis=0) - margin, local.max(axis=0) + margin
    if low_u > slab.u[-1] or high_u < slab.u[0] or low_v > slab.v[-1] or high_v < slab.v[0]:
        return None
    i, k = _part(slab.u, low_u, high_u), _part(slab.v, low_v, high_v)
    return slab.u[i], slab.v[k], slab.front[i, k]


def _part(marks: NDArray[np.float64], low: float, high: float) -> slice:
    """Return the grid lines from the last at or below ``low`` to the first at or above ``high``."""
    first = int(np.clip(np.searchsorted(marks, low, side="right") - 1, 0, len(marks) - 2))
    last = int(np.clip(np.searchsorted(marks, high, side="left"), first + 1, len(marks) - 1))
    return slice(first, last + 1)


def _sticking_out(out: Solid, slab: Slab) -> tuple[float, np.ndarray]:
    """Return minus the way that a solid stands out of a slab's front, square to the panel, and where.

    Looked at on its surface, at points ``STEP`` apart or nearer.
    """
    points = dense(out.shape, STEP).solid(out.placement).vertices
    local = slab.panel.local(points)
    cover = slab.front_at(local[:, 0], local[:, 1]) - local[:, 2]
    index = int(cover.argmin())
    return min(float(cover[index]), 0.0), points[index]


def _led_out(model: Model, name: str, found: list[_Cover]) -> set[str]:
    """Return the elements of a run that leave the slab on purpose, from an end that is no cap inward.

    What stands wholly in front of the slab is let off, and the element that goes in through its front. What
    sticks out along its side is not.
    """
    built = model.built.get(name)
    if built is None or not isinstance(built.data, RunData):
        return set()
    run, covers = built.data, {cover.body.name: cover for cover in found}
    let_off: set[str] = set()
    from_end = run.elements[::-1] if run.end != "cap" else ()
    for elements, outer in ((run.elements, 0), (from_end, -1)):
        for element in elements:
            cover = covers.get(element.body)
            if cover is not None and cover.behind and not _goes_in(element, cover.slab, outer):
                break
            let_off.add(element.body)
    return let_off


def _goes_in(element: Element, slab: Slab, outer: int) -> bool:
    """Tell whether an element's outer end (index 0 or -1) is before a slab's front, its other end behind."""
    local = slab.panel.local(np.array([element.path[outer], element.path[-1 - outer]]))
    outside, inside = slab.front_at(local[:, 0], local[:, 1]) - local[:, 2]
    return bool(outside <= 0 < inside)
