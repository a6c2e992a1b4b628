"""Return pumps that draw air once a filter sock has clogged and holds back water."""

from __future__ import annotations

from collections.abc import Iterator

from layout3d.checks.base import Finding, rule
from layout3d.checks.flood_words import volume_of
from layout3d.checks.measure import length, limit, missing, worded
from layout3d.model.model import Model
from layout3d.outage.outages import outages

__all__ = ["pump_dry"]

BURNS = "A pump that runs dry overheats and cracks; with mains beside water that can kill. Unplug it first."


@rule(
    "pump-dry",
    asks="The return pump's inlet stays under water when a filter sock clogs and holds back water.",
    caution=BURNS,
    limits=("water_cover",),
)
def pump_dry(model: Model) -> Iterator[Finding]:
    """Find return pumps whose inlet comes out of the water when a sock fills to its rim.

    An inlet above the water from the start is told by the rule under-water, what evaporates by fill-line.
    """
    found = outages(model)
    if found is None:
        return
    circuit = found.circuit
    pump = max(circuit.pumps, key=lambda one: one.inlet[2])
    wanted = limit(model, "water_cover")
    if circuit.chamber_level <= pump.inlet[2]:
        return
    x, y, _ = model.built[pump.name].bodies[0].solid.bounds.mean(axis=0).tolist()
    for event in found.clogged:
        # the flow behind this level is solved for, good to far less than a micrometre
        cover = round(event.chamber_level.low - pump.inlet[2], 9)
        short = missing(cover, wanted)
        if not short:
            continue
        inlet = f"the inlet of {pump.name}"
        how = worded(
            cover,
            f"leaves {{}} of water over {inlet}",
            f"takes the return chamber down to {inlet}, which draws air",
        )
        yield Finding(
            severity="fault" if cover <= 0.0 else "warning",
            parts=(pump.name, event.subject),
            measured=cover,
            limit=wanted,
            at=(x, y, pump.inlet[2]),
            message=f"{event.subject}, clogged, holds back "
            f"{volume_of(event.moved.high, give=event.moved.half)} and {how} "
            f"({length(wanted)} wanted, limit water_cover)",
            remedy=f"fill the return chamber {length(short)} higher, set the pump lower, or use a sock with "
            "less room over the water",
        )
