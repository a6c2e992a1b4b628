"""Pumps, baskets, heaters, lights and strainers that don't come out of the finished tank for service."""

from __future__ import annotations

from layout3d.checks.base import Finding, Findings, rule
from layout3d.checks.measure import length
from layout3d.model.model import Model
from layout3d.parts.base import vector
from layout3d.shop.opening import filled, openings, roomiest, thickest
from layout3d.shop.service import ways_out


@rule(
    "comes-out",
    asks="Equipment and strainers come out of the finished tank for service, past what stays.",
    caution="Mains: pull every plug before reaching into the water or lifting anything out of it.",
)
def comes_out(model: Model) -> Findings:
    """Find what has no way out: a fault where none can be, a warning where none was found.

    None can be for a part in the tank that holds, filled, a ball wider than the widest disc in each opening.
    A part that is cemented to its pipe is a note: sawing the pipe is a way, if a poor one.
    """
    lacking = [found for found in ways_out(model) if found.way is None]
    wide = 2.0 * max((roomiest(opening)[1] for opening in openings(model)), default=0.0) if lacking else 0.0
    for found in lacking:
        body = model.body(found.body)
        at = vector(body.solid.bounds.mean(axis=0))  # its box's middle: an inlet on one side moves no place
        ball = 2.0 * thickest(filled(body.solid))[0] if body.where == "tank" else 0.0
        if ball > wide:
            yield Finding(
                parts=(found.part, model.tank_name),
                measured=ball,
                limit=wide,
                at=at,
                message=f"{body.name} can't come out of {model.tank_name} for service in any position: a "
                f"ball of {length(ball)} lies within it, and no opening between the braces lets more than "
                f"{length(wide)} through: {length(ball - wide)} too thick",
                remedy="use a smaller one, or one outside of the tank",
            )
        elif found.held:
            yield Finding(
                severity="note",
                parts=(found.part, found.held),
                at=at,
                message=f"{body.name} is cemented to {found.held}, of which nothing comes apart: it comes "
                "out only by the saw",
                remedy=f"put a union into {found.held} near {found.part}, or a piece of tube",
            )
        else:
            yield Finding(
                severity="warning",
                parts=(found.part,),
                at=at,
                message=f"no way was found for {body.name} out of the finished tank, among {found.tried:,} "
                "tried by straight legs past what stays",
                remedy="leave it more room, or make what bars it come apart: a union, a shorter pipe end",
            )
