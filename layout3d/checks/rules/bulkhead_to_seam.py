"""Whether a bulkhead's flange and nut sit on flat glass, clear of silicone and of the next pane."""

from __future__ import annotations

import math

from layout3d.checks.base import Findings, rule
from layout3d.checks.drilled_holes import holes
from layout3d.checks.measure import judged, worded
from layout3d.model.model import Model
from layout3d.parts.tank_data import DrilledHole, Edge, Wall


@rule(
    "bulkhead-to-seam",
    asks="Flange and nut sit on flat glass, clear of silicone, with room to turn the nut.",
    limits=("bulkhead_to_seam", "bulkhead_to_seam_least", "nut_to_corner"),
)
def bulkheads_to_seams(model: Model) -> Findings:
    """Find flanges and nuts too near a silicone seam, and nuts without room beside them."""
    for hole, panel in holes(model):
        if hole.bulkhead:
            yield from _seam(model, hole, panel)
            if hole.flange == "outside":
                yield from _nut_room(model, hole, panel)


def _seam(model: Model, hole: DrilledHole, panel: Wall) -> Findings:
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


def _nut_room(model: Model, hole: DrilledHole, panel: Wall) -> Findings:
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
