"""Rock and wood that lies, leans or hangs on pipework, equipment or plants: none is made to bear it."""

from __future__ import annotations

from layout3d.checks.base import CURRENT, Findings, rule
from layout3d.checks.measure import judged
from layout3d.hold.hold import FRAIL, HOLD_CAUTION, holds, hung
from layout3d.model.model import Model
from layout3d.parts.base import vector
from layout3d.units import show


@rule(
    "breaks-under",
    asks="Rock and wood lies, leans or hangs on no pipe, equipment or plant.",
    caution=f"{HOLD_CAUTION} {CURRENT}",
    limits=("frail_load", "frail_load_most"),
)
def breaks_under(model: Model) -> Findings:
    """Find pipework and equipment that rock and wood presses on, in the empty tank.

    What lies on a plane with others is told with all its weight: the others may give way, and sand does.
    """
    for hold in holds(model):
        for how, loads in (("lies", hold.loads), ("leans", hold.leans)):
            frail = {name: load for name, load in loads.items() if model.body(name).group in FRAIL}
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
                says=f"{hold.part} ({show(hold.mass, 'mass')}) {how} on {under} with up to "
                f"{show(load, 'force', digits=2)}",
                remedy=f"move {hold.part}, or let it lie on what bears it",
            )
    for name, holder, weight in hung(model):
        yield from judged(
            model,
            weight,
            "frail_load",
            "frail_load_most",
            kind="force",
            most=True,
            parts=(name, holder),
            at=vector(model.built[name].bodies[0].solid.centroid),
            says=f"only {holder} holds {name} up: {show(weight, 'force', digits=2)}",
            remedy=f"let {name} lie on what bears it, or fix it to glass, stone or background",
        )
