"""Levels of the sump that water does not keep: higher than where it comes from, or over its baffle."""

from __future__ import annotations

import itertools

from layout3d.checks.base import Finding, Findings, rule
from layout3d.checks.measure import judged, length, limit, missing
from layout3d.model.model import Model
from layout3d.outage.circuit import circuit


@rule(
    "sump-levels",
    asks="Water in the sump stands no higher than where it comes from, nor than its baffle lets it.",
    limits=("sump_level_step", "baffle_to_rim"),
)
def sump_levels(model: Model) -> Findings:
    """Find compartments whose stated levels can't stand beside each other.

    Over a baffle, the water behind it stands no higher than in front, and there no higher than the baffle and
    the head of the flow, or ``baffle_to_rim`` where none is figured. Under one, both sides are level.
    """
    found = circuit(model)
    for built in model.sumps:
        data = built.data
        figured = found.compartments if found and found.flow and found.sump.name == built.part.name else ()
        for number, (before, after) in enumerate(itertools.pairwise(data.compartments)):
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
            else:
                head = figured[number].head.high if figured else limit(model, "baffle_to_rim")
                keeps = max(before.baffle_height, after.level) + head
                yield from judged(
                    model,
                    before.level,
                    keeps + limit(model, "sump_level_step"),
                    most=True,
                    parts=names[:1],
                    at=before.middle(before.water_z),
                    says=f"{names[0]} stands at {length(before.level)}, over a baffle of "
                    f"{length(before.baffle_height)} that it runs over",
                    told=" with the flow (limit sump_level_step)",
                    remedy=f"set `level:` of {before.name} to {length(keeps)} or less, or leave it out",
                )
