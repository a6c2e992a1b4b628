"""A power cut: what drains back has to fit into the sump."""

from __future__ import annotations

from layout3d.band import Setting
from layout3d.checks.base import FLOOD_TEST, Finding, Findings, rule
from layout3d.checks.flow_words import volume_of
from layout3d.checks.measure import from_to, length
from layout3d.model.model import Model
from layout3d.outage.ledger import Event, Outages
from layout3d.outage.outages import outages


@rule(
    "sump-drain-back",
    asks="When the power fails, all that drains back fits into the sump.",
    caution=FLOOD_TEST,
)
def sump_drain_back(model: Model) -> Findings:
    """Find sumps that a power cut overfills.

    A fault where it likely spills; a warning where it spills only at the high figure, or only if check
    valves or siphon breaks fail. The margin over what drains back is judged by the rule fill-line.
    """
    found = outages(model)
    if found is None or found.beside:
        return  # what a drain lets out beside the sump is told by the rule open-end
    if found.power_cut.floor.high > 0.0:
        yield _drains_back(found, found.power_cut, fault=found.power_cut.floor.likely > 0.0)
        return
    worst = max(found.failed, key=lambda event: event.floor.high, default=None)
    if worst is not None and worst.floor.high > 0.0:
        yield _drains_back(found, worst, fault=False)


def _drains_back(found: Outages, event: Event, *, fault: bool) -> Finding:
    sump = found.circuit.sump
    setting: Setting = "likely" if fault else "high"
    moved, spilled = event.moved.at(setting), event.floor.at(setting)
    room = moved - spilled
    if_failed = f" if {event.devices}" if event.devices else ""
    ruled = event.rules[1 if fault else 2]
    most = "" if fault else "up to "
    by = (
        f", the tank down to {length(event.tank_level.low, give=event.tank_level.half)} by {ruled}"
        if ruled
        else ""
    )
    mark = found.careful_mark if event.devices else found.mark
    remedy = (
        f"fill the return chamber to {from_to(mark.running)} over its floor with the pumps running"
        if mark.running
        else "; ".join(dict.fromkeys(mark.line.remedies)) or "make the sump larger"
    )
    return Finding(
        severity="fault" if fault else "warning",
        parts=(sump.name,),
        measured=moved,
        limit=room,
        unit="m³",
        at=sump.data.return_chamber.middle(sump.rim),
        message=f"in a power cut {most}{volume_of(moved, give=event.moved.half)} run back into "
        f"{sump.name}{if_failed}{by}, which has room for {volume_of(room)}: "
        f"{volume_of(spilled, give=event.floor.half)} {'may ' if most else ''}end up on the floor",
        remedy=remedy,
    )
