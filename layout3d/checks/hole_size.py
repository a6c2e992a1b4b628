"""Whether a hole suits its pane and its bulkhead: neither too small, too large, nor out of the thread's grip."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from layout3d.checks.base import Finding, rule
from layout3d.checks.glass_holes import DRILLING, HoleOnPanel, holes
from layout3d.checks.measure import length, limit
from layout3d.model.model import Model

__all__ = ["hole_sizes"]


@rule(
    "hole-size",
    asks="Each hole suits its pane's thickness and width and its bulkhead's thread.",
    caution=DRILLING,
)
def hole_sizes(model: Model) -> Iterator[Finding]:
    """Find holes whose diameter does not suit."""
    for item in holes(model):
        yield from _against_pane(model, item)
        if item.hole.bulkhead:
            yield from _against_bulkhead(model, item)


def _against_pane(model: Model, item: HoleOnPanel) -> Iterator[Finding]:
    hole, panel = item.hole, item.panel
    least = limit(model, "glass_hole_least_thicknesses") * panel.thickness
    corners = np.array(panel.glass)
    narrow = float(np.ptp(corners, axis=0).min())
    most = limit(model, "glass_hole_most_of_side") * narrow
    if hole.diameter < least:
        yield Finding(
            rule="hole-size",
            severity="fault",
            parts=(panel.body, hole.name),
            measured=hole.diameter,
            limit=least,
            unit="m",
            at=hole.at,
            message=(
                f"{hole.name} is {length(model, hole.diameter)} wide in glass {length(model, panel.thickness)} "
                f"thick: at least {length(model, least)} (limit glass_hole_least_thicknesses)"
            ),
            remedy="drill a wider hole and bush it down",
        )
    if hole.diameter > most:
        yield Finding(
            rule="hole-size",
            severity="warning",
            parts=(panel.body, hole.name),
            measured=hole.diameter,
            limit=most,
            unit="m",
            at=hole.at,
            message=(
                f"{hole.name} is {length(model, hole.diameter)} wide in a pane {length(model, narrow)} across: "
                f"at most {length(model, most)} (limit glass_hole_most_of_side)"
            ),
            remedy="use a smaller bulkhead, or two",
        )


def _against_bulkhead(model: Model, item: HoleOnPanel) -> Iterator[Finding]:
    hole, panel = item.hole, item.panel
    entry = model.scene.catalog.bulkhead(hole.bulkhead)
    slack = hole.diameter - entry.thread_diameter
    least = limit(model, "bulkhead_hole_slack")
    cover = (entry.flange_diameter - hole.diameter) / 2
    if slack < least:
        yield Finding(
            rule="hole-size",
            severity="fault",
            parts=(hole.name,),
            measured=slack,
            limit=least,
            unit="m",
            at=hole.at,
            message=(
                f"{hole.name} leaves {length(model, slack)} around the thread of a {entry.name} bulkhead: at "
                f"least {length(model, least)} (limit bulkhead_hole_slack)"
            ),
            remedy=f"drill {length(model, entry.thread_diameter + least)} or more; measure your own bulkhead first",
        )
    if cover < 0.004:
        yield Finding(
            rule="hole-size",
            severity="fault",
            parts=(hole.name,),
            measured=cover,
            limit=0.004,
            unit="m",
            at=hole.at,
            message=(
                f"the flange of the {entry.name} bulkhead covers {length(model, cover)} of glass around "
                f"{hole.name}: at least {length(model, 0.004)} for its gasket (common practice, no source)"
            ),
            remedy=f"drill {length(model, entry.hole_diameter)}",
        )
    low, high = entry.grip_range
    if not low <= panel.thickness <= high:
        yield Finding(
            rule="hole-size",
            severity="fault",
            parts=(hole.name, panel.body),
            measured=panel.thickness,
            limit=high if panel.thickness > high else low,
            unit="m",
            at=hole.at,
            message=(
                f"a {entry.name} bulkhead grips glass of {length(model, low)} to {length(model, high)}, "
                f"{panel.body} is {length(model, panel.thickness)}"
            ),
            remedy="use a bulkhead with a longer thread",
        )
