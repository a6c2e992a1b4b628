"""Openings below the waterline that nothing closes."""

from __future__ import annotations

from layout3d.checks.base import FLOOD, Finding, Findings, rule
from layout3d.checks.measure import ROUNDING, length, missing
from layout3d.model.model import Model
from layout3d.parts.tank_data import DrilledHole
from layout3d.pipework.graph import Pipework
from layout3d.pipework.read import pipework


@rule("plugged", asks="Each opening below the waterline is closed, or a run leads on from it.", caution=FLOOD)
def plugged(model: Model) -> Findings:
    """Find holes and bulkheads below the waterline with nothing in or on them.

    Where a run leads on from a bulkhead outside, its own ends are judged by the rule open-end.
    """
    found = pipework(model)
    taken = {port for port in model.ports if found.joined(port)}
    for hole in model.tank.holes.values():
        inside, outside = (f"{model.tank_name}.{hole.name}.{side}" for side in ("inside", "outside"))
        ends = [port for port in (inside, outside) if port in taken]
        if hole.plugged:
            if ends:
                yield Finding(
                    parts=(hole.name,),
                    at=hole.at,
                    message=f"{hole.name} is to be plugged, yet a run joins it at {ends[0]}",
                    remedy="take the plug out (`plugged: false`), or the run",
                )
            continue
        lowest = hole.at[2] - hole.diameter / 2 if hole.panel != "bottom" else hole.at[2]
        depth = missing(lowest, model.waterline)
        if not depth or outside in taken:
            continue
        if inside not in taken:
            what = f"the bulkhead in {hole.name} leads nowhere" if hole.bulkhead else f"{hole.name} is open"
            yield Finding(
                parts=(hole.name,),
                measured=depth,
                limit=0.0,
                at=hole.at,
                message=f"{what}: its lower edge lies {length(depth)} below the waterline",
                remedy="lead a run on from it outside, plug it (`plugged: true`), or lower the waterline",
            )
            continue
        yield from _inside_only(model, found, hole, inside)


def _inside_only(model: Model, found: Pipework, hole: DrilledHole, port: str) -> Findings:
    """Judge a bulkhead with a run on its inside alone: by the lowest level at which water gets through."""
    outside = f"{model.tank_name}.{hole.name}.outside"
    nowhere = f"the bulkhead in {hole.name} leads nowhere outside"
    pumps = [pump.name for pump in found.pumps if pump.node in found.reached(port) and not pump.air]
    if pumps:
        yield Finding(
            parts=(hole.name,),
            at=hole.at,
            message=f"{nowhere}, and {pumps[0]} pumps water out through it",
            remedy=f"lead a run on from {hole.name}.outside",
        )
        return
    ways_in = [mouth for mouth in found.mouths if mouth.node != outside and mouth.node in found.reached(port)]
    if not ways_in:
        return
    # over a hump it needs to fill once; then it siphons down to the mouth
    mouth = min(ways_in, key=lambda one: one.lower_edge)
    depth = model.waterline - mouth.lower_edge
    wet = depth > ROUNDING
    gets_in = (
        f", and water gets in at {mouth.words}, {length(depth)} below the waterline"
        if wet
        else f": water that rises {length(-depth)} gets in at {mouth.words} and runs onto the floor"
    )
    lead_on = "or cap the run inside" if wet else "to the sump or a drain"
    yield Finding(
        severity="fault" if wet else "warning",
        parts=(hole.name,),
        measured=depth,
        limit=0.0,
        at=mouth.at,
        message=nowhere + gets_in,
        remedy=f"lead a run on from {hole.name}.outside, {lead_on}",
    )
