"""An overflow box: drains in it, a crest at the waterline, a fall behind it, and room for its fittings."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from layout3d.checks.base import Finding, Severity, rule
from layout3d.checks.measure import ROUNDING, length, limit, missing
from layout3d.checks.rules.plugged import FLOOD
from layout3d.flow.overflow import gravity_drains
from layout3d.model.model import Model
from layout3d.parts.base import Built, Vector
from layout3d.parts.overflow_box import OverflowBox
from layout3d.parts.overflow_box_data import OverflowBoxData

__all__ = ["overflow_boxes"]

BoxBuilt = Built[OverflowBox, OverflowBoxData]


@rule(
    "overflow-box",
    asks="An overflow box holds two drains, its crest is at the waterline, and water falls into it.",
    caution=FLOOD,
    limits=(
        "waterline_to_overflow",
        "overflow_box_fall",
        "bulkhead_to_seam_least",
        "hand_access",
        "hand_access_least",
    ),
)
def overflow_boxes(model: Model) -> Iterator[Finding]:
    """Find boxes without drains, with a crest or a level at odds with the waterline, or too tight."""
    for built in model.overflow_boxes:
        yield from _drains(model, built)
        yield from _crest(model, built)
        yield from _fall(model, built)
        yield from _room(model, built)


def _drains(model: Model, built: BoxBuilt) -> Iterator[Finding]:
    """Find a box without a drain, and one without a second for when the first is blocked."""
    name, holes = built.part.name, model.tank.holes
    drains = [hole for hole in built.data.holes if holes[hole].bulkhead and not holes[hole].plugged]
    if len(drains) < 2:
        none = not drains
        yield _finding(
            built,
            "fault" if none else "warning",
            float(len(drains)),
            2.0,
            built.anchors["floor"],
            f"{name} walls off no drain: what runs over its weir fills it, and then the tank"
            if none
            else f"{name} walls off one drain, {drains[0]}: where that is blocked nothing carries the water",
            "drill the tank for a main and an emergency drain within the box",
            unit="1",
        )


def _crest(model: Model, built: BoxBuilt) -> Iterator[Finding]:
    """Find a waterline below the crest, which nothing runs over, or over the top of the box."""
    data, name = built.data, built.part.name
    over = model.waterline - data.crest
    most = limit(model, "waterline_to_overflow")
    at = data.weirs[0].middle
    if missing(over, 0.0) > most:
        yield _finding(
            built,
            "warning",
            over,
            -most,
            at,
            f"the waterline is {length(model, -over)} below the crest of {name}: nothing runs over it "
            "(limit waterline_to_overflow)",
            f"raise the waterline to {length(model, data.crest)}, or lower the crest",
        )
    elif model.waterline > data.rim + ROUNDING:
        past = model.waterline - data.rim
        yield _finding(
            built,
            "fault",
            past,
            0.0,
            at,
            f"the waterline is {length(model, past)} above the top of {name}: the weir is drowned and holds "
            "nothing back",
            f"lower the waterline to {length(model, data.crest)}, or raise the box",
        )


def _fall(model: Model, built: BoxBuilt) -> Iterator[Finding]:
    """Find water in the box that stands too near below the crest, or over it."""
    data, name = built.data, built.part.name
    mouths = [drain.mouth_crest for drain in gravity_drains(model) if drain.box == name]
    held = max(data.level, min(mouths, default=data.level))
    below = missing(data.level, held)
    if below:
        yield _finding(
            built,
            "warning",
            data.level,
            held,
            built.anchors["floor"],
            f"the water in {name} is set {length(model, below)} below where its lowest drain lets it in",
            f"set `level:` of {name} to {length(model, held)} or more, or its drain lower",
        )
    fall, least = data.crest - held, limit(model, "overflow_box_fall")
    short = missing(fall, least)
    if short:
        stands = f"{length(model, fall)} below" if fall > 0 else f"{length(model, -fall)} above"
        yield _finding(
            built,
            "fault" if fall <= ROUNDING else "warning",
            fall,
            least,
            data.weirs[0].middle,
            f"the water in {name} stands {stands} its crest: {length(model, short)} short of "
            f"{length(model, least)} of free fall (limit overflow_box_fall)",
            "set the drain's intake lower, and `level:` with it",
        )


def _room(model: Model, built: BoxBuilt) -> Iterator[Finding]:
    """Find flanges and nuts too near the panes of the box to be tightened, and a box no hand gets into."""
    data, name = built.data, built.part.name
    for hole_name in data.holes:
        hole = model.tank.holes[hole_name]
        wall = model.tank.panels[hole.panel]
        across = max(hole.diameter, hole.flange_diameter if hole.flange == "inside" else hole.nut_diameter)
        if hole.panel == "bottom":
            room = float(data.room(np.array([hole.at]))[0])
        else:
            room = _beside(data, hole.at, wall.facing)
        left, least = room - across / 2, limit(model, "bulkhead_to_seam_least")
        short = missing(left, least)
        if short:
            yield _finding(
                built,
                "fault" if missing(left, 0.0) else "warning",
                left,
                least,
                hole.at,
                f"the bulkhead in {hole_name} has {length(model, left)} beside it to a pane of {name}: "
                f"{length(model, short)} short of {length(model, least)} (limit bulkhead_to_seam_least)",
                f"make {name} wider, or drill {hole_name} further from its panes",
                parts=(name, hole_name),
            )
    inside = np.array(data.high) - np.array(data.low)
    narrow, wanted = float(inside[:2].min()), limit(model, "hand_access")
    short = missing(narrow, wanted)
    if short:
        yield _finding(
            built,
            "fault" if missing(narrow, limit(model, "hand_access_least")) else "warning",
            narrow,
            wanted,
            built.anchors["floor"],
            f"{name} is {length(model, narrow)} wide inside: {length(model, short)} short of "
            f"{length(model, wanted)} for a hand to its fittings (limit hand_access)",
            f"make {name} {length(model, short)} wider",
        )


def _beside(data: OverflowBoxData, at: Vector, facing: Vector) -> float:
    """Return the way from a hole in the box's wall to the panes at its sides and to its floor, [m]."""
    room = data.room_beside(np.array([at]))[0]
    corners = np.array(data.plan)
    ways = np.roll(corners, -1, axis=0) - corners
    square = np.abs(ways @ np.array(facing[:2])) > 1e-9  # the edges that run away from that wall
    return float(min(room[square].min(), at[2] - data.floor))


def _finding(
    built: BoxBuilt,
    severity: Severity,
    measured: float,
    limit: float,
    at: Vector,
    message: str,
    remedy: str,
    *,
    unit: str = "m",
    parts: tuple[str, ...] = (),
) -> Finding:
    return Finding(
        rule="overflow-box",
        severity=severity,
        parts=parts or (built.part.name,),
        measured=measured,
        limit=limit,
        unit=unit,
        at=at,
        message=message,
        remedy=remedy,
    )
