"""Rock and wood that lies on pipes, pumps, heaters, baskets or lights: none of them is made to bear it."""

from __future__ import annotations

from collections.abc import Iterator

from layout3d.checks.base import Finding, rule
from layout3d.checks.in_water import CURRENT
from layout3d.checks.measure import judged
from layout3d.hold.hold import HOLD_CAUTION, holds
from layout3d.model.model import Model
from layout3d.units import show

__all__ = ["breaks_under"]

FRAIL = ("plumbing", "equipment")


@rule(
    "breaks-under",
    asks="Rock and wood lies on no pipe and no equipment.",
    caution=f"{HOLD_CAUTION} {CURRENT}",
    limits=("frail_load", "frail_load_most"),
)
def breaks_under(model: Model) -> Iterator[Finding]:
    """Find pipework and equipment that rock and wood presses on, in the empty tank.

    What lies on a plane with others is told with all its weight: the others may give way, and sand does.
    """
    for hold in holds(model):
        frail = {name: load for name, load in hold.loads.items() if model.body(name).group in FRAIL}
        if not frail:
            continue
        load, under = max(frail.values()), " and ".join(frail)
        yield from judged(
            model,
            load,
            "frail_load",
            "frail_load_most",
            kind="force",
            most=True,
            parts=(hold.part, *frail),
            at=hold.at,
            says=f"{hold.part} ({show(hold.mass, 'mass')}) lies on {under} with up to "
            f"{show(load, 'force', digits=2)}",
            remedy=f"move {hold.part}, or let it lie on what bears it",
        )
