"""How near a drilled hole is to the edge and the corners of its pane."""

from __future__ import annotations

import numpy as np

from layout3d.checks.base import DRILLING, Findings, rule
from layout3d.checks.drilled_holes import holes, judged_by_glass
from layout3d.checks.measure import judged, limit, worded
from layout3d.model.model import Model
from layout3d.parts.tank_data import DrilledHole


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
def hole_edges(model: Model) -> Findings:
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
