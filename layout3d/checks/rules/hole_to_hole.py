"""How near two drilled holes in one pane are to each other, and the flanges and nuts around them."""

from __future__ import annotations

import itertools
import math

import numpy as np

from layout3d.checks.base import DRILLING, Findings, rule
from layout3d.checks.drilled_holes import holes, judged_by_glass
from layout3d.checks.measure import judged, worded
from layout3d.model.model import Model
from layout3d.parts.base import vector
from layout3d.parts.tank_data import DrilledHole


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
def hole_pairs(model: Model) -> Findings:
    """Find pairs of holes that are too near."""
    for (a, panel), (b, other) in itertools.combinations(holes(model), 2):
        if panel.name == other.name:
            centres, at = math.dist(a.at, b.at), vector((np.array(a.at) + b.at) / 2)
            between = centres - (a.diameter + b.diameter) / 2
            left = worded(between, "leave {} of glass between their edges", "run {} into each other")
            yield from judged_by_glass(
                model,
                between,
                ("glass_hole_hole_diameters", "glass_hole_hole_thicknesses", "glass_hole_hole"),
                diameter=max(a.diameter, b.diameter),
                thickness=panel.thickness,
                parts=(a.name, b.name),
                at=at,
                says=f"{a.name} and {b.name} {left}",
                remedy="move them {short} further apart",
            )
            if not (a.bulkhead and b.bulkhead):
                continue
            # flanges and nuts on either side of the glass
            room = min(centres - (_round(a, side) + _round(b, side)) / 2 for side in ("inside", "outside"))
            how = worded(room, "are {} apart", "lie {} over each other")
            yield from judged(
                model,
                room,
                "bulkhead_to_bulkhead",
                0.0,
                parts=(a.name, b.name),
                at=at,
                says=f"the bulkheads in {a.name} and {b.name} {how}",
                remedy="move the holes {short} further apart",
            )


def _round(hole: DrilledHole, side: str) -> float:
    """Return the diameter of what stands round a hole on one side of its pane."""
    return hole.flange_diameter if hole.flange == side else hole.nut_diameter
