"""Drilled holes and their bulkheads: against the pane, its edges, braces and seams, and one another."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Iterator
from functools import partial

import numpy as np

from layout3d.checks.base import Finding, rule
from layout3d.checks.measure import judged, length, limit, missing, worded
from layout3d.checks.rules.plugged import FLOOD
from layout3d.model.model import Model
from layout3d.parts.base import Vector
from layout3d.parts.tank_data import DrilledHole, Edge, Wall

__all__ = [
    "DRILLING",
    "OF_THE_TANK",
    "bulkheads_to_seams",
    "flanges_on_bends",
    "hole_edges",
    "hole_pairs",
    "hole_sizes",
    "holes",
    "holes_in_tempered",
    "holes_under_braces",
    "judged_by_glass",
]

DRILLING = (
    "Drilled glass under load can crack. The limits are rules of thumb and fabricators' figures for "
    "annealed glass; ask the glass maker, and never drill toughened glass."
)
OF_THE_TANK = (
    "bulkhead-to-seam",
    "flange-on-bend",
    "hole-edge-distance",
    "hole-in-tempered",
    "hole-size",
    "hole-to-hole",
    "hole-under-brace",
)
"""Rules that judge the tank by itself, whatever else can't be built: glass is drilled before all that."""
DRILL_REACH = 0.05
"""What a hole saw and its machine need on either side of the pane, [m]; common practice, no source."""

Judge = Callable[..., Iterator[Finding]]
"""``judged`` of one hole: its model, parts and place are given already."""


def holes(model: Model) -> Iterator[tuple[DrilledHole, Wall]]:
    """Return the tank's holes with their panes."""
    return ((hole, model.tank.panels[hole.panel]) for hole in model.tank.holes.values())


def judged_by_glass(
    model: Model,
    measured: float,
    names: tuple[str, str, str],
    *,
    diameter: float,
    thickness: float,
    parts: tuple[str, ...],
    at: Vector,
    says: str,
    remedy: str,
) -> Iterator[Finding]:
    """Return the finding that the glass beside a hole is too narrow, as ``judged``; nothing where it is not.

    ``names`` are those of the limits in hole diameters, in glass thicknesses (the fault) and in metres: the
    widest rules the warning.
    """
    diameters, thicknesses, least = names
    found = {
        diameters: limit(model, diameters) * diameter,
        thicknesses: limit(model, thicknesses) * thickness,
        least: limit(model, least),
    }
    ruling = max(found, key=lambda name: found[name])
    wanted, fault = found[ruling], found[thicknesses]
    also = ""
    if wanted != fault and missing(measured, fault):
        also = f"; a fault below {length(fault)}, limit {thicknesses}"
    told = f" (limit {ruling}{also})"
    yield from judged(model, measured, wanted, fault, parts=parts, at=at, says=says, told=told, remedy=remedy)


@rule("hole-in-tempered", asks="No hole is drilled in a toughened pane.", caution=DRILLING)
def holes_in_tempered(model: Model) -> Iterator[Finding]:
    """Find holes in panes that the scene calls tempered."""
    for hole, panel in holes(model):
        if panel.tempered:
            yield Finding(
                parts=(panel.body, hole.name),
                at=hole.at,
                message=f"{hole.name} is drilled in {panel.body}, which is toughened: it bursts",
                remedy="drill another pane, or have this one made with the hole before it is toughened",
            )


@rule(
    "hole-size",
    asks="Each hole suits its pane's thickness and width and its bulkhead's thread.",
    caution=DRILLING,
    limits=(
        "glass_hole_least_thicknesses",
        "glass_hole_most_of_side",
        "bulkhead_hole_slack",
        "bulkhead_cover",
    ),
)
def hole_sizes(model: Model) -> Iterator[Finding]:
    """Find holes whose diameter does not suit."""
    for hole, panel in holes(model):
        judge = partial(judged, model, parts=(panel.body, hole.name), at=hole.at)
        yield from _against_pane(model, hole, panel, judge)
        if hole.bulkhead:
            yield from _against_bulkhead(model, hole, panel, judge)


