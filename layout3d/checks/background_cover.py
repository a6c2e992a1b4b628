"""Whether pipework that a background hides fits behind its front: the cover left at its thinnest point."""

from __future__ import annotations

from collections.abc import Iterator

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
        message=f"{background} is to hide {name}, but no slab of it stands over {name}",
        remedy=f"add the panel that {name} runs along to `panels:`, or take {name} out of the background's list",
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
    led_out = _led_out(model, name, {body.name: cover for cover, _, body, _ in found})
    found = [item for item in found if item[2].name not in led_out]
    return min(found, key=lambda item: item[0]) if found else over


def _led_out(model: Model, name: str, covers: dict[str, float]) -> set[str]:
    """Return the elements of a run, from an open end inward, that leave the slab on purpose.

    A run that ends in a cap stays hidden to its end; one that ends open, in a nozzle, a strainer or a port may
    come out of the slab, and what lies between that end and the last element wholly behind the front is let off.
    """
    built = model.built.get(name)
    if built is None or not isinstance(built.data, RunData):
        return set()
    run = built.data
    let_off: set[str] = set()
    ways = [run.elements[::-1]] if run.end != "cap" else []
    if not run.start_port:
        ways.append(run.elements)
    for elements in ways:
        for element in elements:
            if covers.get(element.body, -1.0) >= 0:
                break
            let_off.add(element.body)
    return let_off


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
