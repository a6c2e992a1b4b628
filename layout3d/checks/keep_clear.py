"""Parts in the space that another needs for a cable, a hose or a hand."""

from __future__ import annotations

from collections.abc import Iterator

from layout3d.checks.base import Finding, rule
from layout3d.checks.measure import at, length
from layout3d.model.model import Model
from layout3d.parts.base import KeepClear
from layout3d.solid.distance import near_pairs, overlap

__all__ = ["keep_clear"]

LET_OFF = ("foliage",)


@rule("keep-clear", asks="The space that equipment needs for cable, hose and hand stays free.")
def keep_clear(model: Model) -> Iterator[Finding]:
    """Find bodies in keep-clear spaces; what is joined to the equipment itself is let off."""
    for space in model.keep_clear:
        solids = [space.solid, *(body.solid for body in model.bodies)]
        for i, j in near_pairs(solids, 0.0):
            if i != 0 or j == 0:
                continue
            body = model.bodies[j - 1]
            if body.part == space.part or body.kind in LET_OFF or _led_in(model, space, body.part):
                continue
            shared = overlap(space.solid, body.solid)
            if shared is None:
                continue
            yield Finding(
                rule="keep-clear",
                severity="fault",
                parts=(body.name, space.part),
                measured=shared.depth,
                limit=0.0,
                unit="m",
                at=at(shared.at),
                message=(
                    f"{body.name} is {length(model, shared.depth)} deep in the space that {space.part} needs "
                    f"for {space.why}"
                ),
                remedy=f"move {body.part} or {space.part} by {length(model, shared.depth)}",
            )


def _led_in(model: Model, space: KeepClear, part: str) -> bool:
    """Tell whether a part is joined to the equipment (the run on a pump's outlet)."""
    owner = model.built[space.part]
    own = {space.part, *(body.name for body in owner.bodies)}
    other = {part, *(body.name for body in model.built[part].bodies)}
    return any(
        (join.a in own and join.b in other) or (join.b in own and join.a in other) for join in model.joins
    )
