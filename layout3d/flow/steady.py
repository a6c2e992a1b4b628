"""Steady flow in a network with given ways out closed, at one set of losses: links, nodes, drip holes.

Which ways out a pump gets to as it starts is told by ``flow.solve``, which calls this. Left out: what
:mod:`layout3d.flow.network` leaves out; air that a hole or an open end above the grade line draws in.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal

import numpy as np

from layout3d.band import OPPOSITE, Setting
from layout3d.errors import BeyondCurve, NoOperatingPoint
from layout3d.flow.balance import TRICKLE, Chain, Floats, Law, Laws, Places
from layout3d.flow.bar import BarFlow
from layout3d.flow.network import (
    STOPPED,
    DrilledPipe,
    Link,
    Network,
    Outlet,
    Pump,
    Reservoir,
)
from layout3d.flow.orifice import hold_head
from layout3d.flow.water import Water
from layout3d.solid.shape import hung_together
from layout3d.units import GRAVITY, show

__all__ = ["Case", "Crest", "LinkFlow", "LinkState", "NodeHead", "Settings", "Steady"]

LinkState = Literal["flowing", "still", "shut", "stopped", "dead-headed", "pushed back"]
STILL = 1e-10  # [m³/s], 0.4 mL/h: flow below this is called still

Settings = Setting | Callable[[str], Setting]


@dataclass(frozen=True, slots=True, kw_only=True)
class LinkFlow:
    """What one link carries.

    flow [m³/s], above 0 from start to end, of drilled pipe at its start; velocity there [m/s], None for a
    pump; loss: head lost from start to end [m], to the cap of drilled pipe, below 0 where a pump adds head,
    None where an end is cut off; state.
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
    from all open water. outflow: water that leaves the network here [m³/s], below 0 where it enters.
    """

    name: str
    head: float | None
    outflow: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Crest:
    """A top in a pipe that no water passes: the node, its height, and the level the water gets to, z [m]."""

    node: str
    height: float
    level: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Steady:
    """The steady state of a network: what links carry, nodes' heads, and drilled pipes by name.

    ``owners`` names for each link and way out the ways out that its water reaches: outlets and holes by their
    node, drilled pipes and open water by their name. ``unreached`` are ways out that no water gets to as it
    starts, with the top it can't pass.
    """

    links: Mapping[str, LinkFlow]
    nodes: Mapping[str, NodeHead]
    bars: Mapping[str, BarFlow]
    owners: Mapping[str, frozenset[str]] = field(default_factory=dict)
    unreached: Mapping[str, Crest] = field(default_factory=dict)


@dataclass(slots=True)
class _Hole:
    """A hole of the case: its law's place, its node, and the head that breaks its drop."""

    place: int
    node: int
    height: float
    diameter: float
    hold: float


