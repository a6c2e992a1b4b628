"""Whether a hole suits its pane and its bulkhead: neither too small, too large, nor out of its grip."""

from __future__ import annotations

from collections.abc import Iterator

from layout3d.checks.base import Finding, Severity, rule
from layout3d.checks.glass_holes import DRILLING, HoleOnPanel, holes
from layout3d.checks.measure import length, limit, missing
from layout3d.model.model import Model

__all__ = ["hole_sizes"]


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
    for item in holes(model):
        yield from _against_pane(model, item)
        if item.hole.bulkhead:
            yield from _against_bulkhead(model, item)


def _against_pane(model: Model, item: HoleOnPanel) -> Iterator[Finding]:
    hole, panel = item.hole, item.panel
    least = limit(model, "glass_hole_least_thicknesses") * panel.thickness
    if missing(hole.diameter, least):
        yield _finding(
            item,
            hole.diameter,
            least,
            f"{hole.name} is {length(model, hole.diameter)} wide in a pane {length(model, panel.thickness)} "
            f"thick: {length(model, least - hole.diameter)} short of {length(model, least)} "
            "(limit glass_hole_least_thicknesses)",
            "drill a wider hole and bush it down",
        )
    narrow = panel.narrow
    most = limit(model, "glass_hole_most_of_side") * narrow
    if missing(most, hole.diameter):
        yield _finding(
            item,
            hole.diameter,
            most,
            f"{hole.name} is {length(model, hole.diameter)} wide in a pane {length(model, narrow)} across: "
            f"{length(model, hole.diameter - most)} over {length(model, most)} "
            "(limit glass_hole_most_of_side)",
            "use a smaller bulkhead, or two",
            "warning",
        )


def _against_bulkhead(model: Model, item: HoleOnPanel) -> Iterator[Finding]:
    hole, panel = item.hole, item.panel
    entry = model.scene.catalog.bulkhead(hole.bulkhead)
    slack, least = hole.diameter - entry.thread_diameter, limit(model, "bulkhead_hole_slack")
    if missing(slack, least):
        yield _finding(
            item,
            slack,
            least,
            f"{hole.name} leaves {length(model, slack)} around the thread of a {entry.name} bulkhead: "
            f"{length(model, least - slack)} short of {length(model, least)} (limit bulkhead_hole_slack)",
            f"drill {length(model, entry.thread_diameter + least)} or more; measure your own bulkhead first",
        )
    what, outer = min(
        ("flange", entry.flange_diameter), ("nut", entry.nut_diameter), key=lambda pair: pair[1]
    )
    cover, least = (outer - hole.diameter) / 2, limit(model, "bulkhead_cover")
    if missing(cover, least):
        lies = f"covers {length(model, cover)} of glass around" if cover > 0 else "falls through"
        yield _finding(
            item,
            cover,
            least,
            f"the {what} of a {entry.name} bulkhead {lies} {hole.name}: {length(model, least - cover)} short "
            f"of {length(model, least)} (limit bulkhead_cover)",
            f"drill {length(model, entry.hole_diameter)}, or use a wider bulkhead",
        )
    low, high = entry.grip_range
    too_thick = missing(high, panel.thickness)
    if too_thick or missing(panel.thickness, low):
        yield _finding(
            item,
            panel.thickness,
            high if too_thick else low,
            f"a {entry.name} bulkhead grips glass of {length(model, low)} to {length(model, high)}, "
            f"{panel.body} is {length(model, panel.thickness)}",
            "use a bulkhead with a longer thread" if too_thick else "put a washer under the nut",
        )


def _finding(
    item: HoleOnPanel,
    measured: float,
    limit: float,
    message: str,
    remedy: str,
    severity: Severity = "fault",
) -> Finding:
    return Finding(
        rule="hole-size",
        severity=severity,
        parts=(item.panel.body, item.hole.name),
        measured=measured,
        limit=limit,
        unit="m",
        at=item.hole.at,
        message=message,
        remedy=remedy,
    )
