"""An overflow box: drains in it, a crest at the waterline, a fall behind it, and room for its fittings."""

from __future__ import annotations

import numpy as np

from layout3d.checks.base import FLOOD, Finding, Findings, rule
from layout3d.checks.measure import ROUNDING, judged, length, limit, missing, worded
from layout3d.flow.overflow import gravity_drains
from layout3d.model.model import Model
from layout3d.parts.base import Built, Vector
from layout3d.parts.overflow_box import OverflowBox
from layout3d.parts.vessel import OverflowBoxData
from layout3d.pipework.read import pipework

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
def overflow_boxes(model: Model) -> Findings:
    """Find boxes without drains, with a level at odds with the waterline, too tight, or that a pump fills."""
    for built in model.overflow_boxes:
        yield from _drains(model, built)
        yield from _crest(model, built)
        yield from _fall(model, built)
        yield from _room(model, built)
        yield from _returns(model, built)


def _drains(model: Model, built: BoxBuilt) -> Findings:
    """Find a box without a drain, and one without a second for when the first is blocked."""
    name = built.part.name
    drains = _drain_holes(model, built)
    if len(drains) < 2:
        yield Finding(
            severity="warning" if drains else "fault",
            parts=(name,),
            measured=float(len(drains)),
            limit=2.0,
            unit="1",
            at=built.anchors["floor"],
            message=f"{name} walls off one drain, {drains[0]}: where that is blocked nothing carries the "
            "water"
            if drains
            else f"{name} walls off no drain: what runs over its weir fills it, and then the tank",
            remedy="drill the tank for a main and an emergency drain within the box",
        )


def _returns(model: Model, built: BoxBuilt) -> Findings:
    """Find pumped water that ends in the box, where the drains take it back before it was in the tank."""
    name = built.part.name
    for part in pipework(model).parts:
        for mouth in part.mouths:
            if part.water_pumps and built.data.holds(mouth.at):
                yield Finding(
                    parts=(mouth.part, name),
                    at=mouth.at,
                    message=f"{mouth.words} lets pumped water into {name}: it runs down the drains, and "
                    f"{model.tank_name} gets none of it, whatever level is figured for its flow",
                    remedy=f"lead it over the edge of {name} into {model.tank_name}",
                )


def _drain_holes(model: Model, built: BoxBuilt) -> list[str]:
    """Return the holes of a box that water runs away through; one that no pipe joins yet counts as meant.

    None is the hole of a return, nor one whose standpipe is capped or whose valve is shut.
    """
    holes, tank = model.tank.holes, model.tank_name
    runs = {
        edge.name
        for ways in pipework(model).parts
        if any(edge.part != tank for edge in ways.edges)
        for edge in ways.edges
    }
    away = {
        edge.name
        for drain in gravity_drains(model)
        if drain.box == built.part.name
        for edge in drain.way.edges
    }
    open_to_it = [hole for hole in built.data.holes if holes[hole].bulkhead and not holes[hole].plugged]
    return [hole for hole in open_to_it if (f"{tank}.{hole}" in away or f"{tank}.{hole}" not in runs)]


def _crest(model: Model, built: BoxBuilt) -> Findings:
    """Find a waterline below the crest, which nothing runs over, or over the top of the box."""
    data, name = built.data, built.part.name
    over, past = model.waterline - data.crest, model.waterline - data.rim
    most = limit(model, "waterline_to_overflow")
    if missing(over, 0.0) > most:
        yield Finding(
            severity="warning",
            parts=(name,),
            measured=over,
            limit=-most,
            at=data.weirs[0].middle,
            message=f"the waterline is {length(-over)} below the crest of {name}: nothing runs over it "
            "(limit waterline_to_overflow)",
            remedy=f"raise the waterline to {length(data.crest)}, or lower the crest",
        )
    elif past > ROUNDING:
        yield Finding(
            parts=(name,),
            measured=past,
            limit=0.0,
            at=data.weirs[0].middle,
            message=f"the waterline is {length(past)} above the top of {name}: the weir is drowned and holds "
            "nothing back",
            remedy=f"lower the waterline to {length(data.crest)}, or raise the box",
        )


def _fall(model: Model, built: BoxBuilt) -> Findings:
    """Find water in the box too near below the crest, or over it, or set where its drain doesn't hold it.

    Open, a drain lets it stand no higher over its lip than the pipe is wide; throttled, as high as is tuned.
    """
    data, name = built.data, built.part.name
    drains = [drain for drain in gravity_drains(model) if drain.box == name]
    lowest = min(drains, key=lambda drain: drain.mouth_crest, default=None)
    lip = data.level if lowest is None else lowest.mouth_crest
    most = data.level if lowest is None else lip + lowest.way.bore
    throttled = any(edge.opening < 1.0 for drain in drains for edge in drain.way.edges)
    held = max(data.level, lip)
    below, above = missing(data.level, held), missing(-data.level, -most)
    if below or (above and not throttled):
        yield Finding(
            severity="warning",
            parts=(name,),
            measured=data.level,
            limit=held if below else most,
            at=built.anchors["floor"],
            message=f"the water in {name} is set {length(abs(data.level - lip))} "
            + ("below" if below else "above")
            + " where its lowest drain lets it in"
            + ("" if below else ": unthrottled, that takes it away"),
            remedy=f"set `level:` of {name} to {length(lip)} or more, or its drain lower"
            if below
            else f"set `level:` of {name} to {length(lip)} to {length(most)}, or its drain higher",
        )
    fall = data.crest - held
    yield from judged(
        model,
        fall,
        "overflow_box_fall",
        2 * ROUNDING,
        parts=(name,),
        at=data.weirs[0].middle,
        says=f"the water in {name} stands {worded(fall, '{} below', '{} above')} its crest",
        told=" of free fall (limit overflow_box_fall)",
        remedy="set the drain's intake lower, and `level:` with it",
    )


def _room(model: Model, built: BoxBuilt) -> Findings:
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
        left = room - across / 2
        yield from judged(
            model,
            left,
            "bulkhead_to_seam_least",
            0.0,
            parts=(name, hole_name),
            at=hole.at,
            says=f"the bulkhead in {hole_name} has {length(left)} beside it to a pane of {name}",
            remedy=f"make {name} wider, or drill {hole_name} further from its panes",
        )
    narrow = float((np.array(data.high) - np.array(data.low))[:2].min())
    yield from judged(
        model,
        narrow,
        "hand_access",
        "hand_access_least",
        parts=(name,),
        at=built.anchors["floor"],
        says=f"{name} is {length(narrow)} wide inside",
        told=" for a hand to its fittings (limit hand_access)",
        remedy=f"make {name} {{short}} wider",
    )


def _beside(data: OverflowBoxData, at: Vector, facing: Vector) -> float:
    """Return the way from a hole in the box's wall to the panes at its sides and to its floor, [m]."""
    room = data.room_beside(np.array([at]))[0]
    corners = np.array(data.plan)
    ways = np.roll(corners, -1, axis=0) - corners
    square = np.abs(ways @ np.array(facing[:2])) > 1e-9  # the edges that run away from that wall
    return float(min(room[square].min(), at[2] - data.floor))
