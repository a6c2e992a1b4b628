"""Whether a bulkhead's flange and nut sit on flat glass, clear of silicone and of the corner."""

from __future__ import annotations

from collections.abc import Iterator

from layout3d.checks.base import Finding, rule
from layout3d.checks.glass_holes import HoleOnPanel, holes
from layout3d.checks.measure import length, limit
from layout3d.model.model import Model

__all__ = ["bulkheads_to_seams"]


@rule(
    "bulkhead-to-seam", asks="Flange and nut sit on flat glass, clear of silicone, with room to turn the nut."
)
def bulkheads_to_seams(model: Model) -> Iterator[Finding]:
    """Find flanges and nuts too near a silicone seam, and nuts without room beside them."""
    for item in holes(model):
        if not item.hole.bulkhead:
            continue
        nut_inside = item.hole.flange == "outside"
        inside = item.hole.nut_diameter if nut_inside else item.hole.flange_diameter
        corner = _to_corner(item)
        seam = corner - inside / 2 - model.tank.silicone
        warning, fault = limit(model, "bulkhead_to_seam"), limit(model, "bulkhead_to_seam_least")
        if seam < warning:
            short = warning - seam
            yield Finding(
                rule="bulkhead-to-seam",
                severity="fault" if seam < fault else "warning",
                parts=(item.hole.name, f"{model.tank_name}.silicone"),
                measured=seam,
                limit=warning,
                unit="m",
                at=item.hole.at,
                message=(
                    f"the {'nut' if nut_inside else 'flange'} of {item.hole.name} "
                    f"{_apart(model, seam)} the silicone: {length(model, short)} short of "
                    f"{length(model, warning)} (limit bulkhead_to_seam)"
                ),
                remedy=f"move {item.hole.name} {length(model, short)} away from the corner",
            )
        room, wanted = corner - item.hole.nut_diameter / 2, limit(model, "nut_to_corner")
        if nut_inside and room < wanted:
            yield Finding(
                rule="bulkhead-to-seam",
                severity="warning",
                parts=(item.hole.name, item.panel.body),
                measured=room,
                limit=wanted,
                unit="m",
                at=item.hole.at,
                message=(
                    f"the nut of {item.hole.name} has {length(model, room)} beside it to the next pane: "
                    f"{length(model, wanted)} to turn it (limit nut_to_corner)"
                ),
                remedy=f"move {item.hole.name} {length(model, wanted - room)} away from the corner",
            )


def _to_corner(item: HoleOnPanel) -> float:
    """Return the distance from the hole's centre to the nearest inside corner that has a seam, [m].

    The upper edge of a wall has none.
    """
    u, v = item.hole.centre
    sides = [u, item.panel.length - u, v]
    if item.panel.name == "bottom":
        sides.append(item.panel.height - v)
    return min(sides)


def _apart(model: Model, distance: float) -> str:
    if distance < 0:
        return f"lies {length(model, -distance)} over"
    return f"is {length(model, distance)} from"