def _against_pane(model: Model, hole: DrilledHole, panel: Wall, judge: Judge) -> Iterator[Finding]:
    wide = f"{hole.name} is {length(hole.diameter)} wide in a pane"
    yield from judge(
        hole.diameter,
        limit(model, "glass_hole_least_thicknesses") * panel.thickness,
        says=f"{wide} {length(panel.thickness)} thick",
        told=" (limit glass_hole_least_thicknesses)",
        remedy="drill a wider hole and bush it down",
    )
    yield from judge(
        hole.diameter,
        limit(model, "glass_hole_most_of_side") * panel.narrow,
        math.inf,
        most=True,
        says=f"{wide} {length(panel.narrow)} across",
        told=" (limit glass_hole_most_of_side)",
        remedy="use a smaller bulkhead, or two",
    )


def _against_bulkhead(model: Model, hole: DrilledHole, panel: Wall, judge: Judge) -> Iterator[Finding]:
    entry = model.scene.catalog.bulkhead(hole.bulkhead)
    slack, least = hole.diameter - entry.thread_diameter, limit(model, "bulkhead_hole_slack")
    yield from judge(
        slack,
        "bulkhead_hole_slack",
        says=f"{hole.name} leaves {length(slack)} around the thread of a {entry.name} bulkhead",
        remedy=f"drill {length(entry.thread_diameter + least)} or more; measure your own bulkhead first",
    )
    what, outer = min(
        ("flange", entry.flange_diameter), ("nut", entry.nut_diameter), key=lambda pair: pair[1]
    )
    cover = (outer - hole.diameter) / 2
    lies = worded(cover, "covers {} of glass around", "falls through")
    yield from judge(
        cover,
        "bulkhead_cover",
        says=f"the {what} of a {entry.name} bulkhead {lies} {hole.name}",
        remedy=f"drill {length(entry.hole_diameter)}, or use a wider bulkhead",
    )
    low, high = entry.grip_range
    too_thick = missing(high, panel.thickness)
    if too_thick or missing(panel.thickness, low):
        yield Finding(
            parts=(panel.body, hole.name),
            measured=panel.thickness,
            limit=high if too_thick else low,
            at=hole.at,
            message=f"a {entry.name} bulkhead grips glass of {length(low)} to {length(high)}, {panel.body} "
            f"is {length(panel.thickness)}",
            remedy="use a bulkhead with a longer thread" if too_thick else "put a washer under the nut",
        )


@rule(
    "hole-edge-distance",
    asks="Drilled holes keep away from the edges and corners of the glass.",
    caution=DRILLING,
    limits=(
        "glass_hole_edge_diameters",
        "glass_hole_edge_thicknesses",
        "glass_hole_edge",
        "glass_hole_corner_thicknesses",
    ),
)
def hole_edges(model: Model) -> Iterator[Finding]:
    """Find holes too near an edge, and holes too near a corner."""
    for hole, panel in holes(model):
        side = min(panel.outline, key=lambda edge: edge.distance(hole.centre))
        away = np.linalg.norm(panel.corners - np.array(hole.centre), axis=1)
        edge = side.distance(hole.centre) - hole.diameter / 2
        corner = float(away.min(initial=np.inf)) - hole.diameter / 2
        remedy = f"move {hole.name} {{short}} away from it, or use a smaller bulkhead"
        yield from judged_by_glass(
            model,
            edge,
            ("glass_hole_edge_diameters", "glass_hole_edge_thicknesses", "glass_hole_edge"),
            diameter=hole.diameter,
            thickness=panel.thickness,
            parts=(panel.body, hole.name),
            at=hole.at,
            says=f"{_is_at(hole, edge)} the {side.name} edge of {panel.body}",
            remedy=remedy,
        )
        yield from judged(
            model,
            corner,
            limit(model, "glass_hole_corner_thicknesses") * panel.thickness,
            parts=(panel.body, hole.name),
            at=hole.at,
            says=f"{_is_at(hole, corner)} the nearest corner of {panel.body}",
            told=" (limit glass_hole_corner_thicknesses)",
            remedy=remedy,
        )


