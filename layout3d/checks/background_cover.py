"""Whether pipework that a background hides fits behind its front: the cover left at its thinnest point."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from layout3d.checks.base import Finding, Severity, rule
from layout3d.checks.measure import length, limit
from layout3d.model.model import Model
from layout3d.parts.background_data import BackgroundData, Slab
from layout3d.parts.base import Body, Vector
from layout3d.parts.run_data import RunData

__all__ = ["background_cover", "thinnest_cover"]

_COME_OUT = ("bulkhead", "strainer", "nozzle", "clip", "suction_cup")


@rule("background-cover", asks="What a background hides lies within its depth, with cover left over it.")
def background_cover(model: Model) -> Iterator[Finding]:
    """Find the thinnest cover over each hidden part; a part that leaves the slab on purpose ends its cover."""
    wanted, least = limit(model, "background_cover"), limit(model, "background_cover_least")
    for built in model.of_kind("background"):
        data = built.data
        assert isinstance(data, BackgroundData), "a background builds its data (background_cover)"
        for name in data.hides:
            found = _thinnest_of_part(model, data, name)
            if found is None:
                yield _not_behind(built.part.name, name)
                continue
            cover, where, body, slab = found
            if cover >= wanted:
                continue
            severity: Severity = "fault" if cover < least else "warning"
            slab_name = f"{built.part.name} on {slab.panel.name}"
            how = (
                f"lies {length(model, cover)} under the front of {slab_name}"
                if cover >= 0
                else f"sticks {length(model, -cover)} out of the front of {slab_name}"
            )
            yield Finding(
                rule="background-cover",
                severity=severity,
                parts=(body.name, built.part.name),
                measured=cover,
                limit=wanted,
                unit="m",
                at=where,
                message=(
                    f"{body.name} {how} at its thinnest: {length(model, wanted - cover)} short of "
                    f"{length(model, wanted)} (limit background_cover)"
                ),
                remedy=(
                    f"move {name} {length(model, wanted - cover)} towards the glass, or make the slab "
                    f"{length(model, wanted - cover)} thicker there"
                ),
            )


def _not_behind(background: str, name: str) -> Finding:
    return Finding(
        rule="background-cover",
        severity="fault",
        parts=(background, name),
        message=f"{background} is to hide {name}, but {name} does not lie behind a slab of it",
        remedy=f"move {name} into the slab, add the panel it runs along to `panels:`, or take it out of the background's list",
    )


def _thinnest_of_part(
    model: Model, data: BackgroundData, name: str
) -> tuple[float, Vector, Body, Slab] | None:
    """Return the least cover over what has to stay hidden of a part; None if no slab stands over the part.

    A hole's bulkhead comes out by nature: it has no cover to keep.
    """
    bodies = model.bodies_of(name, f"{model.tank_name}.{name}")
    found = []
    over = None
    for body in bodies:
        slab = _slab_over(data, body)
        if slab is None:
            continue
        over = (float("inf"), (0.0, 0.0, 0.0), body, slab)
        cover = thinnest_cover(body, slab)
        if cover is not None and body.kind not in _COME_OUT:
            found.append((*cover, body, slab))
    led_out = _led_out(model, data, name)
    hidden = [item for item in found if item[2].name not in led_out]
    if found and not hidden and len(led_out) == len(found):
        return None  # all of it stands in front
    return min(hidden, key=lambda item: item[0]) if hidden else over


def _led_out(model: Model, data: BackgroundData, name: str) -> set[str]:
    """Return the elements of a run that stand in front of the slab before it goes in or after it comes out.

    From each end that lies in front, inward: the elements with both ends in front, and the one that crosses the
    front. Where a run never crosses it, all of its elements come back.
    """
    built = model.built.get(name)
    if built is None or not isinstance(built.data, RunData):
        return set()
    elements = built.data.elements
    let_off: set[str] = set()
    for way in (elements, elements[::-1]):
        for element in way:
            ends = [_in_front(data, element.path[0]), _in_front(data, element.path[-1])]
            if not any(ends):
                break
            let_off.add(element.body)
            if not all(ends):
                break
    return let_off


def _in_front(data: BackgroundData, point: Vector) -> bool:
    """Tell whether a point of a centreline lies in front of the slabs, or where none stands over it."""
    for slab in data.slabs:
        local = slab.panel.local(np.array(point))
        if slab.covers(local[:, 0], local[:, 1]).any():
            front = float(slab.front_at(local[:, 0], local[:, 1])[0])
            if float(local[0, 2]) <= front:
                return False
    return True


def _slab_over(data: BackgroundData, body: Body) -> Slab | None:
    """Return the slab whose panel is nearest to the body, of those that stand over it."""
    near = []
    for slab in data.slabs:
        local = slab.panel.local(body.solid.vertices)
        if slab.covers(local[:, 0], local[:, 1]).any():
            near.append((float(local[:, 2].mean()), slab))
    return min(near, key=lambda pair: pair[0])[1] if near else None


def thinnest_cover(body: Body, slab: Slab) -> tuple[float, Vector] | None:
    """Return the least cover over a body, [m], and where; None if the slab does not stand over it.

    The cover is measured square to the panel, at each vertex of the body that the slab stands over. It is below
    zero where the body stands out of the slab.
    """
    points = body.solid.vertices
    local = slab.panel.local(points)
    covered = slab.covers(local[:, 0], local[:, 1])
    if not covered.any():
        return None
    cover = slab.front_at(local[covered, 0], local[covered, 1]) - local[covered, 2]
    index = int(cover.argmin())
    x, y, z = (float(v) for v in points[covered][index])
    return float(cover[index]), (x, y, z)