class Case:
    """One network at its settings, with outlets and holes turned into links to heads of their own."""

    def __init__(
        self, network: Network, setting: Settings, recovery: float, water: Water, holds: bool
    ) -> None:
        self.network, self.water, self.holds = network, water, holds
        self.setting = setting if callable(setting) else lambda _: setting
        self.index = {node.name: place for place, node in enumerate(network.nodes)}
        self.starts: list[int] = []
        self.ends: list[int] = []
        self.rows: list[Law] = []
        self.fixed = [node.level if isinstance(node, Reservoir) else math.nan for node in network.nodes]
        self.of_link: dict[
            str, tuple[int, ...]
        ] = {}  # the laws of a link, of drilled pipe those of its spans
        self.of_way: dict[str, list[int]] = {}  # the laws of a way out, by its name
        self.holes: list[_Hole] = []
        chains: list[Chain] = []
        self.drilled: dict[str, tuple[int, list[_Hole]]] = {}
        for link in network.links:
            if isinstance(link, DrilledPipe):
                chains.append(self._drill(link, recovery, len(chains)))
            elif (made := self._law(link)) is not None:
                self.of_link[link.name] = (self._add(made, self.index[link.start], self.index[link.end]),)
        for node in network.nodes:
            if isinstance(node, Outlet):
                one_way = node.level is None or node.level <= node.elevation
                setting = self.setting(node.name)
                law = Law(
                    bore=node.bore,
                    coefficient=node.loss.at(setting),
                    back=None if node.entry is None else node.entry.at(setting),
                    one_way=one_way,
                )
                place = self._out(law, self.index[node.name], node.back_head)
                self.of_way[node.name] = [place]
        self.laws = Laws(self.rows, self.starts, self.ends, self.fixed, chains, viscosity=water.viscosity)
        # a hole begins after those that stand lower, or nearer to the inlet of the same pipe
        self.order = sorted(self.holes, key=lambda hole: hole.height + hole.hold)
        self.last: Floats | None = None

    def _add(self, law: Law, start: int, end: int) -> int:
        self.rows.append(law)
        self.starts.append(start)
        self.ends.append(end)
        return len(self.rows) - 1

    def _out(self, law: Law, start: int, head: float) -> int:
        self.fixed.append(head)
        return self._add(law, start, len(self.fixed) - 1)

    def _law(self, link: Link) -> Law | None:
        """Law of a link, or None where it is shut for good."""
        setting = self.setting(link.name)
        if isinstance(link, Pump):
            curve = link.running_curve.at(OPPOSITE[setting]) if link.speed > 0.0 else None
            if link.bore is None:
                return None if curve is None else Law(curve=curve)
            return Law(bore=link.bore, coefficient=STOPPED.at(setting), curve=curve)
        if isinstance(link, DrilledPipe) or link.shut:
            return None
        return Law(
            bore=link.bore,
            length=link.length,
            roughness=link.roughness,
            coefficient=link.loss.at(setting),
            back=link.loss_back.at(setting) if link.loss_back else None,
            laminar=link.loss.laminar,
            one_way=link.one_way,
        )

    def _hole(self, way: str, node: int, height: float, diameter: float, coefficient: float) -> _Hole:
        law = Law(bore=diameter, coefficient=1.0 / coefficient**2, one_way=True)
        place = self._out(law, node, height)
        hold = hold_head(diameter, water=self.water) if self.holds else 0.0
        hole = _Hole(place, node, height, diameter, hold)
        self.holes.append(hole)
        self.of_way.setdefault(way, []).append(place)
        return hole

    def _drill(self, link: DrilledPipe, recovery: float, number: int) -> Chain:
        """Lay a drilled pipe as spans between its holes, every one with a node of its own."""
        bar, here, done = link.bar, self.index[link.start], 0.0
        bends = link.loss.at(self.setting(link.name))
        spans: list[int] = []
        holes: list[_Hole] = []
        coefficients = bar.coefficients(OPPOSITE[self.setting(link.name)])

        def span(length: float, there: int) -> None:
            law = Law(
                bore=bar.bore,
                length=max(0.0, length),
                roughness=bar.roughness,
                coefficient=0.0 if spans else bends,
                laminar=0.0 if spans else link.loss.laminar,
            )
            spans.append(self._add(law, here, there))

        for place, height, diameter, coefficient in zip(
            bar.positions, bar.heights, bar.diameters, coefficients, strict=True
        ):
            self.fixed.append(math.nan)
            node = len(self.fixed) - 1
            span(place - done, node)
            holes.append(self._hole(link.name, node, height, diameter, coefficient))
            here, done = node, place
        if link.end is not None:
            span(bar.length - done, self.index[link.end])
        self.of_link[link.name] = tuple(spans)
        self.drilled[link.name] = (number, holes)
        return Chain(
            holes=np.array([hole.place for hole in holes], dtype=np.intp),
            segments=np.array([*spans, *([] if link.end is not None else [-1])], dtype=np.intp),
            recovery=recovery,
            speed_head=1.0 / (2.0 * GRAVITY * (0.25 * math.pi * bar.bore**2) ** 2),
        )

    # -- which holes run ------------------------------------------------------------------------------

    def solved(self, shut: frozenset[str]) -> Steady:
        """Solve with these ways out closed."""
        closed = {place for way in shut for place in self.of_way.get(way, ())}
        margin: dict[int, float] = {}
        held = self._held(closed, margin)
        flows, heads = self._run(closed | held, exact=True)
        self._check_pumps(flows)
        return self._result(flows, heads, margin)

    def _held(self, closed: set[int], margin: dict[int, float]) -> set[int]:
        """Return the holes that stay shut as the water comes, and note each hole's ``margin``."""
        todo = [hole for hole in self.order if hole.hold > 0.0 and hole.place not in closed]
        shut = {hole.place for hole in todo}
        size, base = len(todo), None
        while todo:
            block = todo[:size]
            trial = self._over(closed | (shut - {hole.place for hole in block}))
            if all(trial[hole.place] > hole.hold for hole in block):
                # what begins later takes head away, so these all had more as they began
                margin.update({hole.place: trial[hole.place] - hole.hold for hole in block})
                size *= 2
            elif size > 1:
                size = max(1, min(size, len(todo)) // 2)
                continue
            else:
                base = base or self._over(closed | shut)
                over = base[block[0].place] - block[0].hold
                margin[block[0].place] = over
                if over <= 0.0:
                    todo, rest = [], todo
                    for hole in rest:  # as they are they can't begin, and nothing later will help them
                        (todo if base[hole.place] > hole.hold else []).append(hole)
                        margin[hole.place] = base[hole.place] - hole.hold
                    continue
            shut -= {hole.place for hole in block}
            todo, base = todo[len(block) :], trial
        return shut

    def _over(self, shut: set[int]) -> dict[int, float]:
        """Return the head over each hole [m] with these laws shut; nothing over one that is cut off."""
        flows, heads = self._run(shut, exact=False)
        back, over = self.laws.recovered(flows)[0], {}
        for hole in self.holes:
            head = heads[hole.node] - back[self.ends[hole.place]]
            over[hole.place] = 0.0 if math.isnan(head) else float(head)
        return over

    def _run(self, shut: set[int], *, exact: bool) -> tuple[Floats, Floats]:
        """Flows and heads with some laws shut; ``exact`` takes out what one-way links let trickle back."""
        laws = self.laws
        live = self._reached(np.array([one for one in range(laws.count) if one not in shut], dtype=np.intp))
        if not len(live):
            return np.zeros(laws.count), laws.fixed.copy()
        one_way = live[laws.one_way[live]]
        if self.last is None:
            # a first search lets one-way links run backward: mostly none wants to, and it settles sooner
            flows, heads = laws.balance(live, relaxed=True)
            if laws.chains or bool(np.any(flows[one_way] < -STILL)):
                flows, heads = laws.balance(live, first=flows)
        else:
            flows, heads = laws.balance(live, first=self.last)
        self.last = np.where(np.abs(flows) > STILL, flows, laws.guess)
        still = one_way[flows[one_way] <= STILL]
        if exact and len(still):
            left = self._reached(np.setdiff1d(live, still))
            if len(left):
                flows, heads = laws.balance(left, first=flows)
            else:
                flows, heads = np.zeros(laws.count), laws.fixed.copy()
        flows[np.abs(flows) <= TRICKLE] = 0.0
        return flows, heads

    def _reached(self, links: Places) -> Places:
        """Of these links, those that hang on some given head."""
        group = self._groups(links)
        held = {group[node] for node, head in enumerate(self.fixed) if not math.isnan(head)}
        return np.array([one for one in links if group[self.starts[one]] in held], dtype=np.intp)

    def _groups(self, links: Sequence[int] | Places) -> list[int]:
        """Return for each node the number of the group that these links tie it into."""
        start, end = ([ends[one] for one in links] for ends in (self.starts, self.ends))
        both = np.array([start + end, end + start], dtype=np.intp)
        group: list[int] = hung_together(len(self.fixed), *both).tolist()
        return group

    # -- pumps that can't, and what is told -----------------------------------------------------------

    def _running(self) -> list[tuple[int, Pump]]:
        return [
            (self.of_link[link.name][0], link)
            for link in self.network.links
            if isinstance(link, Pump) and link.speed > 0.0
        ]

    def _check_pumps(self, flows: Floats) -> None:
        running = self._running()
        for one, pump in running:
            end = self.laws.curves[one].max_flow
            if flows[one] > end * (1.0 + 1e-9):
                back = ", ".join(other.name for place, other in running if flows[place] < -STILL)
                why = f", part of it back through {back}, which can't hold against it" if back else ""
                raise BeyondCurve(
                    f"pump {pump.name} would carry more than the last point it is known at, "
                    f"{show(end, 'flow')}{why}",
                    remedy="throttle it, or give its curve further",
                )
        if running and all(flows[one] <= STILL for one, _ in running):
            raise NoOperatingPoint(
                "; ".join(self._shortfall(one, pump) for one, pump in running),
                remedy="use a pump of more head, a higher speed, or a lower outlet; or open what is shut",
            )

    def _shortfall(self, one: int, pump: Pump) -> str:
        """Say why a pump lifts nothing."""
        group = self._groups([k for k in range(self.laws.count) if k != one])

        def levels(node: int) -> list[float]:
            alike = (head for spot, head in enumerate(self.fixed) if group[spot] == group[node])
            return [head for head in alike if not math.isnan(head)]

        before, after = levels(self.starts[one]), levels(self.ends[one])
        top = self.laws.curves[one].shut_off_head
        if not after:
            return f"pump {pump.name}: its way out is shut, nothing flows"
        if not before:
            return f"pump {pump.name}: no open water reaches it, nothing flows"
        lift = min(after) - max(before)
        if lift < top:
            return f"pump {pump.name}: no hole lets a drop go, or a one-way link bars its way, nothing flows"
        return (
            f"pump {pump.name} lifts at most {show(top, 'head', digits=3)} at {pump.speed:.0%} speed and the "
            f"lowest way out is {show(lift, 'head', digits=3)} above its water: "
            f"{show(lift - top, 'head', digits=3)} short"
        )

    def _result(self, flows: Floats, heads: Floats, margin: Mapping[int, float]) -> Steady:
        known: dict[str, float | None] = {
            name: None if math.isnan(heads[place]) else float(heads[place])
            for name, place in self.index.items()
        }
        out = {name: math.fsum(flows[place] for place in self.of_way[name]) for name in self.of_way}
        drilled = [link for link in self.network.links if isinstance(link, DrilledPipe)]
        bars = {link.name: self._bar(link, flows, heads, margin) for link in drilled}
        links = {link.name: self._link(link, flows, known, bars) for link in self.network.links}
        for link in self.network.links:
            arrives = -bars[link.name].far_flow if isinstance(link, DrilledPipe) else links[link.name].flow
            for node, flow in ((link.start, -links[link.name].flow), (link.end, arrives)):
                if node is not None and math.isfinite(self.fixed[self.index[node]]):
                    out[node] = out.get(node, 0.0) + flow
        nodes = {
            node.name: NodeHead(
                name=node.name,
                head=known[node.name],
                outflow=out.get(node.name, 0.0),
            )
            for node in self.network.nodes
        }
        return Steady(links=links, nodes=nodes, bars=bars, owners=self._owners(flows, heads))

    def _link(
        self, link: Link, flows: Floats, head: Mapping[str, float | None], bars: Mapping[str, BarFlow]
    ) -> LinkFlow:
        places = self.of_link.get(link.name)
        flow = float(flows[places[0]]) if places else 0.0
        moving = max(abs(flow), abs(bars[link.name].far_flow)) if link.name in bars else abs(flow)
        state: LinkState = "flowing" if moving > STILL else "still"
        if isinstance(link, Pump):
            state = "flowing" if flow > STILL else "pushed back" if flow < -STILL else "dead-headed"
            state = state if link.speed > 0.0 else "stopped"
        elif places is None:
            state = "shut"
        before = head[link.start]
        if link.end is not None:
            after = head[link.end]
        else:
            bar = bars[link.name]
            assert isinstance(link, DrilledPipe)  # nothing else has a cap
            after = None if before is None else float(bar.hole_heads[-1]) + link.bar.heights[-1]
        return LinkFlow(
            name=link.name,
            flow=flow,
            velocity=None if isinstance(link, Pump) else flow / (0.25 * math.pi * link.bore**2),
            loss=None if before is None or after is None else before - after,
            state=state,
        )

    def _bar(self, link: DrilledPipe, flows: Floats, heads: Floats, margin: Mapping[int, float]) -> BarFlow:
        number, holes = self.drilled[link.name]
        chain, bar = self.laws.chains[number], link.bar
        given = flows[chain.holes]
        over = np.nan_to_num(heads[[hole.node for hole in holes]] - bar.heights - chain.speeds(flows))
        given.flags.writeable = over.flags.writeable = False
        head = heads[self.index[link.start]]
        total = bar.heights[0] if math.isnan(head) else float(head)
        inlet = float(flows[chain.segments[0]])
        speed = inlet / (0.25 * math.pi * bar.bore**2)
        return BarFlow(
            flows=given,
            hole_heads=over,
            inlet_flow=inlet,
            far_flow=0.0 if link.end is None else -float(flows[chain.segments[-1]]),
            inlet_velocity=speed,
            static_head=total - speed**2 / (2.0 * GRAVITY),
            total_head=total,
            margin=min((margin[hole.place] for hole in holes if hole.place in margin), default=0.0),
        )

    def _owners(self, flows: Floats, heads: Floats) -> dict[str, frozenset[str]]:
        """Return for each link and each way out the ways out that its water reaches."""
        ways: dict[int, str] = {place: way for way, places in self.of_way.items() for place in places}
        water = {
            self.index[node.name]: node.name for node in self.network.nodes if isinstance(node, Reservoir)
        }
        pumps = {one for one, _ in self._running()}
        onward: dict[int, list[tuple[int, int]]] = {}
        for one, flow in enumerate(flows):
            if flow and not (one in pumps and flow > 0.0) and one not in ways:
                start, end = (self.starts[one], self.ends[one])[:: 1 if flow > 0.0 else -1]
                onward.setdefault(start, []).append((one, end))
        own: dict[int, set[str]] = {}
        for place, way in ways.items():
            own.setdefault(self.starts[place], set()).add(way)
        reached: dict[int, frozenset[str]] = {}
        # water runs from higher heads to lower ones, so that what lies onward is known before
        for node in np.argsort(np.nan_to_num(heads, nan=-np.inf), kind="stable").tolist():
            names = {water[node]} if node in water else set(own.get(node, ()))
            if node not in water:
                names.update(*(reached.get(end, frozenset()) for _, end in onward.get(node, ())))
            reached[node] = frozenset(names)
        found = {way: frozenset({way}) for way in self.of_way}
        by_law = {one: reached.get(end, frozenset()) for steps in onward.values() for one, end in steps}
        for link, places in self.of_link.items():
            if owned := frozenset[str]().union(*(by_law.get(place, frozenset()) for place in places)):
                found[link] = found.get(link, frozenset()) | owned
        return found