def _is_at(hole: DrilledHole, distance: float) -> str:
    return worded(distance, f"the edge of {hole.name} is {{}} from", f"{hole.name} runs {{}} over")


@rule(
    "hole-to-hole",
    asks="Holes in one pane keep apart, and so do their flanges and nuts.",
    caution=DRILLING,
    limits=(
        "glass_hole_hole_diameters",
        "glass_hole_hole_thicknesses",
        "glass_hole_hole",
        "bulkhead_to_bulkhead",
    ),
)
def hole_pairs(model: Model) -> Iterator[Finding]:
    """Find pairs of holes that are too near."""
    for (a, panel), (b, other) in itertools.combinations(holes(model), 2):
        if panel.name == other.name:
            yield from _glass_between(model, a, b, panel.thickness)
            yield from _room_between(model, a, b)


def _glass_between(model: Model, a: DrilledHole, b: DrilledHole, thickness: float) -> Iterator[Finding]:
    between = math.dist(a.at, b.at) - (a.diameter + b.diameter) / 2
    left = worded(between, "leave {} of glass between their edges", "run {} into each other")
    yield from judged_by_glass(
        model,
        between,
        ("glass_hole_hole_diameters", "glass_hole_hole_thicknesses", "glass_hole_hole"),
        diameter=max(a.diameter, b.diameter),
        thickness=thickness,
        parts=(a.name, b.name),
        at=_middle(a, b),
        says=f"{a.name} and {b.name} {left}",
        remedy="move them {short} further apart",
    )


def _room_between(model: Model, a: DrilledHole, b: DrilledHole) -> Iterator[Finding]:
    """Find flanges and nuts of two bulkheads that meet, on either side of the glass."""
    if not (a.bulkhead and b.bulkhead):
        return
    centres = math.dist(a.at, b.at)
    room = min(centres - (_round(a, side) + _round(b, side)) / 2 for side in ("inside", "outside"))
    how = worded(room, "are {} apart", "lie {} over each other")
    yield from judged(
        model,
        room,
        "bulkhead_to_bulkhead",
        0.0,
        parts=(a.name, b.name),
        at=_middle(a, b),
        says=f"the bulkheads in {a.name} and {b.name} {how}",
        remedy="move the holes {short} further apart",
    )


def _round(hole: DrilledHole, side: str) -> float:
    """Return the diameter of what stands round a hole on one side of its pane."""
    return hole.flange_diameter if hole.flange == side else hole.nut_diameter


def _middle(a: DrilledHole, b: DrilledHole) -> Vector:
    x, y, z = ((p + q) / 2 for p, q in zip(a.at, b.at, strict=True))
    return (x, y, z)


@rule(
    "hole-under-brace",
    asks="Holes and their flanges keep clear of braces and rim.",
    limits=("bulkhead_to_brace",),
)
def holes_under_braces(model: Model) -> Iterator[Finding]:
    """Find holes whose flange or drill would meet a brace or the rim on the same pane."""
    braces = [b for b in model.bodies_of(model.tank_name) if b.kind in ("brace", "rim")]
    for hole, panel in holes(model):
        radius = max(hole.diameter, hole.flange_diameter, hole.nut_diameter) / 2
        for brace in braces:
            local = panel.local(brace.solid.vertices)
            near = local[np.abs(local[:, 2]) < DRILL_REACH]
            if not len(near):
                continue
            low, high = near[:, :2].min(axis=0), near[:, :2].max(axis=0)
            apart = np.maximum(np.maximum(low - hole.centre, hole.centre - high), 0.0)
            distance = float(np.hypot(*apart)) - radius
            what = f"{hole.name} with its flange" if hole.bulkhead else hole.name
            yield from judged(
                model,
                distance,
                "bulkhead_to_brace",
                0.0,
                parts=(hole.name, brace.name),
                at=hole.at,
                says=f"{what} {worded(distance, 'is {} from', 'reaches {} under')} {brace.name}",
                remedy=f"move {hole.name} {{short}} away from the brace",
            )


