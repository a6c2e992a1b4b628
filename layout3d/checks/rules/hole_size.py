"""Whether a hole suits its pane and its bulkhead: neither too small, too large, nor out of its grip."""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import partial

from layout3d.checks.base import DRILLING, Finding, Findings, rule
from layout3d.checks.drilled_holes import holes
from layout3d.checks.measure import judged, length, limit, missing, worded
from layout3d.model.model import Model
from layout3d.parts.tank_data import DrilledHole, Wall

Judge = Callable[..., Findings]
"""``judged`` of one hole: its model, parts and place are given already."""


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
def hole_sizes(model: Model) -> Findings:
    """Find holes whose diameter does not suit."""
    for hole, panel in holes(model):
        judge = partial(judged, model, parts=(panel.body, hole.name), at=hole.at)
        yield from _against_pane(model, hole, panel, judge)
        if hole.bulkhead:
            yield from _against_bulkhead(model, hole, panel, judge)


def _against_pane(model: Model, hole: DrilledHole, panel: Wall, judge: Judge) -> Findings:
    wide = f"{hole.name} is {length(hole.diameter)} wide in a pane"
    yield from judge(
        hole.diameter,
        limit(model, "glass_hole_least_thicknesses") * panel.thickness,
        says=f"{wide} {length(panel.thickness)} thick",
        told=" (limit glass_hole_least_thicknesses)",
        remedy="drill a wider hole and bush it down",
    )
    yield from judge(
        hole.diameter,
        limit(model, "glass_hole_most_of_side") * panel.narrow,
        math.inf,
        most=True,
        says=f"{wide} {length(panel.narrow)} across",
        told=" (limit glass_hole_most_of_side)",
        remedy="use a smaller bulkhead, or two",
    )


def _against_bulkhead(model: Model, hole: DrilledHole, panel: Wall, judge: Judge) -> Findings:
    entry = model.scene.catalog.bulkhead(hole.bulkhead)
    slack, least = hole.diameter - entry.thread_diameter, limit(model, "bulkhead_hole_slack")
    yield from judge(
        slack,
        "bulkhead_hole_slack",
        says=f"{hole.name} leaves {length(slack)} around the thread of a {entry.name} bulkhead",
        remedy=f"drill {length(entry.thread_diameter + least)} or more; measure your own bulkhead first",
    )
    what, outer = min(
        ("flange", entry.flange_diameter), ("nut", entry.nut_diameter), key=lambda pair: pair[1]
    )
    cover = (outer - hole.diameter) / 2
    lies = worded(cover, "covers {} of glass around", "falls through")
    yield from judge(
        cover,
        "bulkhead_cover",
        says=f"the {what} of a {entry.name} bulkhead {lies} {hole.name}",
        remedy=f"drill {length(entry.hole_diameter)}, or use a wider bulkhead",
    )
    low, high = entry.grip_range
    too_thick = missing(high, panel.thickness)
    if too_thick or missing(panel.thickness, low):
        yield Finding(
            parts=(panel.body, hole.name),
            measured=panel.thickness,
            limit=high if too_thick else low,
            at=hole.at,
            message=f"a {entry.name} bulkhead grips glass of {length(low)} to {length(high)}, {panel.body} "
            f"is {length(panel.thickness)}",
            remedy="use a bulkhead with a longer thread" if too_thick else "put a washer under the nut",
        )
