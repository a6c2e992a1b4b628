"""Wood, rock, beds, mats, media and equipment lighter than water: they come up as the tank is filled."""

from __future__ import annotations

import numpy as np

from layout3d.checks.base import Finding, Findings, Severity, rule
from layout3d.checks.in_water import water_around
from layout3d.hold.hold import HARDSCAPE, Hold, holds, loose_equipment
from layout3d.hold.lift import ballast, lift, screws
from layout3d.model.model import Model
from layout3d.parts.base import Body, vector
from layout3d.solid.level import volume_below
from layout3d.units import GRAVITY, show
from layout3d.water.mass import water_density_of

COVERS = 0.98  # of a bed's plan: a bed over so much of it lies over it, but for the tank's silicone, [-]

RISING = (
    "Wood that comes up moves what lies on it and can break the glass. Densities of wood differ widely from "
    "piece to piece, and it takes up water for weeks: weigh it, or soak it and see. Whether a tie, a screw "
    "or glue bears the lift is not computed."
)


@rule(
    "floats",
    asks="Wood and rock, with what it is tied to, beds, mats, filter media and loose equipment are heavier "
    "than the water they push aside, fixed, or held down by what lies on them.",
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
    yield from _layers(model)
    yield from _adrift(model)


def _layers(model: Model) -> Findings:
    """Find beds and mats that neither their weight nor what lies on them holds down.

    Light grains come up between stones, so that only a bed over all of theirs holds them; a mat is held by
    each bed and stone on it.
    """
    layers = [list(built.bodies) for built in model.built.values() if built.part.group == "substrate"]
    plans = [np.array([body.solid.bounds[:, :2] for body in bodies]) for bodies in layers]
    boxes = [(plan[:, 0].min(axis=0), plan[:, 1].max(axis=0)) for plan in plans]
    for number, (bodies, (low, high)) in enumerate(zip(layers, boxes, strict=True)):
        up, body, mat = lift(model, bodies), bodies[0], bodies[0].kind == "mat"
        for other, (left, right) in enumerate(boxes) if up > 0.0 else ():
            shared = np.maximum(np.minimum(high, right) - np.maximum(low, left), 0.0).prod()
            if other != number and (mat or (other > number and shared > COVERS * (high - low).prod())):
                up += lift(model, layers[other]) * float(shared / (right - left).prod())
        for hold in holds(model) if mat and up > 0.0 else ():
            up += hold.loads.get(body.name, 0.0) * hold.lift / (hold.mass * GRAVITY)
        if up > 0.0:
            yield Finding(
                severity="warning" if mat else "fault",
                parts=(body.part,),
                measured=up,
                limit=0.0,
                unit="N",
                at=vector(body.solid.centroid),
                message=f"{body.part} {_made(model, body)} is lifted by {show(up, 'force')} more than it and "
                "what lies on it weigh",
                remedy="lay a plastic grid, or glue it down all over and accept this (`accept:`)"
                if mat
                else f"lay a heavier bed over all of {body.part}, or take one of something heavier",
            )


def _adrift(model: Model) -> Findings:
    """Find filter media and loose equipment that come up: no bag and no grid of theirs is in a scene."""
    media = [body for built in model.sumps for body in built.bodies if body.kind == "media"]
    loose = [body for hold in loose_equipment(model) for body in model.built[hold.part].bodies]
    for body in (*media, *loose):
        if (water := water_around(model, body)) is None:
            continue
        under = (1.0 - body.porosity) * float(volume_below(body.solid, water[0])[0])
        up = GRAVITY * (under * water_density_of(model) - body.mass)
        if up > 0.0:
            yield Finding(
                severity="warning",
                parts=(body.name,),
                measured=up,
                limit=0.0,
                unit="N",
                at=vector(body.solid.centroid),
                message=f"{body.name} {_made(model, body)} is lifted by {show(up, 'force')} more than it "
                f"weighs in {water[1] if water[2] else 'the water'}: loose, it drifts on to the pump",
                remedy="tie it up in a net below a grid that is held down, and accept this (`accept:`), or "
                "take something heavier"
                if body.kind == "media"
                else f"fix {body.part} (`fixed_to:`), or take one of something heavier",
            )


def _made(model: Model, body: Body) -> str:
    entry = model.scene.catalog.material(body.material)
    return f"of {entry.name} ({show(body.density, 'density')}; {entry.source})"


def _rises(model: Model, hold: Hold, up: float, *, soaked: bool) -> Finding:
    bodies = [body for name in hold.parts for body in model.built[name].bodies]
    wooden = [body for body in bodies if body.group in HARDSCAPE]
    worst = max(wooden, key=lambda body: lift(model, [body], dry=not soaked))
    made = _made(model, worst)
    force = show(up, "force")
    if not soaked:
        sinks = model.scene.catalog.material(worst.material).name
        what = f"{hold.part} sinks as {sinks}; as bought, dry, it is lifted by {force} over its weight"
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
    unsoaked: Severity = "warning" if worst.group == "rock" else "note"  # the scene says that wood is soaked
    return Finding(
        severity="fault" if soaked else unsoaked,
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
