"""Levels of the sump that water does not keep: higher than where it comes from, or over its baffle."""

from __future__ import annotations

import itertools

from layout3d.checks.base import Finding, Findings, rule
from layout3d.checks.measure import judged, length, missing
from layout3d.model.model import Model


@rule(
    "sump-levels",
    asks="Water in the sump stands no higher than where it comes from.",
    limits=("sump_level_step",),
)
def sump_levels(model: Model) -> Findings:
    """Find compartments whose stated levels can't stand beside each other.

    Over a baffle, the water behind it stands no higher than in front. Under a baffle, both sides are level.
    """
    for built in model.sumps:
        data = built.data
        for before, after in itertools.pairwise(data.compartments):
            names = tuple(f"{built.part.name}.{c.name}" for c in (before, after))
            rise = after.level - before.level
            place = after.middle(after.water_z)
            if before.baffle_gap > 0:
                yield from judged(
                    model,
                    abs(rise),
                    "sump_level_step",
                    most=True,
                    parts=names,
                    at=place,
                    says=f"{names[0]} and {names[1]} differ by {length(abs(rise))}, yet the baffle between "
                    "them is open below",
                    remedy=f"set `level:` of {after.name} to {length(before.level)}, as in {before.name}",
                )
            elif missing(0.0, rise):
                yield Finding(
                    parts=names,
                    measured=rise,
                    limit=0.0,
                    at=place,
                    message=f"{names[1]} stands {length(rise)} higher than {names[0]}, which fills it",
                    remedy=f"set `level:` of {after.name} to {length(before.level)} or less",
                )
