"""Returns that siphon the tank when the pump stops, with a check valve alone, or nothing, to stop it."""

from __future__ import annotations

from layout3d.checks.base import Finding, Findings, rule
from layout3d.checks.flow_words import FLOOD_TEST, volume_of
from layout3d.checks.measure import length, limit, missing
from layout3d.model.model import Model
from layout3d.outage.circuit import circuit


@rule(
    "siphon",
    asks="A return with its mouth under water has a siphon break, not only a check valve.",
    caution=FLOOD_TEST,
    limits=("siphon_depth",),
)
def siphon(model: Model) -> Findings:
    """Find mouths that drain the tank well below its overflow.

    A fault with nothing to stop it, a warning where only a check valve does.
    """
    found = circuit(model)
    if found is None:
        return
    most = limit(model, "siphon_depth")
    crests = [drain.crest for drain in found.drains if drain.crest < found.level.likely]
    overflow = min(crests, default=found.level.likely)  # the tank falls so far anyway
    for one in (siphon for way in found.returns for siphon in way.siphons):
        depth = overflow - one.broken_at
        if not missing(most, depth):
            continue
        lost = found.tank.volume(overflow) - found.tank.volume(max(one.broken_at, found.tank.bottom))
        stops = (
            f"only the check valve {one.check_valve} stops it: check valves fail"
            if one.check_valve
            else "nothing stops it"
        )
        yield Finding(
            severity="warning" if one.check_valve else "fault",
            parts=(one.mouth.part,),
            measured=depth,
            limit=most,
            at=one.mouth.at,
            message=f"when the pump stops, {one.mouth.name} siphons the tank {length(depth)} below its "
            f"overflow, {volume_of(lost)}, and {stops} ({length(most)} at most, limit siphon_depth)",
            remedy=f"raise the mouth by {length(depth - most)} or more, or drill a siphon break of "
            f"{length(0.003)} to {length(0.006)} into the return just under the water",
        )
