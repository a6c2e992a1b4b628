"""Openings below the waterline that nothing closes."""

from __future__ import annotations

from collections.abc import Iterator

from layout3d.checks.base import Finding, rule
from layout3d.checks.measure import length, runs
from layout3d.model.model import Model
from layout3d.parts.tank_data import DrilledHole

__all__ = ["plugged"]

FLOOD = (
    "An opening below the waterline empties the tank to its level onto the floor. Test the real tank with "
    "water, over a drain, before you trust any drawing."
)


@rule("plugged", asks="Each opening below the waterline is closed, or a run leads on from it.", caution=FLOOD)
def plugged(model: Model) -> Iterator[Finding]:
    """Find holes and bulkheads below the waterline with nothing in or on them."""
    taken = {port for _, run in runs(model) for port in (run.start_port, run.end_port) if port}
    taken |= {
        f"{model.tank_name}.{model.built[name].part.end_at}"  # type: ignore[attr-defined] # a run
        for name, _ in runs(model)
    }
    for hole in model.tank.holes.values():
        lowest = hole.at[2] - hole.diameter / 2 if hole.panel != "bottom" else hole.at[2]
        depth = model.waterline - lowest
        if depth <= 0 or hole.plugged:
            continue
        outside = f"{model.tank_name}.{hole.name}.outside"
        inside = f"{model.tank_name}.{hole.name}.inside"
        if hole.bulkhead and (outside in taken or _rises(model, inside)):
            continue
        yield _finding(model, hole, depth)


def _rises(model: Model, port: str) -> bool:
    """Tell whether a run inside leads the opening up above the waterline, closed on its way."""
    for _, run in runs(model):
        if run.start_port != port:
            continue
        if run.end == "cap":
            return not any(hole.at[2] < model.waterline for element in run.elements for hole in element.holes)
        return run.end_at[2] > model.waterline
    return False


def _finding(model: Model, hole: DrilledHole, depth: float) -> Finding:
    what = f"the bulkhead in {hole.name} leads nowhere outside" if hole.bulkhead else f"{hole.name} is open"
    return Finding(
        rule="plugged",
        severity="fault",
        parts=(hole.name,),
        measured=depth,
        limit=0.0,
        unit="m",
        at=hole.at,
        message=f"{what}: its lower edge lies {length(model, depth)} below the waterline",
        remedy="lead a run on from it outside, plug it (`plugged: true`), or lower the waterline",
    )
