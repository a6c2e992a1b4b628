"""Wood and rock that is lighter than the water it is in: it comes up on the day the tank is filled."""

from __future__ import annotations

from layout3d.checks.base import Finding, Findings, rule
from layout3d.hold.hold import HARDSCAPE, Hold, holds
from layout3d.hold.lift import ballast, lift, screws
from layout3d.model.model import Model
from layout3d.parts.base import vector
from layout3d.units import show

RISING = (
    "Wood that comes up moves what lies on it and can break the glass. Densities of wood differ widely from "
    "piece to piece, and it takes up water for weeks: weigh it, or soak it and see. Whether a tie, a screw "
    "or glue bears the lift is not computed."
)


@rule(
    "floats",
    asks="Wood and rock, with what it is tied to, is heavier than the water it pushes aside, fixed, or held "
    "down by what lies on it.",
    caution=RISING,
    limits=("screw_hold",),
)
def floats(model: Model) -> Findings:
    """Find parts whose lift at the waterline is above their weight; what is tied together rises together."""
    for hold in holds(model):
        if hold.fixed_to:
            continue
        if hold.lift > 0.0 and hold.falls_at is not None:
            yield _rises(model, hold, hold.lift, soaked=True)
        elif hold.lift <= 0.0 < (hold.lift_dried or 0.0):
            yield _rises(model, hold, hold.lift_dried or 0.0, soaked=False)


def _rises(model: Model, hold: Hold, up: float, *, soaked: bool) -> Finding:
    bodies = [body for name in hold.parts for body in model.built[name].bodies]
    wooden = [body for body in bodies if body.group in HARDSCAPE]
    worst = max(wooden, key=lambda body: lift(model, [body], dry=not soaked))
    entry = model.scene.catalog.material(worst.material)
    made = f"of {entry.name} ({show(worst.density, 'density')}; {entry.source})"
    force = show(up, "force")
    if not soaked:
        what = f"{hold.part} sinks as {entry.name}; as bought, dry, it is lifted by {force} over its weight"
    elif len(hold.parts) == 1:
        what = f"{hold.part} {made} is lifted by {force} more than it weighs"
    else:
        what = (
            f"{' and '.join(hold.parts)}, tied together, are lifted by {force} more than they "
            f"weigh: {worst.part} is {made}"
        )
    fix = f"by {screws(model, up)}" if worst.group == "wood" else "glued"
    remedy = (
        f"fix it to glass, background or room (`fixed_to:`; {fix}), lay {ballast(model, bodies, up)} on "
        "it, or soak it first (a waterlogged material)"
    )
    return Finding(
        severity="fault" if soaked else "note",
        parts=hold.parts,
        measured=up,
        limit=0.0,
        unit="N",
        at=vector(worst.solid.centroid),
        message=what,
        remedy=remedy
        if soaked
        else f"soak it until it sinks, or hold it down: {screws(model, up)} into "
        f"something heavy, or {ballast(model, bodies, up)}",
    )
