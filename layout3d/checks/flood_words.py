"""What the rules on floods share: litres and flows in the scene's units, where the drain and the sump are."""

from __future__ import annotations

from layout3d.flow.overflow import GravityDrain
from layout3d.model.model import Model
from layout3d.outage.circuit import Circuit
from layout3d.parts.base import Vector
from layout3d.units import show

__all__ = ["FLOOD_TEST", "blocked", "chamber_at", "flow_of", "over_drain", "parts_of", "volume_of"]

FLOOD_TEST = (
    "A computed level stops no flood: a drain blocks, a check valve fails. Test with the real plumbing, over "
    "a drain, before it stands over a floor; keep mains sockets above the highest water and off the floor."
)


def volume_of(value: float, *, give: float = 0.0) -> str:
    """Return a volume in the scene's units, for messages."""
    return show(value, "volume", digits=3, give=give)


def flow_of(value: float, *, give: float = 0.0) -> str:
    """Return a flow in the scene's units, for messages."""
    return show(value, "flow", digits=3, give=give)


def blocked(subject: str) -> str:
    """Return what is blocked in an event, in words: 'all drains', or a drain by its name."""
    return subject if subject == "all drains" else f"the drain {subject!r}"


def over_drain(model: Model, circuit: Circuit, level: float) -> Vector:
    """Return the place over the lowest drain's mouth at a level; the middle of the tank without a drain."""
    if circuit.drains:
        x, y, _ = circuit.drains[0].mouth.at
        return (x, y, level)
    x, y, _ = ((a + b) / 2.0 for a, b in zip(model.tank.low, model.tank.high, strict=True))
    return (x, y, level)


def parts_of(*drains: GravityDrain) -> tuple[str, ...]:
    """Return the parts that drains run through, each once; a drain without any by its name."""
    return tuple(dict.fromkeys(part for drain in drains for part in (drain.parts or (drain.name,))))


def chamber_at(circuit: Circuit, level: float) -> Vector:
    """Return the middle of the return chamber at a level."""
    chamber = circuit.sump.data.return_chamber
    x, y = ((chamber.low[axis] + chamber.high[axis]) / 2.0 for axis in (0, 1))
    return (x, y, level)
