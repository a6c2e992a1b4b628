"""What lies in foam, sand or rock: mouths, pumps, heaters, leaves, and valves that no hand can reach."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from layout3d.checks.base import Finding, Severity, rule
from layout3d.checks.measure import ROUNDING, limit, missing, runs
from layout3d.checks.rules.in_water import CURRENT
from layout3d.fittings.registry import fittings
from layout3d.model.around import Around, around_body, around_mouth
from layout3d.model.model import Model
from layout3d.parts.background_data import BackgroundData
from layout3d.parts.base import Body, vector
from layout3d.pipework.closed import against

__all__ = ["buried", "buried_valves"]

BURNING = (
    "A heater that water does not cool burns through its casing and sets foam on fire; a pump that draws "
    "sand or nothing at all overheats."
)
DEVICES = {
    "pump": "it gets no water, runs dry and overheats",
    "heater": "the water does not cool it: it burns out, cracks, and can set foam on fire",
    "mist_maker": "the water does not cool it, and it makes no mist",
    "light": "its heat does not get away: it can set foam on fire",
}
"""Kinds that work in the open, and what becomes of them where they don't stand there."""
INLET = 0.01
"""A pump's inlet is looked at as a mouth so wide, [m]: what closes its grid closes this."""


@rule(
    "buried",
    asks="Open ends, strainers, nozzles, inlets, pumps, heaters and leaves lie in no foam, sand or rock.",
    caution=f"{CURRENT} {BURNING}",
    limits=("buried_share", "buried_share_least", "leaves_buried"),
)
def buried(model: Model) -> Iterator[Finding]:
    """Find mouths of pipework that something closes, and equipment and plants that lie in something."""
    few, most = limit(model, "buried_share_least"), limit(model, "buried_share")
    devices = {built.part.name for kind in DEVICES for built in model.of_kind(kind)}
    told: set[str] = set()
    for name, around, what, why in (*_devices(model), *_mouths(model), *_leaves(model)):
        part = name.split(".")[0]
        if around.share <= few or part in told & devices:
            continue
        told.add(part)
        severity: Severity = "warning" if missing(around.share, most) else "fault"
        holders = dict.fromkeys(model.body(body).part for body in around.bodies)
        yield Finding(
            severity=severity,
            parts=(name, *holders),
            measured=around.share,
            limit=few,
            unit="-",
            at=around.at,
            message=f"{what} lies against {' and '.join(holders)} to {around.share:.0%}, more than {few:.0%} "
            f"(limit buried_share_least): {why}",
            remedy=f"move {name.split('.')[0]} into the open, or leave an opening around it (`cut_outs:`)",
        )


def _mouths(model: Model) -> Iterator[tuple[str, Around, str, str]]:
    """Return each mouth's name, what lies against it, its words, and what follows; not drip holes.

    These have a rule of their own.
    """
    for mouth, around in against(model).items():
        yield mouth.body, around, mouth.words, "nothing gets through, and outage doesn't count on it"


def _devices(model: Model) -> Iterator[tuple[str, Around, str, str]]:
    for kind, why in DEVICES.items():
        for built in model.of_kind(kind):
            whole = [around_body(model, body) for body in built.bodies]
            for body, around in zip(built.bodies, whole, strict=True):
                yield body.name, around, body.name, why
            if "inlet" in built.anchors:
                inlet = built.anchors["inlet"]
                way = vector(np.array(inlet) - built.bodies[0].solid.centroid)
                around = around_mouth(model, inlet, way, INLET, part=built.part.name)
                if around.share > whole[0].share:
                    yield f"{built.part.name}.inlet", around, f"the inlet of {built.part.name}", why


def _leaves(model: Model) -> Iterator[tuple[str, Around, str, str]]:
    most = limit(model, "leaves_buried")
    for built in model.of_kind("plant"):
        for body in built.bodies:
            if body.kind == "foliage":
                around = around_body(model, body, groups=("background", "substrate"))
                if around.share > most:
                    yield body.name, around, body.name, "leaves without light and air rot"


@rule(
    "buried-valve",
    asks="Valves and unions stay where a hand can reach them.",
    limits=("buried_share", "buried_share_least"),
)
def buried_valves(model: Model) -> Iterator[Finding]:
    """Find valves and unions whose own place is in foam, sand or rock, whatever else of their run is.

    One that is hidden in a channel can be reached by taking the slab off: only a warning.
    """
    few, most = limit(model, "buried_share_least"), limit(model, "buried_share")
    for name, run in runs(model):
        for element in run.elements:
            made = fittings().get(element.kind)
            if made is None or not made.hand:
                continue
            body = model.body(element.body)
            around = around_body(model, body)
            severity: Severity = "fault" if missing(around.share, most) <= ROUNDING else "warning"
            if around.share > few:
                holders = list(dict.fromkeys(model.body(holder).part for holder in around.bodies))
                how = f"is buried in {' and '.join(holders)} to {around.share:.0%} of its surface"
            else:
                holders, severity = _channels(model, name, body), "warning"
                how = f"is hidden behind {' and '.join(holders)}"
            if holders:
                yield Finding(
                    severity=severity,
                    parts=(body.name, *holders),
                    at=vector(body.solid.centroid),
                    message=f"{body.name} {how}: no hand gets to it to {made.hand} it",
                    remedy=f"move it to where {name} is open, or leave an opening for a hand over it",
                )


def _channels(model: Model, run: str, body: Body) -> list[str]:
    """Return the backgrounds with a channel for a run behind whose front this piece of it lies."""
    middle = body.solid.centroid[None, :]
    found = []
    for built in model.of_kind("background"):
        if not any(channel.follow == run for channel in getattr(built.part, "channels", ())):
            continue
        data = built.data
        assert isinstance(data, BackgroundData), "a background builds its data (_channels)"
        for slab in data.slabs:
            u, v, depth = slab.panel.local(middle).T
            if np.all(slab.covers(u, v) & (depth > 0) & (depth < slab.front_at(u, v))):
                found.append(built.part.name)
                break
    return found
