"""How near a drilled hole is to the edge and the corners of its pane."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from layout3d.checks.base import Finding, rule
from layout3d.checks.glass_holes import DRILLING, HoleOnPanel, holes, wanted
from layout3d.checks.measure import length, limit, missing
from layout3d.model.model import Model

__all__ = ["hole_edges"]


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
    for item in holes(model):
        hole, panel = item.hole, item.panel
        side = min(panel.outline, key=lambda edge: edge.distance(hole.centre))
        distance = side.distance(hole.centre) - hole.diameter / 2
        warning, fault, name = wanted(
            model,
            ("glass_hole_edge_diameters", "glass_hole_edge_thicknesses", "glass_hole_edge"),
            diameter=hole.diameter,
            thickness=panel.thickness,
        )
        if missing(distance, warning):
            yield _finding(model, item, distance, warning, fault, f"the {side.name} edge", name)
        name = "glass_hole_corner_thicknesses"
        least = limit(model, name) * panel.thickness
        away = np.linalg.norm(panel.corners - np.array(hole.centre), axis=1)
        distance = float(away.min(initial=np.inf)) - hole.diameter / 2
        if missing(distance, least):
            yield _finding(model, item, distance, least, least, "the nearest corner", name)


def _finding(
    model: Model, item: HoleOnPanel, distance: float, warning: float, fault: float, where: str, name: str
) -> Finding:
    hole, panel = item.hole, item.panel
    short = warning - distance
    is_at = (
        f"the edge of {hole.name} is {length(model, distance)} from {where}"
        if distance > 0
        else f"{hole.name} runs {length(model, -distance)} over {where}"
    )
    return Finding(
        rule="hole-edge-distance",
        severity="fault" if missing(distance, fault) else "warning",
        parts=(panel.body, hole.name),
        measured=distance,
        limit=warning,
        unit="m",
        at=hole.at,
        message=(
            f"{is_at} of {panel.body}: {length(model, short)} short of {length(model, warning)} "
            f"(limit {name}{_also(model, distance, warning, fault)})"
        ),
        remedy=f"move {hole.name} {length(model, short)} away from it, or use a smaller bulkhead",
    )


def _also(model: Model, distance: float, warning: float, fault: float) -> str:
    """Name the lesser limit that makes it a fault, where another one rules the distance asked for."""
    if warning == fault or not missing(distance, fault):
        return ""
    return f"; a fault below {length(model, fault)}, limit glass_hole_edge_thicknesses"
