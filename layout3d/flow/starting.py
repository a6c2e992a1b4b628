"""Which ways out a pump's water gets to as it starts: over every top on the way, before any siphon helps.

A network in full flow may draw water over a top that lies above its grade line; but the pipe has to fill
first, with the head that the pump has while that way is still dry. Left out: air that slow water leaves
behind a top.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace

from layout3d.band import Setting
from layout3d.errors import BeyondCurve, NoOperatingPoint, NotSettled
from layout3d.flow.network import DripHole, Junction, Link, Node, Outlet, Pump, Reservoir
from layout3d.flow.settled import Bars, Crest, Settled, branch_of, highest_head, settle
from layout3d.flow.water import Water

__all__ = ["SIPHON", "TopInTheWay", "owners_of", "started"]

SIPHON = 1e-3  # [m] below the height of the pipe: a grade line lower than this draws water over a top


class TopInTheWay(NoOperatingPoint):
    """A pump lifts no water over the top of any of its ways; ``crest`` is the one that lacks least."""

    def __init__(self, pumps: str, crest: Crest) -> None:
        short = crest.height - crest.level
        super().__init__(
            f"pump {pumps} lifts water to {crest.level:.3g} m over the tank's floor and its pipe has a top "
            f"at {crest.height:.3g} m: {short:.2g} m short",
            remedy="use a pump of more head, a higher speed, or a lower way for the pipe",
        )
        self.crest = crest


def started(
    nodes: Sequence[Node],
    links: Sequence[Link],
    bars: Bars,
    *,
    losses: Callable[[str], Setting],
    water: Water,
) -> Settled:
    """Find the steady state of a system that has just been switched on.

    Parameters
    ----------
    nodes, links, bars, losses, water : as :func:`layout3d.flow.settled.settle`

    Returns
    -------
    Settled; its ``unreached`` tells ways out that no water gets to, and the top that it can't pass.

    Raises
    ------
    NoOperatingPoint : also where no water passes any top.
    """

    def solved(shut: frozenset[str]) -> Settled:
        return settle(nodes, links, bars, losses=losses, water=water, shut=shut)

    found = solved(frozenset())
    tops = _tops(nodes, links, bars, found)
    if not tops:
        return found
    waiting = sorted(tops, key=lambda way: max(tops[way].values()))
    while True:
        still = frozenset(waiting)
        base: Settled | None = None
        try:
            base = solved(still)
            levels = {one.name: one.head for one in base.steady.nodes}
        except (BeyondCurve, NotSettled):
            raise
        except NoOperatingPoint:
            levels = {}  # nothing runs yet: the pump's whole head stands everywhere
        reach = highest_head(nodes, links) - 0.01
        lacks = {
            way: max(height - (levels.get(node) or reach) for node, height in tops[way].items())
            for way in waiting
        }
        ready = next((way for way in waiting if lacks[way] <= 0.0), None)
        if ready is None:
            break
        waiting.remove(ready)
        if not waiting:
            return found
    unreached = {way: _crest(tops[way], levels, reach) for way in waiting}
    if base is None:
        raise TopInTheWay(_pumps(links), min(unreached.values(), key=lambda one: one.height - one.level))
    return replace(base, unreached=unreached)


def _pumps(links: Sequence[Link]) -> str:
    return ", ".join(link.name for link in links if isinstance(link, Pump))


def _crest(tops: dict[str, float], levels: dict[str, float | None], reach: float) -> Crest:
    """Return the top that lacks most, with the level that the water gets to there."""
    node = max(tops, key=lambda name: tops[name] - (levels.get(name) or reach))
    return Crest(node=node, height=tops[node], level=levels.get(node) or reach)


def _tops(
    nodes: Sequence[Node], links: Sequence[Link], bars: Bars, settled: Settled
) -> dict[str, dict[str, float]]:
    """Return for each way out that draws water over a top the nodes on its way with their heights, [m]."""
    heights = {node.name: node.elevation for node in nodes if isinstance(node, Junction)}
    under = {
        one.name
        for one in settled.steady.nodes
        if one.name in heights and one.head is not None and one.head < heights[one.name] - SIPHON
    }
    if not under:
        return {}
    owners = owners_of(links, nodes, bars, settled)
    on_way: dict[str, set[str]] = {}
    for link in links:
        for way in owners.get(link.name, frozenset()):
            on_way.setdefault(way, set()).update((link.start, link.end))
    return {
        way: {name: heights[name] for name in names if name in heights}
        for way, names in on_way.items()
        if names & under
    }


def owners_of(
    links: Sequence[Link], nodes: Sequence[Node], bars: Bars, settled: Settled
) -> dict[str, frozenset[str]]:
    """Return for each link and each way out the ways out that its water reaches, named by ``branch_of``."""
    flows = {flow.name: flow.flow for flow in settled.steady.links}
    onward: dict[str, list[tuple[str, str]]] = {}
    for link in links:
        flow = flows[link.name]
        if flow and not isinstance(link, Pump):
            start, end = (link.start, link.end) if flow > 0.0 else (link.end, link.start)
            onward.setdefault(start, []).append((link.name, end))
    ends = {node.name: branch_of(node) for node in nodes if isinstance(node, Outlet | DripHole)}
    ends |= {name: name for name in bars.laid}
    open_water = {node.name for node in nodes if isinstance(node, Reservoir)}
    reached: dict[str, frozenset[str]] = {}
    # water runs from higher heads to lower ones, so that what lies onward is known before
    for found in sorted(settled.steady.nodes, key=lambda one: -math.inf if one.head is None else one.head):
        own = {ends[found.name]} if found.name in ends else set[str]()
        if found.name in open_water:
            own.add(found.name)
        else:
            own.update(*(reached.get(end, frozenset()) for _, end in onward.get(found.name, ())))
        reached[found.name] = frozenset(own)
    owners = {name: frozenset({end}) for name, end in ends.items()}
    for steps in onward.values():
        owners |= {link: reached.get(end, frozenset()) for link, end in steps}
    return owners
