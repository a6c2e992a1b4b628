"""Rock, wood and slabs that don't get into the tank: through its opening, and past what stands in it."""

from __future__ import annotations

from layout3d.checks.base import Finding, Findings, rule
from layout3d.checks.measure import length
from layout3d.model.model import Model
from layout3d.parts.base import vector
from layout3d.shop.hardscape_in import slabs_barred, ways_in
from layout3d.shop.opening import openings, roomiest, thickest


@rule(
    "way-in",
    asks="A way is found for each rock, log and slab through the tank's opening, turned if need be.",
    caution="Lifting into glass: a way that was found by straight legs and turns is a drawing's; a hand that "
    "slips breaks the pane. Try heavy pieces with a dummy of their size, over pads, and with two.",
)
def way_in(model: Model) -> Findings:
    """Find pieces without a way in: a fault where none can be, a warning where none was found.

    Slabs of backgrounds have to get into the bare tank alone.

    None can be where the widest ball within a piece is wider than the widest disc in each opening: as its
    middle crosses the opening's plane the ball fills a disc of it, however the piece is turned.
    """
    lacking = [found for found in (*ways_in(model), *slabs_barred(model)) if found.way is None]
    if not lacking:
        return
    discs = [roomiest(opening) for opening in openings(model)]
    wide = 2.0 * max((radius for _, radius in discs), default=0.0)
    for found in lacking:
        body = model.body(found.body)
        ball, at = thickest(body.solid)
        parts = (body.part, model.tank_name)
        if 2.0 * ball > wide:
            yield Finding(
                parts=parts,
                measured=2.0 * ball,
                limit=wide,
                at=vector(at),
                message=f"{body.name} can't get into {model.tank_name} in any position: a ball of "
                f"{length(2.0 * ball)} lies within it, and no opening between the braces lets more than "
                f"{length(wide)} through: {length(2.0 * ball - wide)} too thick",
                remedy="choose a smaller piece or one in two halves, or set it before the braces are bonded",
            )
            continue
        yield Finding(
            severity="warning",
            parts=parts,
            at=vector(at),
            message=f"no way was found for {body.name} through the opening and to its place, among "
            f"{found.tried:,} tried by straight legs and turns",
            remedy=f"saw {body.part} into pieces (`splits:`), or set it before the braces are bonded"
            if body.group == "background"
            else "cut a dummy of its size and try, choose a smaller piece, or put it elsewhere",
        )
