"""A drilled hole, or its flange or nut, behind a brace or the rim."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from layout3d.checks.base import Finding, rule
from layout3d.checks.glass_holes import holes
from layout3d.checks.measure import judged, length
from layout3d.model.model import Model

__all__ = ["holes_under_braces"]

DRILL_REACH = 0.05
"""What a hole saw and its machine need on either side of the pane, [m]; common practice, no source."""


@rule(
    "hole-under-brace",
    asks="Holes and their flanges keep clear of braces and rim.",
    limits=("bulkhead_to_brace",),
)
def holes_under_braces(model: Model) -> Iterator[Finding]:
    """Find holes whose flange or drill would meet a brace or the rim on the same pane."""
    braces = [b for b in model.bodies_of(model.tank_name) if b.kind in ("brace", "rim")]
    for item in holes(model):
        radius = max(item.hole.diameter, item.hole.flange_diameter, item.hole.nut_diameter) / 2
        for brace in braces:
            local = item.panel.local(brace.solid.vertices)
            near = local[np.abs(local[:, 2]) < DRILL_REACH]
            if not len(near):
                continue
            low, high = near[:, :2].min(axis=0), near[:, :2].max(axis=0)
            apart = np.maximum(np.maximum(low - item.hole.centre, item.hole.centre - high), 0.0)
            distance = float(np.hypot(*apart)) - radius
            what = f"{item.hole.name} with its flange" if item.hole.bulkhead else item.hole.name
            over = length(abs(distance))
            yield from judged(
                model,
                distance,
                "bulkhead_to_brace",
                0.0,
                parts=(item.hole.name, brace.name),
                at=item.hole.at,
                says=f"{what} {f'is {over} from' if distance > 0 else f'reaches {over} under'} {brace.name}",
                remedy=f"move {item.hole.name} {{short}} away from the brace",
            )
