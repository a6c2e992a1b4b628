"""Rock, wood and equipment that tips or slides as it lies, in the empty tank or as it is filled."""

from __future__ import annotations

from dataclasses import replace

from layout3d.checks.base import Finding, Findings, rule
from layout3d.checks.measure import judged, length, limit
from layout3d.hold.hold import HOLD_CAUTION, Hold, holds, loose_equipment
from layout3d.model.model import Model
from layout3d.units import show

STEADY = (
    "turn {part} on a broader face, sink it deeper, lay something under its overhang, or fix it (`fixed_to:`)"
)
FASTEN = "fix {part} (`fixed_to:`), lay it down, or stand it on something broader"


@rule(
    "stands",
    asks="Rock, wood and equipment that is not fixed neither tips nor slides as it lies, dry or flooded.",
    caution=HOLD_CAUTION,
    limits=(
        "rest_gap",
        "contact_gap",
        "bed_give",
        "friction_rock_on_rock",
        "friction_rock_on_wood",
        "friction_wood_on_wood",
        "friction_on_glass",
        "friction_on_mat",
        "friction_on_bed",
        "friction_other",
        "tip_angle",
        "tip_angle_least",
        "tip_mass",
    ),
)
def stands(model: Model) -> Findings:
    """Find loose pieces that no forces of what bears them hold, and those that a little tilt tips over.

    What nothing bears is told by held-up, what floats by floats. A light piece is noted only.
    """
    for hold in holds(model):
        if hold.fixed_to or not hold.rests_on or hold.tip_angle is None:
            continue
        light = hold.mass < limit(model, "tip_mass")
        for finding in _found(model, hold, hold.tip_angle):
            yield replace(finding, severity="note") if light else finding
    for hold in loose_equipment(model):
        if hold.rests_on and hold.tip_angle is not None:
            yield from _found(model, hold, hold.tip_angle, remedy=FASTEN)


def _found(model: Model, hold: Hold, angle: float, *, remedy: str = STEADY) -> Findings:
    on = " and ".join(hold.rests_on)
    told = {"parts": hold.parts, "at": hold.at, "remedy": remedy.format(part=hold.part)}
    least = limit(model, "tip_angle_least")
    if not hold.stands:
        yield Finding(
            measured=0.0,
            limit=least,
            unit="rad",
            message=f"{hold.part} ({show(hold.mass, 'mass')}) doesn't stand on {on}: it tips or slides as it "
            "lies",
            **told,  # type: ignore[arg-type] # three fields by name
        )
    elif hold.falls_at is not None:
        if hold.lift <= 0.0:  # else it floats, and is told so
            yield Finding(
                measured=0.0,
                limit=least,
                unit="rad",
                message=f"{hold.part} stands on {on} in the empty tank, but not in water: from a level of "
                f"{length(hold.falls_at)} at the latest what it weighs there tips or slides it",
                **told,  # type: ignore[arg-type]
            )
    else:
        yield from judged(
            model,
            angle,
            "tip_angle",
            "tip_angle_least",
            kind="angle",
            says=f"{hold.part} ({show(hold.mass, 'mass')}) on {on} tips over at {show(angle, 'angle')}",
            **told,  # type: ignore[arg-type]
        )
