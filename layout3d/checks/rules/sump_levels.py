"""Levels of the sump that water does not keep: higher than where it comes from, or over its baffle."""

from __future__ import annotations

import itertools
from collections.abc import Iterator

from layout3d.checks.base import Finding, rule
from layout3d.checks.measure import length, limit, missing
from layout3d.model.model import Model
from layout3d.parts.base import vector
from layout3d.parts.sump_data import Compartment

__all__ = ["sump_levels"]


@rule(
    "sump-levels",
    asks="Water in the sump stands no higher than where it comes from.",
    limits=("sump_level_step",),
)
def sump_levels(model: Model) -> Iterator[Finding]:
    """Find compartments whose stated levels can't stand beside each other.

    Over a baffle, the water behind it stands no higher than in front. Under a baffle, both sides are level.
    """
    for built in model.sumps:
        data = built.data
        for before, after in itertools.pairwise(data.compartments):
            names = tuple(f"{built.part.name}.{c.name}" for c in (before, after))
            rise = after.level - before.level
            if before.baffle_gap > 0:
                yield from _under(model, names, before, after, abs(rise))
            elif missing(0.0, rise):
                yield _finding(
                    model,
                    names,
                    after,
                    rise,
                    0.0,
                    f"{names[1]} stands {length(model, rise)} higher than {names[0]}, which fills it",
                    f"set `level:` of {after.name} to {length(model, before.level)} or less",
                )


def _under(
    model: Model, names: tuple[str, ...], before: Compartment, after: Compartment, step: float
) -> Iterator[Finding]:
    most = limit(model, "sump_level_step")
    if missing(most, step):
        yield _finding(
            model,
            names,
            after,
            step,
            most,
            f"{names[0]} and {names[1]} differ by {length(model, step)}, yet the baffle between them is open "
            f"below: {length(model, step - most)} over {length(model, most)} (limit sump_level_step)",
            f"set `level:` of {after.name} to {length(model, before.level)}, as in {before.name}",
        )


def _finding(
    model: Model,
    names: tuple[str, ...],
    where: Compartment,
    measured: float,
    limit: float,
    message: str,
    remedy: str,
) -> Finding:
    middle = (where.low[0] + where.high[0]) / 2, (where.low[1] + where.high[1]) / 2, where.water_z
    return Finding(
        rule="sump-levels",
        severity="fault",
        parts=names,
        measured=measured,
        limit=limit,
        unit="m",
        at=vector(middle),
        message=message,
        remedy=remedy,
    )
