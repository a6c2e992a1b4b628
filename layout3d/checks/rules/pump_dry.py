"""Return pumps that draw air once a filter sock has clogged and holds back water."""

from __future__ import annotations

from layout3d.checks.base import Finding, Findings, rule
from layout3d.checks.flow_words import blocked, volume_of
from layout3d.checks.measure import length, limit, missing, worded
from layout3d.model.model import Model
from layout3d.outage.ledger import Outages
from layout3d.outage.outages import outages
from layout3d.parts.base import Vector

BURNS = "A pump that runs dry overheats and cracks; with mains beside water that can kill. Unplug it first."


@rule(
    "pump-dry",
    asks="The return pump's inlet stays under water when a filter sock clogs, or a drain is blocked.",
    caution=BURNS,
    limits=("water_cover",),
)
def pump_dry(model: Model) -> Findings:
    """Find return pumps whose inlet comes out of the water: a sock fills to its rim, or a drain is blocked.

    An inlet above the water from the start is told by the rule under-water, what evaporates by fill-line, a
    blocked drain that runs over by drain-blocked. With the last drain blocked a dry pump is what keeps the
    water off the floor: a note, unless it stops by itself.
    """
    found = outages(model)
    if found is None:
        return
    circuit = found.circuit
    pump = max(circuit.pumps, key=lambda one: one.inlet[2])
    if circuit.chamber_level <= pump.inlet[2]:
        return
    yield from _by_drain(model, found)
    wanted = limit(model, "water_cover")
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
            at=_inlet(model, pump.name, pump.inlet),
            message=f"{event.subject}, clogged, holds back "
            f"{volume_of(event.moved.high, give=event.moved.half)} and {how} "
            f"({length(wanted)} wanted, limit water_cover)",
            remedy=f"fill the return chamber {length(short)} higher, set the pump lower, or use a sock with "
            "less room over the water",
        )


def _by_drain(model: Model, found: Outages) -> Findings:
    """Find pumps that draw air with a drain blocked before anything overflows, each once."""
    *alone, everything = found.blocked
    told = {built.part.name for built in model.pumps if built.part.stops_dry}
    for event in (*alone, everything) if found.circuit.drains else ():
        if event.floor.high > 0.0:
            continue
        for pump in found.circuit.drawing_air(event.chamber_level.low):
            if pump.name in told:
                continue
            told.add(pump.name)
            yield Finding(
                severity="note" if event is everything else "warning",
                parts=(pump.name,),
                measured=event.chamber_level.low - pump.inlet[2],
                limit=0.0,
                at=_inlet(model, pump.name, pump.inlet),
                message=f"with {blocked(event.subject)} blocked {pump.name} brings up "
                f"{volume_of(event.moved.high, give=event.moved.half)} and then runs dry, with "
                f"{length(event.tank_margin.low)} left below {found.circuit.spill_words}: that damages a "
                "pump that does not stop by itself",
                remedy="stop it by a float switch, or use one that stops by itself (`stops_dry: true`)"
                + ("" if event is everything else ", or fill the return chamber more"),
            )


def _inlet(model: Model, name: str, inlet: Vector) -> Vector:
    """Return the height of an inlet over the middle of its pump."""
    x, y, _ = model.built[name].bodies[0].solid.bounds.mean(axis=0).tolist()
    return (x, y, inlet[2])
