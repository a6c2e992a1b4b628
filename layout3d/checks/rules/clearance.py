"""Distances that the scene itself asks for between two parts, bodies or groups."""

from __future__ import annotations

from layout3d.checks.base import Finding, Findings, rule
from layout3d.checks.measure import Joins, Through, length, missing, too_near
from layout3d.model.model import Model
from layout3d.parts.base import Body
from layout3d.scene.scene import Clearance
from layout3d.solid.distance import Gap, gap, near_pairs


@rule(
    "clearance",
    asks="Parts keep the distance that the scene states under `clearances:`.",
    follows=("overlap",),
)
def clearances(model: Model) -> Findings:
    """Find the nearest pair of each entry of the scene's list that is too near.

    Bodies that are joined are let off, and so are pieces of one part, unless the entry names both of them.
    """
    joins = Joins(model)
    through = Through(model, joins)
    for entry in model.scene.clearances:
        pairs = _pairs(model, joins, entry)
        if not pairs:
            yield _asks_nothing(model, entry)
            continue
        nearest = _nearest(model, through, pairs, entry.at_least)
        if nearest is not None:
            told = f" (clearances){f', {entry.why}' if entry.why else ''}"
            remedy = f"move {nearest[0].part} away from {nearest[1].part} by {{short}}"
            yield from too_near(model, *nearest, entry.at_least, told=told, remedy=remedy)


def _pairs(model: Model, joins: Joins, entry: Clearance) -> set[tuple[str, str]]:
    """Return the names of all pairs of bodies that the entry is about, each in the order of the entry."""
    first, second = entry.between
    pairs: set[tuple[str, str]] = set()
    for a in model.bodies_of(first):
        for b in model.bodies_of(second):
            named = first != second and {first, second} == {a.name, b.name}
            skip = a.name == b.name or (b.name, a.name) in pairs or (joins.how(a, b) and not named)
            if not skip and (named or a.part != b.part):
                pairs.add((a.name, b.name))
    return pairs


def _nearest(
    model: Model, through: Through, pairs: set[tuple[str, str]], margin: float
) -> tuple[Body, Body, Gap] | None:
    """Return the pair with the least gap below the margin, in the order of its names; None for none."""
    bodies = [model.body(name) for name in sorted({name for pair in pairs for name in pair})]
    best: tuple[Body, Body, Gap] | None = None
    for i, j in near_pairs([body.solid for body in bodies], margin):
        a, b = bodies[i], bodies[j]
        if (b.name, a.name) in pairs:
            a, b = b, a
        if (a.name, b.name) not in pairs:
            continue
        one, other = through.rest(a, b), through.rest(b, a)
        if one is None or other is None:
            continue
        between = gap(one, other)
        if missing(between.distance, margin) and (best is None or between.distance < best[2].distance):
            best = (a, b, between)
    return best


def _asks_nothing(model: Model, entry: Clearance) -> Finding:
    first, second = entry.between
    empty = [name for name in entry.between if not model.bodies_of(name)]
    why = (
        f"nothing in the scene belongs to {empty[0]}"
        if empty
        else f"{first} and {second} are joined, or one part"
    )
    return Finding(
        severity="warning",
        parts=(first, second),
        limit=entry.at_least,
        message=f"the clearance of {length(entry.at_least)} between {first} and {second} measures nothing: "
        f"{why}",
        remedy="name parts that stand apart, or take the entry out",
    )
