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
SURE = 1e-6
"""What lies farther behind a slab's front, or before it, than this needs no cut to tell, [m]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Hidden:
    """A body over a slab; ``behind`` tells whether any of it lies behind the front."""

    body: Body
    slab: Slab
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
            over = [_hidden(body, data.slabs, margin) for body in hidden]
            found = [one for one in over if one is not None]
            if not any(one.behind for one in found):
                yield Finding(
                    parts=(built.part.name, name),
                    message=f"{built.part.name} is to lie around {name}, but none of {name} is behind the "
                    "front of a slab",
                    remedy=f"move {name} into the slab, add its panel to `panels:`, or take {name} out of "
                    "the background",
                )
                continue
            to_hide = [one for one in found if one.body.group == "plumbing" and one.body.kind not in COME_OUT]
            led_out = _led_out(model, name, found)
            kept = [one for one in to_hide if one.body.name not in (*led_out, *data.comes_out)]
            covers = [(*_cover(one, data.slabs, margin), one) for one in kept]
            if covers:
                cover, at, thinnest = min(covers, key=lambda each: each[0])
                body = thinnest.body.name
                lies = worded(cover, "lies {} under", "sticks {} out of", "comes to")
                yield from judged(
                    model,
                    cover,
                    "background_cover",
                    "background_cover_least",
                    parts=(body, built.part.name),
                    at=at,
                    says=f"{body} {lies} the front of {built.part.name} on {thinnest.slab.panel.name} at its "
                    "thinnest",
                    remedy=f"move {name} {{short}} towards the glass, make the slab {{short}} thicker there, "
                    f"or name {body} under `comes_out:` if it leaves the slab on purpose",
                )
            yield from _bared(model, built.part.name, name, [one for one in kept if one.behind])


def _bared(model: Model, background: str, name: str, hidden: list[_Hidden]) -> Findings:
    """Find the cut-out that leaves least over a hidden pipe; one over drip holes or a valve is meant."""
    near_holes = _near_holes(model, name)
    found = []
    for one in hidden:
        for opening in () if one.body.name in near_holes else one.slab.openings:
            between = gap(one.body.solid, opening)
            shared = overlap(one.body.solid, opening) if between.distance <= 0 else None
            left = -shared.depth if shared else between.distance
            if left <= 0 or not near_holes:  # a slit may well pass near to what leads to the holes
                found.append((left, one.body.name, vector(shared.at if shared else between.at_a)))
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


def _hidden(body: Body, slabs: Sequence[Slab], margin: float) -> _Hidden | None:
    """Return which slab a body lies over, if any, and whether behind its front, whatever is cut out of it."""

    def find() -> tuple[float, ...]:
        surely = _surely(body.solid, slabs)
        if surely is not None:
            return surely
        over = _over(body.solid, slabs)
        if over is None:
            return ()
        number, stretch = over
        ahead = _ahead(slabs, number, stretch, margin)
        if ahead is None:
            return ()
        return (number, difference(stretch, [ahead]) is not None)

    row = kept(_key("hidden", body, slabs, margin), FIGURES, find)
    return _Hidden(body=body, slab=slabs[int(row[0])], behind=row[1] > 0.0) if row else None


def _cover(hidden: _Hidden, slabs: Sequence[Slab], margin: float) -> tuple[float, Vector]:
    """Return what lies between a body and the front of the slab over it, [m], and where that is least.

    Below 0 where it sticks out. A cover above ``margin`` may be told too large: no more of the slabs than
    that is looked at, [m].
    """

    def find() -> tuple[float, ...]:
        over = _over(hidden.body.solid, slabs)
        assert over is not None, "a hidden body lies over a slab (_cover)"
        number, stretch = over
        ahead = _ahead(slabs, number, stretch, margin)
        assert ahead is not None, "there is room before the slab over a hidden body (_cover)"
        between = gap(stretch, ahead)
        if between.distance > 0:
            return (between.distance, *vector(between.at_a))
        out = intersection(stretch, ahead)
        cover, where = (0.0, between.at_a) if out is None else _sticking_out(out, slabs[number])
        return (cover, *vector(where))

    cover, x, y, z = kept(_key("cover", hidden.body, slabs, margin), FIGURES, find)
    return cover, (x, y, z)


def _key(what: str, body: Body, slabs: Sequence[Slab], margin: float) -> bytes:
    fronts = tuple((slab.panel, slab.u, slab.v, slab.front) for slab in slabs)
    return key_of(what, code_of("checks", "parts", "solid"), body.solid, fronts, margin)


def _surely(solid: Solid, slabs: Sequence[Slab]) -> tuple[float, ...] | None:
    """Return what is found of a solid that lies over one slab alone, all of it behind its front or before it.

    None where a cut has to tell.
    """
    near = [number for number, slab in enumerate(slabs) if _column(slab).box_meets(solid)]
    if len(near) != 1:
        return None
    slab = slabs[near[0]]
    u, v, depth = slab.panel.local(solid.vertices).T
    window = _window(slab, solid, 0.0)
    if window is None or not slab.covers(u, v).all() or depth.min() <= -AHEAD:
        return None
    if depth.max() < window[2].min() - SURE:
        return (near[0], 1.0)
    return (near[0], 0.0) if window[2].max() + SURE < depth.min() and depth.max() < AHEAD else None


def _over(solid: Solid, slabs: Sequence[Slab]) -> tuple[int, Solid] | None:
    """Return the slab on the nearest panel over a solid, and what of it that stands over; None for none."""
    found = []
    for number, slab in enumerate(slabs):
        stretch = intersection(solid, _column(slab))
        if stretch is not None:
            found.append((float(slab.panel.local(stretch.vertices)[:, 2].mean()), number, stretch))
    return min(found, key=lambda item: item[0])[1:] if found else None


def _column(slab: Slab) -> Solid:
    """Return all the room that a slab stands over, from behind its panel to far in front of it."""
    low = slab.panel.at(float(slab.u[0]), float(slab.v[0]), -AHEAD)
    far = AHEAD * (2.0 + np.ceil(float(slab.front.max()) / AHEAD))  # the same for a slab a little deeper
    size = (float(np.ptp(slab.u)), float(np.ptp(slab.v)), far)
    return box(size).solid(Placement.from_frame(low, slab.panel.along, slab.panel.inward))


def _ahead(slabs: Sequence[Slab], number: int, near: Solid, margin: float) -> Solid | None:
    """Return the room in front of a slab, over a solid and a margin round it, that is in no other slab."""
    slab, others = slabs[number], [*slabs[:number], *slabs[number + 1 :]]
    window = _window(slab, near, margin)
    assert window is not None, "a slab stands over what was cut out of its own column (_ahead)"
    u, v, front = window
    # turned over, so that the room ahead is what lies between the front and a far base
    over = Placement.from_frame(slab.panel.origin, slab.panel.along, -np.array(slab.panel.inward))
    ahead = heightfield(u, -v[::-1], -front[:, ::-1], -(float(front.max()) + AHEAD)).solid(over)
    rooms = [_behind(other, near, margin) for other in others]
    return difference(ahead, [room for room in rooms if room is not None])


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


def _led_out(model: Model, name: str, found: list[_Hidden]) -> set[str]:
    """Return the elements of a run that leave the slab on purpose, from an end that is no cap inward.

    What stands wholly in front of the slab is let off, and the element that goes in through its front. What
    sticks out along its side is not.
    """
    built = model.built.get(name)
    if built is None or not isinstance(built.data, RunData):
        return set()
    run, hidden = built.data, {one.body.name: one for one in found}
    let_off: set[str] = set()
    from_end = run.elements[::-1] if run.end != "cap" else ()
    for elements, outer in ((run.elements, 0), (from_end, -1)):
        for element in elements:
            one = hidden.get(element.body)
            if one is not None and one.behind and not _goes_in(element, one.slab, outer):
                break
            let_off.add(element.body)
    return let_off


def _goes_in(element: Element, slab: Slab, outer: int) -> bool:
    """Tell whether an element's outer end (index 0 or -1) is before a slab's front, its other end behind."""
    local = slab.panel.local(np.array([element.path[outer], element.path[-1 - outer]]))
    outside, inside = slab.front_at(local[:, 0], local[:, 1]) - local[:, 2]
    return bool(outside <= 0 < inside)
