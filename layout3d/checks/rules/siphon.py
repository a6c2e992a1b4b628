"""Returns that siphon the tank when the pump stops, with a check valve alone, or nothing, to stop it."""

from __future__ import annotations

from layout3d.checks.base import FLOOD_TEST, Finding, Findings, rule
from layout3d.checks.flow_words import volume_of
from layout3d.checks.measure import length, limit, missing
from layout3d.model.model import Model
from layout3d.outage.circuit import Circuit, circuit
from layout3d.outage.events import power_cut
from layout3d.outage.returns import ReturnWays
from layout3d.outage.running import Running
from layout3d.pipework.waters import whole_vessel


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
    for way, one in ((ways, siphon) for ways in found.returns for siphon in ways.siphons):
        if not missing(most, overflow - one.broken_at):
            continue
        ends = max(one.broken_at, _level_with_sump(model, found, way, held=not one.check_valve))
        depth = overflow - ends
        if not missing(most, depth):
            continue
        lost = found.tank.volume(overflow) - found.tank.volume(max(ends, found.tank.bottom))
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
            remedy=f"raise the mouth by {length(overflow - one.broken_at - most)} or more, or drill a siphon "
            f"break of {length(0.003)} to {length(0.006)} into the return just under the water",
        )


def _level_with_sump(model: Model, found: Circuit, way: ReturnWays, *, held: bool) -> float:
    """Return where the tank comes to rest over a sump that stands beside it, z [m].

    Water that runs out anywhere but in that sump is held up by nothing.
    """
    outs = {pump.sump for pump in way.pumps}
    outs |= {whole_vessel(out.vessel) for out in way.pipework.mouths if out.vessel != found.tank_name}
    if outs != {found.sump.name}:
        return found.tank.bottom
    return power_cut(Running(model=model, circuit=found), valves_hold=held).tank_levels[1]
