"""Steady flow in a network just switched on: flow, speed and loss by link, head by node, each drip hole.

Pipes fill from the pump: water has to get over every top before a siphon helps, and a hole begins only once
the head over it breaks its drop. Left out: what :mod:`layout3d.flow.network` leaves out; air that a hole or
an open end above the grade line would draw in, and that slow water leaves behind a top.
"""

from __future__ import annotations

import math
from dataclasses import replace

from layout3d.band import SETTINGS
from layout3d.errors import BeyondCurve, NoOperatingPoint, NotSettled, OutOfRange
from layout3d.flow.bar import RECOVERY
from layout3d.flow.network import (
    Junction,
    Network,
    Pump,
    Reservoir,
)
from layout3d.flow.steady import Case, Crest, Settings, Steady
from layout3d.flow.water import Water, water_at
from layout3d.guards import within
from layout3d.units import show

__all__ = ["TopInTheWay", "highest_head", "solve"]

SIPHON = 1e-3  # [m] below the height of the pipe: a grade line lower than this draws water over a top


class TopInTheWay(NoOperatingPoint):
    """A pump lifts no water over the top of any of its ways; ``crest`` is the one that lacks least."""

    def __init__(self, pumps: str, crest: Crest) -> None:
        short = crest.height - crest.level
        super().__init__(
            f"pump {pumps} lifts water to {show(crest.level, 'head', digits=3)} over the tank's floor and "
            f"its pipe has a top at {show(crest.height, 'head', digits=3)}: "
            f"{show(short, 'head', digits=2)} short",
            remedy="use a pump of more head, a higher speed, or a lower way for the pipe",
        )
        self.crest = crest


def solve(
    network: Network,
    *,
    setting: Settings = "likely",
    recovery: float = RECOVERY.likely,
    water: Water | None = None,
    holds: bool = True,
) -> Steady:
    """Find the steady flow of a network that has just been switched on.

    Parameters
    ----------
    network : nodes and links
    setting : which end of the losses, for all or by the name of a link or node: at "low" fittings lose least,
        holes pass most and pumps give most, at "high" the other way about
    recovery : share of the velocity head lost at a hole that returns as pressure behind it, [-], 0 to 1
    water : its properties; fresh water at 25 °C where None
    holds : let surface tension hold the drop in a hole under a small head

    Returns
    -------
    Steady; flows in and out of each junction balance to rounding.

    Raises
    ------
    NoOperatingPoint : no running pump can lift any water, or a pump would run beyond its curve; the
        message says which and by how much.

    Notes
    -----
    Global gradient method with a guarded step, see :mod:`layout3d.flow.balance`. Along drilled pipe the
    static head rises behind each hole by ``recovery`` x (V1² - V2²)/2g, and drives the hole.

    All holes begin shut. From the lowest and nearest to its inlet on, each begins if the head over it is
    then above :func:`~layout3d.flow.orifice.hold_head`, and runs on whatever those that begin after it leave.
    A hole that begins takes head from all others, so one that could not begin never can: whether all holes
    run hangs on the heads alone, and more head never leaves one dry that less would not.

    Sources
    -------
    Momentum recovery: Perry's Chemical Engineers' Handbook, sec. 6, perforated-pipe distributors.
    """
    if isinstance(setting, str) and setting not in SETTINGS:
        raise OutOfRange(f"no setting {setting!r} of the losses", expected="one of: low, likely, high")
    within(recovery, 0.0, 1.0, "recovery", "")
    case = Case(network, setting, recovery, water or water_at(), holds)
    found = case.solved(frozenset())
    tops = _tops(network, found)
    if not tops:
        return found
    waiting = sorted(tops, key=lambda way: (max(tops[way].values()), way))
    reach = highest_head(network)
    while True:
        base: Steady | None = None
        try:
            base = case.solved(frozenset(waiting))
            levels = {name: one.head for name, one in base.nodes.items()}
        except (BeyondCurve, NotSettled):
            raise
        except NoOperatingPoint:
            levels = {}  # nothing runs yet: the pump's whole head stands everywhere
        ready = [
            way
            for way in waiting
            if max(height - _stands(levels, node, reach) for node, height in tops[way].items()) <= 0.0
        ]
        if not ready:
            break
        # what gets over a top gets to all that lies behind it: the first to begin takes it from no other
        first = max(tops[ready[0]].values())
        waiting = [way for way in waiting if way not in ready or max(tops[way].values()) > first]
        if not waiting:
            return found
    unreached = {way: _crest(tops[way], levels, reach) for way in waiting}
    if base is None:
        pumps = ", ".join(link.name for link in network.links if isinstance(link, Pump))
        raise TopInTheWay(pumps, min(unreached.values(), key=lambda one: one.height - one.level))
    return replace(base, unreached=unreached)


def highest_head(network: Network) -> float:
    """Return the highest level that open water and running pumps can lift to, z [m]; -inf without water."""
    levels = {node.name: node.level for node in network.nodes if isinstance(node, Reservoir)}
    lifts = [
        levels[link.start] + link.running_curve.shut_off_head
        for link in network.links
        if isinstance(link, Pump) and link.speed > 0.0 and link.start in levels
    ]
    return max([*lifts, *levels.values()], default=-math.inf)


def _crest(tops: dict[str, float], levels: dict[str, float | None], reach: float) -> Crest:
    """Return the top that lacks most, with the level that the water gets to there."""
    node = max(tops, key=lambda name: tops[name] - _stands(levels, name, reach))
    return Crest(node=node, height=tops[node], level=_stands(levels, node, reach))


def _stands(levels: dict[str, float | None], node: str, reach: float) -> float:
    """Return how high water stands at a node, z [m]: where none has come, the pump's whole head does."""
    level = levels.get(node)
    return reach if level is None else level


def _tops(network: Network, steady: Steady) -> dict[str, dict[str, float]]:
    """Return for each way out that draws water over a top the nodes on its way with their heights, [m]."""
    heights = {node.name: node.elevation for node in network.nodes if isinstance(node, Junction)}
    under = {
        name
        for name, height in heights.items()
        if (head := steady.nodes[name].head) is not None and head < height - SIPHON
    }
    if not under:
        return {}
    on_way: dict[str, set[str]] = {}
    for link in network.links:
        for way in steady.owners.get(link.name, frozenset()):
            on_way.setdefault(way, set()).update(end for end in (link.start, link.end) if end is not None)
    return {
        way: {name: heights[name] for name in names if name in heights}
        for way, names in on_way.items()
        if names & under
    }