@rule(
    "bulkhead-to-seam",
    asks="Flange and nut sit on flat glass, clear of silicone, with room to turn the nut.",
    limits=("bulkhead_to_seam", "bulkhead_to_seam_least", "nut_to_corner"),
)
def bulkheads_to_seams(model: Model) -> Iterator[Finding]:
    """Find flanges and nuts too near a silicone seam, and nuts without room beside them."""
    for hole, panel in holes(model):
        if hole.bulkhead:
            yield from _seam(model, hole, panel)
            if hole.flange == "outside":
                yield from _nut_room(model, hole, panel)


def _seam(model: Model, hole: DrilledHole, panel: Wall) -> Iterator[Finding]:
    what, diameter = (
        ("nut", hole.nut_diameter) if hole.flange == "outside" else ("flange", hole.flange_diameter)
    )
    side = min(panel.seams, key=lambda edge: edge.distance(hole.centre))
    seam = side.distance(hole.centre) - diameter / 2 - model.tank.silicone
    if model.tank.silicone > 0:
        seam_name, parts = f"the silicone along {side.name}", (hole.name, f"{model.tank_name}.silicone")
    else:
        seam_name = f"{model.tank_name}.{side.name}"
        parts = (hole.name, seam_name)
    how = worded(seam, "is {} from", "lies {} over", "reaches")
    yield from judged(
        model,
        seam,
        "bulkhead_to_seam",
        "bulkhead_to_seam_least",
        parts=parts,
        at=hole.at,
        says=f"the {what} of {hole.name} {how} {seam_name}",
        remedy=f"move {hole.name} {{short}} away from {side.name}",
    )


def _nut_room(model: Model, hole: DrilledHole, panel: Wall) -> Iterator[Finding]:
    """Find a nut on the inside without room beside it; at a sharp corner the next pane leans over it."""
    height = model.scene.catalog.bulkhead(hole.bulkhead).nut_thickness
    rooms = {edge: _to_pane(edge, hole, height) for edge in panel.seams}
    side, room = min(rooms.items(), key=lambda pair: pair[1])
    pane = f"{model.tank_name}.{side.name}"
    yield from judged(
        model,
        room,
        "nut_to_corner",
        0.0,
        parts=(hole.name, pane),
        at=hole.at,
        says=f"the nut of {hole.name} {worded(room, 'has {} beside it to', 'reaches {} past')} {pane}",
        told=" to turn it (limit nut_to_corner)",
        remedy=f"move {hole.name} {{short}} away from {side.name}, or put its nut outside",
    )


def _to_pane(edge: Edge, hole: DrilledHole, height: float) -> float:
    """Return the way from a nut's upper rim, square to the next pane, [m]."""
    beside = edge.distance(hole.centre) - hole.nut_diameter / 2
    return beside * math.sin(edge.angle) - height * math.cos(edge.angle)


@rule(
    "flange-on-bend",
    asks="A flat flange on a bent wall leaves no more than its gasket takes.",
    caution=FLOOD,
    limits=("gasket_over_bend",),
)
def flanges_on_bends(model: Model) -> Iterator[Finding]:
    """Find bulkheads whose flange stands off a bent wall by more than a gasket fills."""
    most = limit(model, "gasket_over_bend")
    for hole, wall in holes(model):
        over = missing(most, hole.gap)
        if over:
            yield Finding(
                parts=(wall.body, hole.name),
                measured=hole.gap,
                limit=most,
                at=hole.at,
                message=f"the flange of {hole.name}, {length(hole.flange_diameter)} wide, stands off "
                f"{wall.body} by {length(hole.gap)} at its worst: {length(over)} more than its gasket takes "
                "(limit gasket_over_bend)",
                remedy="use a smaller bulkhead, drill a flat pane or the bottom, or have a flat seat made",
            )
