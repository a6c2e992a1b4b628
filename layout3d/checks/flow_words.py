"""What the rules about water share: figures of flow in the scene's units, where they are, names of drains."""

from __future__ import annotations

from layout3d.band import Band
from layout3d.checks.base import Finding
from layout3d.checks.measure import length
from layout3d.flow.overflow import GravityDrain
from layout3d.flow.result import BarRun
from layout3d.flow.steady import Crest
from layout3d.model.model import Model
from layout3d.outage.circuit import Circuit
from layout3d.outage.events import SHARED
from layout3d.parts.base import Vector, vector
from layout3d.parts.run_data import DripHole, RunData
from layout3d.units import show

__all__ = [
    "behind_top",
    "between",
    "blocked",
    "flow_of",
    "hole_of",
    "middle_of",
    "over_drain",
    "parts_of",
    "volume_of",
]


def volume_of(value: float, *, give: float = 0.0) -> str:
    """Return a volume in the scene's units, for messages."""
    return show(value, "volume", digits=3, give=give)


def flow_of(value: float, *, give: float = 0.0) -> str:
    """Return a flow in the scene's units, for messages."""
    return show(value, "flow", digits=3, give=give)


def blocked(subject: str) -> str:
    """Return what is blocked in an event, in words: 'all drains', a shared pipe, or a drain by its name."""
    return subject if subject == "all drains" or subject.startswith(SHARED) else f"the drain {subject!r}"


def over_drain(model: Model, circuit: Circuit, level: float) -> Vector:
    """Return the place over the lowest drain's mouth at a level; the middle of the tank without a drain."""
    if circuit.drains:
        x, y, _ = circuit.drains[0].mouth.at
        return (x, y, level)
    return model.tank.middle(level)


def parts_of(*drains: GravityDrain) -> tuple[str, ...]:
    """Return the parts that drains run through, each once; a drain without any by its name."""
    return tuple(dict.fromkeys(part for drain in drains for part in (drain.parts or (drain.name,))))


def middle_of(model: Model, name: str) -> Vector | None:
    """Return the middle of an element's path, or of the body or part of that name; None for neither."""
    bodies = model.bodies_of(name)
    if not bodies:
        return None
    data = model.built[bodies[0].part].data
    if isinstance(data, RunData):
        for element in data.elements:
            if element.body == name:
                return element.path[len(element.path) // 2]
    return vector(bodies[0].solid.bounds.mean(axis=0))


def behind_top(crest: Crest, what: str, *, parts: tuple[str, ...], at: Vector | None, others: str) -> Finding:
    """Return the finding that no water gets to something, as a top in its pipe lies too high.

    ``others`` are the ways out that a hand may throttle.
    """
    short = length(crest.height - crest.level)
    return Finding(
        parts=parts,
        measured=crest.level,
        limit=crest.height,
        at=at,
        message=f"no water gets to the {what}: it stands {short} below the top of the pipe on its way",
        remedy=f"lead the pipe {short} lower, throttle {others}, or run the pump faster",
    )


def hole_of(model: Model, bar: BarRun, number: int) -> DripHole:
    """Return the drip hole behind a bar's figures; ``number`` counts from 1 at the inlet."""
    data = model.built[bar.run].data
    assert isinstance(data, RunData), "a bar is a run (flow_words.hole_of)"
    element = next(one for one in data.elements if one.body == bar.body)
    return sorted(element.holes, key=lambda hole: hole.along)[number - 1]


def between(band: Band, kind: str) -> str:
    """Return a band's ends in the scene's units, for messages: 'low to high'."""
    low, high = (show(value, kind, digits=2, give=band.half) for value in (band.low, band.high))
    return low if low == high else f"{low} to {high}"
