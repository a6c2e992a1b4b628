"""Rock and wood that only its fixing holds: glue on foam, a screw or a tie bears some kilograms."""

from __future__ import annotations

from layout3d.checks.base import Findings, rule
from layout3d.checks.measure import judged, limit
from layout3d.hold.hold import holds
from layout3d.hold.lift import screws
from layout3d.model.model import Model
from layout3d.units import show

LETS_GO = (
    "Whether glue, screw or tie bears what hangs on it is not computed: that depends on what they hold in "
    "(foam tears), on how clean it was, and on years under water. A stone that comes off breaks the bottom."
)


@rule(
    "fixing-load",
    asks="Rock and wood that hangs by its fixing alone, or is held down by it, pulls on it with little.",
    caution=LETS_GO,
    limits=("fixing_load", "fixing_load_most", "screw_hold", "bond_stress"),
)
def fixing_load(model: Model) -> Findings:
    """Find fixed pieces whose weight nothing bears from below, or whose lift only the fixing holds down."""
    for hold in holds(model):
        pull = hold.fixing
        if pull <= 0.0:
            continue
        lifted = pull == hold.fixing_lift
        by = "lift" if lifted else "weight"
        bear = f"lay a stone on {hold.part}" if lifted else f"let {hold.part} lie on something as well"
        glue = show(pull / limit(model, "bond_stress"), "area", digits=2)
        yield from judged(
            model,
            pull,
            "fixing_load",
            "fixing_load_most",
            kind="force",
            most=True,
            parts=(hold.part, *(name for name in hold.fixed_to if name != "room")),
            at=hold.at,
            says=f"only its fixing to {' and '.join(hold.fixed_to)} holds {hold.part} "
            f"({show(hold.mass, 'mass')}): {show(pull, 'force', digits=2)} of {by}",
            remedy=f"{bear}, or fix it by {screws(model, pull)} into what holds them, or by glue over {glue} "
            "(limits screw_hold, bond_stress)",
        )
