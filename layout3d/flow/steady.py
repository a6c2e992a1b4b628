"""Steady flow in a network: flow, speed and loss by link, head by node, at low, likely or high losses.

Left out: what :mod:`layout3d.flow.network` leaves out. A hole or an open end above the grade line gives
nothing; it never draws air in here, though a real one would, and break the siphon behind it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np

from layout3d.band import SETTINGS, Setting
from layout3d.errors import BeyondCurve, NoOperatingPoint, NotSettled, OutOfRange, UnknownName, nearest
from layout3d.flow.balance import TRICKLE, Floats, balance
from layout3d.flow.laws import Law, OutletLaw, PipeLaw, PumpLaw, SampledLaw
from layout3d.flow.network import (
    CheckValve,
    DripHole,
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
from layout3d.flow.water import Water, water_at

__all__ = ["LinkFlow", "NodeHead", "Steady", "solve", "solve_band"]

LinkState = Literal["flowing", "still", "shut", "stopped", "dead-headed"]
OTHER: dict[Setting, Setting] = {"low": "high", "likely": "likely", "high": "low"}
STILL = 1e-10  # [m³/s], 0.4 mL/h: flow below this is called still
HOLD_PASSES = 30


@dataclass(frozen=True, slots=True, kw_only=True)
class LinkFlow:
    """What one link carries.

    flow [m³/s], above 0 from start to end; velocity [m/s], None for a pump; loss: head lost from start to
    end [m], below 0 where a pump adds head, None where an end is cut off; state.
    """

    name: str
    flow: float
    velocity: float | None
    loss: float | None
    state: LinkState


@dataclass(frozen=True, slots=True, kw_only=True)
class NodeHead:
    """What stands at one node.

    head: level to which water would rise in an open tube there, as z [m]; None where the node is cut off
    from all open water. pressure_head: that above the node's own height, [m], None likewise or for open
    water. outflow: water that leaves the network here [m³/s], below 0 where it enters.
    """

    name: str
    head: float | None
    pressure_head: float | None
    outflow: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Steady:
    """The steady state of a network at one setting of its losses."""

    setting: Setting
    links: tuple[LinkFlow, ...]
    nodes: tuple[NodeHead, ...]

    def link(self, name: str) -> LinkFlow:
        """Return one link by name; raise UnknownName with the nearest."""
        for link in self.links:
            if link.name == name:
                return link
        raise UnknownName(f"no link {name!r}", expected=nearest(name, [link.name for link in self.links]))

    def node(self, name: str) -> NodeHead:
        """Return one node by name; raise UnknownName with the nearest."""
        for node in self.nodes:
            if node.name == name:
                return node
        raise UnknownName(f"no node {name!r}", expected=nearest(name, [node.name for node in self.nodes]))


def solve(network: Network, *, setting: Setting = "likely", water: Water | None = None) -> Steady:
    """Find the steady flow of a network.

    Parameters
    ----------
    network : nodes and links
    setting : which end of the losses: at "low" fittings lose least and holes pass most, at "high" the
        other way about
    water : its properties; fresh water at 25 °C where None

    Returns
    -------
    Steady; flows in and out of each junction balance to rounding.

    Raises
    ------
    NoOperatingPoint : no running pump can lift any water, or a pump would run beyond its curve; the
        message says which and by how much.

    Notes
    -----
    Global gradient method with a guarded step, see :mod:`layout3d.flow.balance`. A hole that holds its drop
    is shut once its head is below :func:`~layout3d.flow.orifice.hold_head` and is not opened again, the
    state of a bar that is just starting.
    """
    if setting not in SETTINGS:
        raise OutOfRange(f"no setting {setting!r} of the losses", expected="one of: low, likely, high")
    state = water or water_at()
    held: frozenset[str] = frozenset()
    for _ in range(HOLD_PASSES):
        steady = _Case(network, setting, state, held).solve()
        dry = frozenset(
            node.name
            for node, found in zip(network.nodes, steady.nodes, strict=True)
            if isinstance(node, DripHole)
            and node.holds
            and found.pressure_head is not None
            and 0.0 < found.pressure_head < hold_head(node.diameter, water=state)
        )
        if dry <= held:
            return steady
        held |= dry
    raise NotSettled("the drip holes did not settle between dripping and holding")


def solve_band(network: Network, *, water: Water | None = None) -> dict[Setting, Steady]:
    """Solve at low, likely and high losses; the failure of one names its setting."""
    found: dict[Setting, Steady] = {}
    for setting in SETTINGS:
        try:
            found[setting] = solve(network, setting=setting, water=water)
        except NoOperatingPoint as failure:
            raise type(failure)(
                f"at {setting} losses: {failure.found}", expected=failure.expected, remedy=failure.remedy
            ) from failure
    return found


class _Case:
    """One network at one setting, with outlets turned into links to heads of their own."""

    def __init__(self, network: Network, setting: Setting, water: Water, held: frozenset[str]) -> None:
        self.network, self.setting, self.water = network, setting, water
        self.index = {node.name: place for place, node in enumerate(network.nodes)}
        self.starts: list[int] = []
        self.ends: list[int] = []
        self.laws: list[Law] = []
        self.owner: list[Link | Node] = []
        self.fixed = [node.level if isinstance(node, Reservoir) else math.nan for node in network.nodes]
        for link in network.links:
            law = self._link_law(link)
            if law is not None:
                self._add(link, self.index[link.start], self.index[link.end], law)
        for node in network.nodes:
            mouth = self._mouth(node)
            if mouth is not None and node.name not in held:
                law, back_head = mouth
                self.fixed.append(back_head)
                self._add(node, self.index[node.name], len(self.fixed) - 1, law)

    def _add(self, owner: Link | Node, start: int, end: int, law: Law) -> None:
        self.owner.append(owner)
        self.starts.append(start)
        self.ends.append(end)
        self.laws.append(law)

    def _link_law(self, link: Link) -> Law | None:
        """Law of a link, or None where it is shut for good."""
        if isinstance(link, Pump):
            return PumpLaw(link.running_curve) if link.speed > 0.0 else None
        if isinstance(link, Valve) and link.opening == 0.0:
            return None
        loss = link.loss
        assert loss is not None  # a check valve has filled it in
        length, roughness = (link.length, link.roughness) if isinstance(link, Pipe) else (0.0, 0.0)
        one_way = isinstance(link, CheckValve) or (isinstance(link, Pipe) and link.one_way)
        return PipeLaw(
            length=length,
            bore=link.bore,
            roughness=roughness,
            coefficient=loss.at(self.setting),
            laminar=loss.laminar,
            viscosity=self.water.viscosity,
            one_way=one_way,
        )

    def _mouth(self, node: Node) -> tuple[Law, float] | None:
        """Law of the way out at a node and the head behind it, or None where there is none."""
        if isinstance(node, Outlet):
            one_way = node.level is None or node.level <= node.elevation or node.one_way
            return OutletLaw(
                bore=node.bore, coefficient=node.loss.at(self.setting), one_way=one_way
            ), node.back_head
        if isinstance(node, DripHole):
            coefficient = node.band.at(OTHER[self.setting])  # least loss is the largest coefficient
            law = OutletLaw(bore=node.diameter, coefficient=1.0 / coefficient**2, one_way=True)
            return law, node.elevation
        if isinstance(node, SampledOutlet):
            return SampledLaw(node.heads, node.flows), node.heads[0]
        return None

    def solve(self) -> Steady:
        flows = np.zeros(len(self.laws))
        heads = np.array(self.fixed)
        live = self._reached(list(range(len(self.laws))))
        if live:
            # a first search lets one-way links run backward: mostly none wants to, and it settles sooner
            for law in self.laws:
                law.relaxed = True
            flows[live], heads = self._balance(live, None)
            for law in self.laws:
                law.relaxed = False
            if any(self.laws[one].one_way and flows[one] < -STILL for one in live):
                flows[live], heads = self._balance(live, flows[live])
            shut = [one for one in live if self.laws[one].one_way and flows[one] <= STILL]
            if shut:
                # what the shut links let trickle is taken out again, so that the balance is exact
                left = self._reached([one for one in live if one not in set(shut)])
                kept = flows.copy()
                flows[:] = 0.0
                heads = np.array(self.fixed)
                if left:
                    flows[left], heads = self._balance(left, kept[left])
        self._check_pumps(flows)
        flows[np.abs(flows) <= TRICKLE] = 0.0
        return self._result(flows, heads)

    def _balance(self, live: list[int], first: Floats | None) -> tuple[Floats, Floats]:
        """Flows of the live links and heads of all nodes; NaN where none of them comes."""
        used = sorted({self.starts[one] for one in live} | {self.ends[one] for one in live})
        place = {node: spot for spot, node in enumerate(used)}
        found = balance(
            [place[self.starts[one]] for one in live],
            [place[self.ends[one]] for one in live],
            [self.laws[one] for one in live],
            np.array([self.fixed[node] for node in used]),
            first=first,
        )
        heads = np.array(self.fixed)
        heads[used] = found.heads
        return found.flows, heads

    def _reached(self, links: list[int]) -> list[int]:
        """Of these links, those that hang on some given head."""
        group = self._groups(links)
        held = {group[node] for node, head in enumerate(self.fixed) if not math.isnan(head)}
        return [one for one in links if group[self.starts[one]] in held]

    def _groups(self, links: list[int]) -> list[int]:
        """Return for each node the number of the group that these links tie it into."""
        from scipy.sparse import coo_array
        from scipy.sparse.csgraph import connected_components

        ends = ([self.starts[one] for one in links], [self.ends[one] for one in links])
        count = len(self.fixed)
        tied = coo_array((np.ones(len(links)), ends), shape=(count, count))
        _, group = connected_components(tied, directed=False)
        return [int(number) for number in group]

    def _check_pumps(self, flows: Floats) -> None:
        running = [(one, owner) for one, owner in enumerate(self.owner) if isinstance(owner, Pump)]
        for one, owner in enumerate(self.owner):
            if isinstance(owner, Pump):
                end, what = owner.running_curve.max_flow, f"pump {owner.name}"
            elif isinstance(owner, SampledOutlet):
                end, what = owner.flows[-1], f"outlet {owner.name}"
            else:
                continue
            if flows[one] > end * (1.0 + 1e-9):
                raise BeyondCurve(
                    f"{what} would carry more than the last point it is known at, {end * 3.6e6:.4g} L/h",
                    remedy="throttle it, or give its curve further",
                )
        if running and all(flows[one] <= STILL for one, _ in running):
            raise NoOperatingPoint(
                "; ".join(self._shortfall(one, pump) for one, pump in running),
                remedy="use a pump of more head, a higher speed, or a lower outlet; or open what is shut",
            )

    def _shortfall(self, one: int, pump: Pump) -> str:
        """Say why a pump lifts nothing."""
        group = self._groups([k for k in range(len(self.laws)) if k != one])

        def levels(node: int) -> list[float]:
            alike = (head for spot, head in enumerate(self.fixed) if group[spot] == group[node])
            return [head for head in alike if not math.isnan(head)]

        before, after = levels(self.starts[one]), levels(self.ends[one])
        top = pump.running_curve.shut_off_head
        if not after:
            return f"pump {pump.name}: its way out is shut, nothing flows"
        if not before:
            return f"pump {pump.name}: no open water reaches it, nothing flows"
        lift = min(after) - max(before)
        if lift < top:
            return f"pump {pump.name}: a shut or one-way link stands in its way, nothing flows"
        return (
            f"pump {pump.name} lifts at most {top:.3g} m at {pump.speed:.0%} speed and the lowest way out is "
            f"{lift:.3g} m above its water: {lift - top:.3g} m short"
        )

    def _result(
        self,
        flows: Floats,
        heads: Floats,
    ) -> Steady:
        carried = {
            owner.name: float(flow) for owner, flow in zip(self.owner, flows, strict=True) if _is_link(owner)
        }
        out = {
            owner.name: float(flow)
            for owner, flow in zip(self.owner, flows, strict=True)
            if not _is_link(owner)
        }
        for link in self.network.links:
            flow = carried.get(link.name, 0.0)
            for node, sign in ((link.start, -1.0), (link.end, 1.0)):
                if isinstance(self.network.nodes[self.index[node]], Reservoir):
                    out[node] = out.get(node, 0.0) + sign * flow
        head = {node.name: _known(heads[place]) for place, node in enumerate(self.network.nodes)}
        return Steady(
            setting=self.setting,
            links=tuple(_link_flow(link, carried.get(link.name), head) for link in self.network.links),
            nodes=tuple(
                _node_head(node, head[node.name], out.get(node.name, 0.0)) for node in self.network.nodes
            ),
        )


def _is_link(owner: Link | Node) -> bool:
    return isinstance(owner, Pipe | Valve | CheckValve | Pump)


def _known(head: float) -> float | None:
    return None if math.isnan(head) else float(head)


def _link_flow(link: Link, flow: float | None, head: dict[str, float | None]) -> LinkFlow:
    state: LinkState
    if flow is None:
        state = "stopped" if isinstance(link, Pump) else "shut"
    elif isinstance(link, Pump) and flow <= STILL:
        state = "dead-headed"
    else:
        state = "flowing" if abs(flow) > STILL else "still"
    carried = flow or 0.0
    before, after = head[link.start], head[link.end]
    return LinkFlow(
        name=link.name,
        flow=carried,
        velocity=None if isinstance(link, Pump) else carried / (0.25 * math.pi * link.bore**2),
        loss=None if before is None or after is None else before - after,
        state=state,
    )


def _node_head(node: Node, head: float | None, outflow: float) -> NodeHead:
    height = None if isinstance(node, Reservoir | SampledOutlet) else node.elevation
    return NodeHead(
        name=node.name,
        head=head,
        pressure_head=None if head is None or height is None else head - height,
        outflow=outflow,
    )
