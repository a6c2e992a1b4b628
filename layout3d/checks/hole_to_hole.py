"""How near two drilled holes in one pane are to each other."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator

from layout3d.checks.base import Finding, rule
from layout3d.checks.glass_holes import DRILLING, holes, wanted
from layout3d.checks.measure import length
from layout3d.model.model import Model

__all__ = ["hole_pairs"]


@rule(
    "hole-to-hole", asks="Holes in one pane keep apart, and so do their flanges and nuts.", caution=DRILLING
)
def hole_pairs(model: Model) -> Iterator[Finding]:
    """Find pairs of holes that are too near."""
    for first, second in itertools.combinations(holes(model), 2):
        if first.panel.name != second.panel.name:
            continue
        a, b = first.hole, second.hole
        centres = math.dist(a.centre, b.centre)
        between = centres - (a.diameter + b.diameter) / 2
        warning, fault = wanted(
            model,
            "glass_hole_hole",
            diameter=max(a.diameter, b.diameter),
            thickness=first.panel.thickness,
        )
        if between >= warning:
            continue
        short = warning - between
        yield Finding(
            rule="hole-to-hole",
            severity="fault" if between < fault else "warning",
            parts=(a.name, b.name),
            measured=between,
            limit=warning,
            unit="m",
            at=a.at,
            message=(
                f"{a.name} and {b.name} leave {length(model, between)} of glass between their edges: "
                f"{length(model, short)} short of {length(model, warning)} (limit glass_hole_hole)"
            ),
            remedy=f"move them {length(model, short)} further apart",
        )
