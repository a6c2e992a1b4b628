"""What works in the open and lies in foam, sand or rock: mouths, pumps, heaters, leaves."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from layout3d.checks.base import CURRENT, Finding, Findings, Severity, rule
from layout3d.checks.measure import limit, missing
from layout3d.model.around import Around, around_body, around_mouth, around_opening
from layout3d.model.model import Model
from layout3d.parts.base import vector
from layout3d.pipework.closed import against

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
LEAST = {"heater": "heater_buried", "plant": "leaves_buried"}
"""Limits of kinds that have their own."""
CLOSED = "nothing gets through, and outage doesn't count on it"
NARROWED = "less gets through than outage counts on"
INLET = 0.01
"""A pump's inlet is looked at as a mouth so wide, [m]: what closes its grid closes this."""


@rule(
    "buried",
    asks="Mouths, weirs, inlets, pumps, heaters and leaves lie in no foam, sand or rock, mouths at no face.",
    caution=f"{CURRENT} {BURNING}",
    limits=("buried_share", "buried_share_least", "heater_buried", "leaves_buried"),
)
def buried(model: Model) -> Findings:
    """Find mouths and weirs that something closes, and equipment and plants that lie in something."""
    most = limit(model, "buried_share")
    own = {built.part.name: least for kind, least in LEAST.items() for built in model.of_kind(kind)}
    devices = {built.part.name for kind in DEVICES for built in model.of_kind(kind)}
    carved = {body.name for built in model.backgrounds for body in built.bodies}
    # drip holes have a rule of their own
    mouths = (
        (mouth.body, around, mouth.words, CLOSED if missing(around.share, most) == 0.0 else NARROWED)
        for mouth, around in against(model).items()
    )
    told: set[str] = set()
    for name, around, what, why in (*_devices(model), *mouths, *_weirs(model), *_leaves(model)):
        part = name.split(".")[0]
        least = own.get(part, "buried_share_least")
        few = limit(model, least)
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
            message=f"{what} lies close against {' and '.join(holders)} to {around.share:.0%}, more than "
            f"{few:.0%} (limit {least}): {why}",
            remedy=f"move {name if part == model.tank_name else part} into the open"
            + ("" if carved.isdisjoint(around.bodies) else ", or leave an opening around it (`cut_outs:`)"),
        )


def _devices(model: Model) -> Iterator[tuple[str, Around, str, str]]:
    for kind, why in DEVICES.items():
        for built in model.of_kind(kind):
            whole = [around_body(model, body) for body in built.bodies]
            for body, around in zip(built.bodies, whole, strict=True):
                yield body.name, around, body.name, why
            if "inlet" in built.anchors and not getattr(built.part, "air", False):
                inlet = built.anchors["inlet"]
                way = vector(np.array(inlet) - built.bodies[0].solid.centroid)
                around = around_mouth(model, inlet, way, INLET, part=built.part.name)
                if around.share > whole[0].share:
                    yield f"{built.part.name}.inlet", around, f"the inlet of {built.part.name}", why


def _weirs(model: Model) -> Iterator[tuple[str, Around, str, str]]:
    """Yield how much of each weir of an overflow box is stopped from outside, between crest and top."""
    for built in model.overflow_boxes:
        corners = np.array(built.data.plan)
        sides = np.roll(corners, -1, axis=0) - corners
        for edge in built.data.weirs:
            beside = built.data.room_beside(np.array([edge.middle]))[0]
            side = sides[int(np.argmin(np.abs(beside)))]
            long = np.linalg.norm(side)
            way = np.array([side[1], -side[0], 0.0]) / long  # out of the plan, which runs counter-clockwise
            along = np.outer(np.linspace(-0.45, 0.45, 10), [*side, 0.0])
            up = np.outer([0.25, 0.5, 0.75], [0.0, 0.0, edge.slot_height])
            opening = np.array(edge.middle) + edge.thickness * way + (along[:, None] + up).reshape(-1, 3)
            part = built.part.name
            around = around_opening(model, opening, way, edge.slot_height / 4.0, part=part)
            name = f"{part}.{edge.side}"
            yield (
                name,
                around,
                f"the weir of {name}",
                "less runs over it than is figured, and the tank runs over",
            )


def _leaves(model: Model) -> Iterator[tuple[str, Around, str, str]]:
    most = limit(model, "leaves_buried")
    for built in model.of_kind("plant"):
        groups: tuple[str, ...] = ("background", "substrate", "rock")
        if getattr(built.part, "fixed_to", ()):  # moss lies in its stone
            groups = groups[:2]
        for body in built.bodies:
            if body.kind == "foliage":
                around = around_body(model, body, groups=groups)
                if around.share > most:
                    yield body.name, around, body.name, "leaves without light and air rot"
