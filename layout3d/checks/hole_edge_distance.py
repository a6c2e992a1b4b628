"""How near a drilled hole is to the edge and the corners of its pane."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from layout3d.checks.base import Finding, rule
from layout3d.checks.glass_holes import DRILLING, HoleOnPanel, edge_distance, holes, wanted
from layout3d.checks.measure import length, limit
from layout3d.model.model import Model

__all__ = ["hole_edges"]


@rule(
    "hole-edge-distance",
    asks="Drilled holes keep away from the edges and corners of the glass.",
    caution=DRILLING,
)
def hole_edges(model: Model) -> Iterator[Finding]:
    """Find holes too near an edge, else too near a corner."""
    for item in holes(model):
        hole, panel = item.hole, item.panel
        distance, side = edge_distance(item)
        warning, fault = wanted(model, "glass_hole_edge", diameter=hole.diameter, thickness=panel.thickness)
        name = "glass_hole_edge"
        if distance >= warning:
            distance, side = _corner_distance(item), "nearest corner"
            name = "glass_hole_corner_thicknesses"
            warning = fault = limit(model, name) * panel.thickness
            if distance >= warning:
                continue
        short = warning - distance
        yield Finding(
            rule="hole-edge-distance",
            severity="fault" if distance < fault else "warning",
            parts=(panel.body, hole.name),
            measured=distance,
            limit=warning,
            unit="m",
            at=hole.at,
            message=(
                f"the edge of {hole.name} is {length(model, distance)} from the {side} "
                f"{'' if 'corner' in side else 'edge '}of {panel.body}: {length(model, short)} short of "
                f"{length(model, warning)} (limit {name})"
            ),
            remedy=f"move {hole.name} {length(model, short)} away from it, or use a smaller bulkhead",
        )


def _corner_distance(item: HoleOnPanel) -> float:
    corners = np.array(item.panel.glass)
    away = np.linalg.norm(corners - np.array(item.hole.centre), axis=1)
    return float(away.min()) - item.hole.diameter / 2
