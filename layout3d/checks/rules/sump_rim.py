"""How high the water stands in each compartment of the sump while the pumps run, against the sump's rim."""

from __future__ import annotations

from collections.abc import Iterator

from layout3d.checks.base import Finding, rule
from layout3d.checks.flood_told import FLOOD_TEST
from layout3d.checks.measure import length, limit, missing
from layout3d.model.model import Model
from layout3d.outage.circuit import Circuit, circuit

__all__ = ["sump_rim"]


@rule(
    "sump-rim",
    asks="With the pumps running the water stands below the sump's rim in every compartment.",
    caution=FLOOD_TEST,
    limits=("compartment_to_rim",),
)
def sump_rim(model: Model) -> Iterator[Finding]:
    """Find compartments whose water, with the head over their baffle, comes too near the rim."""
    found = circuit(model)
    if found is None or found.flow is None:
        return
    wanted = limit(model, "compartment_to_rim")
    for index, item in enumerate(found.compartments[:-1]):
        crest = found.sump.crests[index]
        # held at the rim in the levels: what it would take is crest and head
        likely, high = (
            item.level.at(setting)
            if crest is None
            else max(crest + item.head.at(setting), item.level.at(setting))
            for setting in ("likely", "high")
        )
        left = found.sump.rim - high
        short = missing(left, wanted)
        if short:
            yield _finding(model, found, index, found.sump.rim - likely, left, wanted)


def _finding(model: Model, found: Circuit, index: int, likely: float, left: float, wanted: float) -> Finding:
    item, compartment = found.compartments[index], found.sump.data.compartments[index]
    name = f"{found.sump.name}.{item.name}"
    x, y = ((compartment.low[axis] + compartment.high[axis]) / 2.0 for axis in (0, 1))
    over = likely <= 0.0
    short = wanted - (likely if over else left)
    if over:
        how = (
            f"would have to rise {length(-likely)} over the rim of {found.sump.name}"
            if likely
            else (f"stands at the rim of {found.sump.name}")
        )
    else:
        how = f"leaves {length(left)} at the high figure to the rim of {found.sump.name}"
    return Finding(
        severity="fault" if over else "warning",
        parts=(f"{found.sump.name}.baffle_{item.name}",),
        measured=likely if over else left,
        limit=0.0 if over else wanted,
        at=(x, y, found.sump.rim),
        message=f"the water of {name}, {length(item.head.likely)} over its baffle at the running flow, {how} "
        f"(limit compartment_to_rim, {length(wanted)}; {item.head.note})",
        remedy=f"make the baffle {length(short)} lower, or the sump higher",
    )
