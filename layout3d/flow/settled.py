"""One steady state in which network and drip bars agree: each bar gives what its holes give at its head.

A bar joins the network by samples, and in between samples lies a curve; here the sample at the head that was
found is put in and the network solved anew until nothing moves. A hole holds its drop where the head beside
it is too small to break it off while it is shut.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from layout3d.band import Band, Setting
from layout3d.errors import NotSettled
from layout3d.flow.bar import Bar, BarFlow, HoleState
from layout3d.flow.bar_design import bar_outlet
from layout3d.flow.drip_bar import RECOVERY, SPURT_SPEED, WEEP_SHARE, solve_bar
from layout3d.flow.laws import TRACE_SLOPE
from layout3d.flow.network import (
    CheckValve,
    DripHole,
    Junction,
    Link,
    Network,
    Node,
    Outlet,
    Pipe,
    Pump,
    Reservoir,
    SampledOutlet,
    Valve,
)
from layout3d.flow.orifice import hold_head
from layout3d.flow.plumbing import LaidBar
from layout3d.flow.steady import OTHER, Steady, solve
from layout3d.flow.water import Water
from layout3d.units import GRAVITY

__all__ = [
    "Bars",
    "Crest",
    "Settled",
    "bar_at",
    "branch_of",
    "component",
    "fixed_link",
    "fixed_node",
    "highest_head",
    "hole_state",
    "open_bar",
    "settle",
]

PASSES = 200
# share of all water that moves by which network and holes may differ: the network's heads are good to 1e-9 m
AGREED = 1e-7
ROUGHLY = 1e-3  # the same, near enough to tell which holes hold
NEAR = 1e-5  # [m], samples nearer to the one found are replaced by it
# as a hole begins, its flow rises like a root: there samples have to close in from both sides
PATIENCE, NEARER = 12, 1e-9  # passes, [m]
LONG_PATIENCE = 50  # passes, after which a tenth of a percent is near enough


@dataclass(frozen=True, slots=True, kw_only=True)
class Crest:
    """A top in a pipe that no water passes: the node, its height, and the level the water gets to, z [m]."""

    node: str
    height: float
    level: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Settled:
    """A steady state and what each bar gives in it, by node.

    ``held`` are holes that hold their drop, ``coefficients`` the setting of the holes, ``unreached`` the ways
    out that no water gets to, with the top it can't pass.
    """

    steady: Steady
    bars: Mapping[str, BarFlow]
    held: Mapping[str, frozenset[int]]
    coefficients: Mapping[str, Setting]
    unreached: Mapping[str, Crest] = field(default_factory=dict)


class Bars:
    """The bars of a system, sampled once for each setting of their holes."""

    def __init__(self, laid: Iterable[LaidBar], *, top: float, water: Water) -> None:
        self.laid = {one.node: one for one in laid}
        self.top, self.water = top, water
        self._sampled: dict[tuple[str, Setting], SampledOutlet] = {}

    def outlet(
        self,
        node: str,
        setting: Setting,
        held: frozenset[int],
        *,
        near: float | None = None,
    ) -> Node:
        """Return a bar as a node: an outlet by samples, or a dead end where every hole holds its drop.

        With held holes the samples are those of the whole bar, scaled to hold at ``near``, a head at the
        inlet: enough where samples are put in until all agrees.
        """
        bar = open_bar(self.laid[node].bar, setting, held)
        if bar is None:
            return Junction(name=node, elevation=min(self.laid[node].bar.heights))
        whole = self._whole(node, setting)
        if not held or near is None:
            return whole
        now = bar_at(self.laid[node].bar, near, held, setting, RECOVERY.likely, self.water).flow
        known = float(np.interp(near, whole.heads, whole.flows))
        if not (now > 0.0 and known > 0.0):
            return self._samples(node, bar)
        return replace(whole, flows=tuple(flow * now / known for flow in whole.flows))

    def _whole(self, node: str, setting: Setting) -> SampledOutlet:
        key = node, setting
        if key not in self._sampled:
            bar = open_bar(self.laid[node].bar, setting)
            assert bar is not None, "a bar has holes (Bars._whole)"
            self._sampled[key] = self._samples(node, bar)
        return self._sampled[key]

    def _samples(self, node: str, bar: Bar) -> SampledOutlet:
        top = max(self.top, min(bar.heights) + 0.01)  # out of reach it still stands in the network
        return bar_outlet(bar, name=node, highest_head=top, water=self.water)


def open_bar(bar: Bar, setting: Setting, held: frozenset[int] = frozenset()) -> Bar | None:
    """Return a bar at one setting of its holes' coefficient, less the held holes; None if all are held."""
    kept = [number for number in range(bar.count) if number not in held]
    if not kept:
        return None
    # a bar's holes share one wall, so holes of one size share a coefficient; of several, the middle one's
    middle = sorted(bar.coefficients(setting))[bar.count // 2]
    return replace(
        bar,
        positions=tuple(bar.positions[number] for number in kept),
        diameters=tuple(bar.diameters[number] for number in kept),
        heights=tuple(bar.heights[number] for number in kept),
        coefficient=Band.exact(middle),
    )


def settle(
    nodes: Sequence[Node],
    links: Sequence[Link],
    bars: Bars,
    *,
    losses: Callable[[str], Setting],
    water: Water,
    shut: frozenset[str] = frozenset(),
) -> Settled:
    """Find the steady state of a system.

    Parameters
    ----------
    nodes, links : without the nodes of the bars
    losses : the setting of a link or node, by name; a bar's holes pass most at 'low'
    shut : ways out that are closed: mouths, bars, pipes of holes

    Raises
    ------
    NoOperatingPoint : as :func:`layout3d.flow.steady.solve`.
    NotSettled : holes and network do not come to agree.
    """
    fixed_nodes = [
        Junction(name=node.name, elevation=node.elevation)
        if isinstance(node, Outlet | DripHole) and branch_of(node) in shut
        else fixed_node(node, losses(node.name))
        for node in nodes
    ]
    fixed_links = tuple(fixed_link(link, losses(link.name)) for link in links)
    coefficients = {node: OTHER[losses(node)] for node in bars.laid}
    held: dict[str, frozenset[int]] = {
        node: frozenset(range(laid.bar.count)) if node in shut else frozenset()
        for node, laid in bars.laid.items()
    }
    freed: dict[str, frozenset[int]] = dict.fromkeys(bars.laid, frozenset())
    outlets = {node: bars.outlet(node, coefficients[node], held[node]) for node in bars.laid}
    changed = 0  # the pass at which the holes that hold last changed
    for step in range(PASSES):
        steady = solve(Network(nodes=(*fixed_nodes, *outlets.values()), links=fixed_links), water=water)
        moved = sum(max(0.0, one.outflow) for one in steady.nodes)
        flows: dict[str, BarFlow] = {}
        agreed = True
        for node, laid in bars.laid.items():
            found, outlet = steady.node(node), outlets[node]
            head = laid.bar.heights[0] if found.head is None else found.head - TRACE_SLOPE * found.outflow
            flow = bar_at(laid.bar, head, held[node], coefficients[node], RECOVERY.likely, water)
            flows[node] = flow
            missed = abs(flow.flow - found.outflow) if isinstance(outlet, SampledOutlet) else 0.0
            if missed <= ROUGHLY * moved and node not in shut:
                drops = _holding(laid.bar, flow, water)
                # with holes shut the head may break their drops after all; a hole that has begun runs on
                freed[node] |= held[node] - drops
                now = (held[node] | _weakest(flow, drops - held[node] - freed[node])) - freed[node]
                if now != held[node]:
                    held[node] = now
                    outlets[node] = bars.outlet(node, coefficients[node], now, near=head)
                    agreed, changed = False, step
                    continue
            allowed = AGREED if step - changed < LONG_PATIENCE else ROUGHLY
            if missed > allowed * moved and isinstance(outlet, SampledOutlet):
                outlets[node] = _with_sample(
                    outlet, head, flow.flow, near=NEAR if step - changed < PATIENCE else NEARER
                )
                agreed = agreed and outlets[node] == outlet and missed <= ROUGHLY * moved
        if agreed:
            return Settled(steady=steady, bars=flows, held=held, coefficients=coefficients)
    raise NotSettled("the drip bars and the network behind them did not come to agree")


def _holding(bar: Bar, flow: BarFlow, water: Water) -> frozenset[int]:
    """Return the holes whose head is too small to break their drop, whether they are shut or not."""
    return frozenset(
        number
        for number, (head, size) in enumerate(zip(flow.hole_heads, bar.diameters, strict=True))
        if 0.0 < head < hold_head(size, water=water)
    )


def _weakest(flow: BarFlow, drops: frozenset[int]) -> frozenset[int]:
    """Return the weakest quarter of holes that are about to hold: as they shut, the others gain head."""
    weakest = sorted(drops, key=lambda number: flow.hole_heads[number])
    return frozenset(weakest[: math.ceil(0.25 * len(weakest))])


def branch_of(node: Node) -> str:
    """Name the way out a node belongs to: itself, or the pipe of a hole."""
    return node.name.rpartition(".")[0] if isinstance(node, DripHole) else node.name


def bar_at(
    bar: Bar,
    head: float,
    held: frozenset[int],
    setting: Setting,
    recovery: float,
    water: Water,
) -> BarFlow:
    """Return what all holes of a bar give at a total head at its inlet, z [m], those in ``held`` shut."""
    heights = np.array(bar.heights)
    flows, levels = np.zeros(bar.count), np.full(bar.count, head)
    running = open_bar(bar, setting, held)
    found = None
    if running is not None:
        kept = [number for number in range(bar.count) if number not in held]
        found = solve_bar(running, head, kind="total", recovery=recovery, holds=False, water=water)
        flows[kept] = found.flows
        # a shut hole has the head of the pipe beside it
        places = [bar.positions[number] for number in kept]
        levels = np.interp(bar.positions, places, found.hole_heads + heights[kept])
    heads = levels - heights
    flows.flags.writeable = heads.flags.writeable = False
    return BarFlow(
        flows=flows,
        hole_heads=heads,
        states=tuple(
            hole_state(float(over), float(flow), size, water)
            for over, flow, size in zip(heads, flows, bar.diameters, strict=True)
        ),
        inlet_flow=found.inlet_flow if found else 0.0,
        far_flow=0.0,
        inlet_velocity=found.inlet_velocity if found else 0.0,
        static_head=found.static_head if found else head,
        total_head=found.total_head if found else head,
    )


def hole_state(head: float, flow: float, diameter: float, water: Water) -> HoleState:
    """Return how a hole gives: by its head [m] against that which breaks a drop, and its jet's speed."""
    hold = hold_head(diameter, water=water)
    if flow <= 0.0:
        return "holds" if head > 0.0 else "dry"
    if math.sqrt(2.0 * GRAVITY * max(0.0, head)) > SPURT_SPEED:
        return "spurts"
    return "weeps" if head < WEEP_SHARE * hold else "runs"


def _with_sample(outlet: SampledOutlet, head: float, flow: float, *, near: float) -> SampledOutlet:
    """Return the outlet with one more sample; those beside it that it makes useless fall away."""
    pairs = list(zip(outlet.heads, outlet.flows, strict=True))
    below = [(h, f) for h, f in pairs if (h < head - near and f < flow) or f == 0.0]
    above = [(h, f) for h, f in pairs if h > head + near and f > flow]
    if flow <= 0.0 or head <= below[-1][0]:
        return outlet
    joined = [*below, (head, flow), *above]
    return SampledOutlet(
        name=outlet.name, heads=tuple(h for h, _ in joined), flows=tuple(f for _, f in joined)
    )


def fixed_link(link: Link, setting: Setting) -> Link:
    """Return a link whose loss is what it is at one setting, at every setting."""
    if isinstance(link, Pump) or (isinstance(link, Valve) and link.opening == 0.0):
        return link
    assert link.loss is not None  # a check valve has filled it in
    at = link.loss.at(setting)
    loss = replace(link.loss, low=at, likely=at, high=at)
    if isinstance(link, Pipe):
        return replace(link, loss=loss)
    one_way = isinstance(link, CheckValve)
    return Pipe(
        name=link.name,
        start=link.start,
        end=link.end,
        length=0.0,
        bore=link.bore,
        loss=loss,
        one_way=one_way,
    )


def fixed_node(node: Node, setting: Setting) -> Node:
    """Return a node whose exit loss or hole coefficient is what it is at one setting."""
    if isinstance(node, Outlet):
        at = node.loss.at(setting)
        return replace(node, loss=replace(node.loss, low=at, likely=at, high=at))
    if isinstance(node, DripHole):
        return replace(node, coefficient=Band.exact(node.band.at(OTHER[setting])))
    return node


def highest_head(nodes: Iterable[Node], links: Iterable[Link]) -> float:
    """Return the highest level that open water and running pumps can lift to, z [m]; -inf without water."""
    levels = {node.name: node.level for node in nodes if isinstance(node, Reservoir)}
    lifts = [
        levels[link.start] + link.running_curve.shut_off_head
        for link in links
        if isinstance(link, Pump) and link.speed > 0.0
    ]
    return max([*lifts, *levels.values()], default=-np.inf) + 0.01


def component(links: Sequence[Link], open_water: set[str]) -> list[list[Link]]:
    """Part links into groups that hang together without passing through open water, in their order."""
    group_of: dict[str, int] = {}
    groups: dict[int, list[Link]] = {}
    for number, link in enumerate(links):
        ends = [end for end in (link.start, link.end) if end not in open_water]
        found = sorted({group_of[end] for end in ends if end in group_of})
        into = found[0] if found else number
        members = [one for old in found for one in groups.pop(old)]
        groups[into] = [*members, link]
        for one in groups[into]:
            group_of.update({end: into for end in (one.start, one.end) if end not in open_water})
    order = {link.name: number for number, link in enumerate(links)}
    return [sorted(groups[key], key=lambda link: order[link.name]) for key in sorted(groups)]
