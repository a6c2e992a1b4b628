"""What stopped pumps do in a scene without a circuit: no pump in a sump brings water to the tank.

Water that runs back through a stopped pump while others run, what stands in the pipes, and a siphon through
full pipe that goes on with all of them stopped. Left out: air that breaks it, how its flow falls off.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from layout3d.band import Band
from layout3d.errors import LayoutError
from layout3d.flow.bar import RECOVERY
from layout3d.flow.network import Outlet
from layout3d.flow.plumbing import Plumbing, plumbing
from layout3d.flow.running import running_with
from layout3d.flow.steady import Case, Steady
from layout3d.flow.water import water_of
from layout3d.model.model import Model
from layout3d.outage.returns import dry_volume
from layout3d.pipework.read import pipework
from layout3d.pipework.waters import set_levels
from layout3d.water.gauge import tank_table
from layout3d.water.remembered import kept

__all__ = ["StoppedPumps", "stopped_without_circuit"]

STILL = 1e-9  # [m³/s], 4 mL/h: less is called no flow


@dataclass(frozen=True, slots=True, kw_only=True)
class StoppedPumps:
    """What happens as these pumps of one system stop; with ``others`` running on, or all of them stopped.

    ``back`` : what runs back through each pump into the water it stands in, [m³/s]. ``contents`` : water in
    the pipes above all waters, which runs out of them, [m³]. ``siphon`` : flow that goes on through full pipe
    with all stopped, [m³/s], out of the tank at most ``leaves`` [m³], down to ``level``, z [m], to the mouths
    ``to``; ``floor`` whether one of them lies over no vessel. ``why_not`` : why no figure could be given.
    """

    stopped: tuple[str, ...]
    others: tuple[str, ...] = ()
    back: tuple[tuple[str, str, Band], ...] = ()
    contents: float = 0.0
    siphon: float = 0.0
    leaves: float = 0.0
    level: float | None = None
    to: tuple[str, ...] = ()
    floor: bool = False
    why_not: str = ""


@kept
def stopped_without_circuit(model: Model) -> tuple[StoppedPumps, ...]:
    """Return what each pump does, stopped alone where others run on, and all of each system together."""
    found: list[StoppedPumps] = []
    for system in plumbing(model).systems():
        names = tuple(pump.name for pump in system.pumps)
        found += [_one(model, system, name, names) for name in names if len(names) > 1]
        found.append(_all(model, system, names))
    return tuple(found)


def _one(model: Model, system: Plumbing, name: str, names: tuple[str, ...]) -> StoppedPumps:
    others = tuple(other for other in names if other != name)
    result = next(one for one in running_with(model, {name: 0.0}).systems if name in one.pump_names)
    if not result.runs:
        why = "; ".join(dict.fromkeys(failure.message for failure in result.failures))
        return StoppedPumps(stopped=(name,), others=others, why_not=why)
    waters = {pump.name: pump.start for pump in system.pumps}
    back = tuple(
        (run.pump, waters[run.pump], run.flow.map(lambda flow: max(0.0, -flow)))
        for run in result.pumps
        if run.flow.low < -STILL
    )
    return StoppedPumps(stopped=(name,), others=others, back=back)


def _all(model: Model, system: Plumbing, names: tuple[str, ...]) -> StoppedPumps:
    edges = {edge.name: edge for edge in pipework(model).edges}
    own = [edges[link.name] for link in system.links if link.name in edges]
    contents = dry_volume(model, own, model.waterline, set_levels(model))
    try:
        still = system.at_speeds(dict.fromkeys(names, 0.0))
        if still.refused:
            return StoppedPumps(stopped=names, contents=contents, why_not="; ".join(still.refused.values()))
        steady = Case(still.network, "likely", RECOVERY.likely, water_of(model), True).solved(frozenset())
    except LayoutError as error:
        return StoppedPumps(stopped=names, contents=contents, why_not=error.found)
    waters = {pump.name: pump.start for pump in system.pumps}
    back = tuple(
        (name, waters[name], Band.exact(-steady.links[name].flow))
        for name in names
        if steady.links[name].flow < -STILL
    )
    return _siphoned(model, system, steady, StoppedPumps(stopped=names, back=back, contents=contents))


def _siphoned(model: Model, system: Plumbing, steady: Steady, found: StoppedPumps) -> StoppedPumps:
    """Add what full pipe siphons out of the tank."""
    mouths = {f"{mouth.node}.out": mouth for mouth in pipework(model).mouths}
    heights: list[float] = []  # of what the tank's water gets in by
    net, to, floor = 0.0, [], False
    for node in system.nodes:
        flow = steady.nodes[node.name].outflow
        if node.name == model.tank_name:
            net += flow
            inlets = {port.name: port.inlet[2] for port in pipework(model).pumps}
            heights += [
                inlets[pump.name]
                for pump in system.pumps
                if pump.start == node.name and steady.links[pump.name].flow > STILL
            ]
        elif isinstance(node, Outlet) and abs(flow) > STILL:
            mouth = mouths[node.name]
            if mouth.vessel == model.tank_name:
                net += flow
                if flow < 0.0:
                    heights.append(mouth.lower_edge)
            if flow > 0.0 and mouth.vessel != model.tank_name:
                to.append(mouth.words)
                floor = floor or not mouth.vessel
    if net >= -STILL or not heights:
        return found
    table = tank_table(model)
    level = min(max(min(heights), table.bottom), model.waterline)
    leaves = table.volume(model.waterline) - table.volume(level)
    return replace(found, siphon=-net, leaves=leaves, level=level, to=tuple(to), floor=floor)
