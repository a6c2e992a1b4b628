"""A drilled hole, or its flange or nut, behind a brace or the rim."""

from __future__ import annotations

import numpy as np

from layout3d.checks.base import Findings, rule
from layout3d.checks.drilled_holes import holes
from layout3d.checks.measure import judged, worded
from layout3d.model.model import Model

DRILL_REACH = 0.05
"""What a hole saw and its machine need on either side of the pane, [m]; common practice, no source."""


@rule(
    "hole-under-brace",
    asks="Holes and their flanges keep clear of braces and rim.",
    limits=("bulkhead_to_brace",),
)
def holes_under_braces(model: Model) -> Findings:
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
