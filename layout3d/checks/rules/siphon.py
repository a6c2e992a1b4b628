"""Returns that siphon the tank when the pump stops, with a check valve alone, or nothing, to stop it."""

from __future__ import annotations

from collections.abc import Iterator

from layout3d.checks.base import Finding, rule
from layout3d.checks.flood_told import FLOOD_TEST, volume_of
from layout3d.checks.measure import length, limit, missing
from layout3d.model.model import Model
from layout3d.outage.circuit import Circuit, circuit
from layout3d.outage.returns import Siphon

__all__ = ["siphon"]


@rule(
    "siphon",
    asks="A return with its mouth under water has a siphon break, not only a check valve.",
    caution=FLOOD_TEST,
    limits=("siphon_depth",),
)
def siphon(model: Model) -> Iterator[Finding]:
    """Find mouths that drain the tank well below its overflow.

    A fault with nothing to stop it, a warning where only a check valve does.
    """
    found = circuit(model)
    if found is None:
        return
    most = limit(model, "siphon_depth")
    for way in found.returns:
        for one in way.siphons:
            depth = _overflow(found) - one.broken_at
            if missing(most, depth):
                yield _finding(model, found, one, depth, most)


def _overflow(found: Circuit) -> float:
    """Return the level to which the tank falls anyway, z [m]."""
    crests = [drain.crest for drain in found.drains if drain.crest < found.level.likely]
    return min(crests, default=found.level.likely)


def _finding(model: Model, found: Circuit, one: Siphon, depth: float, most: float) -> Finding:
    lost = found.tank.volume(_overflow(found)) - found.tank.volume(max(one.broken_at, found.tank.bottom))
    if one.check_valve:
        stops = f", and only the check valve {one.check_valve} stops it: check valves fail"
    else:
        stops = ", and nothing stops it"
    return Finding(
        severity="warning" if one.check_valve else "fault",
        parts=(one.mouth.part,),
        measured=depth,
        limit=most,
        at=one.mouth.at,
        message=f"when the pump stops, {one.mouth.name} siphons the tank {length(depth)} below its overflow, "
        f"{volume_of(lost)}{stops} ({length(most)} at most, limit siphon_depth)",
        remedy=f"raise the mouth by {length(depth - most)} or more, or drill a siphon break of 3 to 6 mm "
        "into the return just under the water",
    )
