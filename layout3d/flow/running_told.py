"""Turns solved cases of one system into what is told: bands over all cases, and where the power goes."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from layout3d.band import Band, Setting
from layout3d.fittings.losses import Loss
from layout3d.flow.network import DripHole, Link, Node, Outlet, Pump, Reservoir, Valve
from layout3d.flow.plumbing import Plumbing
from layout3d.flow.running_data import Cost, GradePoint, PumpRun, Stretch, WayOut
from layout3d.flow.settled import Bars, Settled, branch_of
from layout3d.flow.steady import LinkFlow, NodeHead
from layout3d.model.model import Model

__all__ = ["FITTINGS", "Telling", "band_over"]

FITTINGS = "losses of fittings and coefficients of holes over their bands"


def band_over(figures: list[float], note: str = FITTINGS) -> Band:
    """Return the band of a figure over all cases, the likely one first."""
    return Band(low=min(figures), likely=figures[0], high=max(figures), note=note)


@dataclass(slots=True, kw_only=True)
class Telling:
    """One system and its solved cases, the likely one first."""

    laid: Plumbing
    nodes: tuple[Node, ...]
    links: tuple[Link, ...]
    bars: Bars
    cases: tuple[Settled, ...]

    _links: list[dict[str, LinkFlow]] = field(init=False)
    _nodes: list[dict[str, NodeHead]] = field(init=False)

    def __post_init__(self) -> None:
        """Index links and nodes by name, as there may be hundreds."""
        self._links = [{one.name: one for one in case.steady.links} for case in self.cases]
        self._nodes = [{one.name: one for one in case.steady.nodes} for case in self.cases]

    def link(self, name: str, figure: Callable[[LinkFlow], float]) -> Band:
        """Return the band of a figure of one link."""
        return band_over([figure(links[name]) for links in self._links])

    def node(self, name: str, figure: Callable[[NodeHead], float]) -> Band:
        """Return the band of a figure of one node."""
        return band_over([figure(nodes[name]) for nodes in self._nodes])

    def sums(self, cases: Mapping[Setting, Settled]) -> tuple[dict[str, float], dict[str, float]]:
        """Return the sums of water that leaves and that enters, by setting, [m³/s]."""
        out, into = {}, {}
        for setting, case in cases.items():
            flows = [node.outflow for node in case.steady.nodes]
            out[str(setting)] = math.fsum(flow for flow in flows if flow > 0.0)
            into[str(setting)] = -math.fsum(flow for flow in flows if flow < 0.0)
        return out, into

    def pumps(self, model: Model) -> tuple[PumpRun, ...]:
        """Return the running pumps."""
        models = {pump.part.name: pump.part.model for pump in model.pumps}
        return tuple(
            PumpRun(
                pump=link.name,
                model=models[link.name],
                speed=link.speed,
                water=link.start,
                curve=link.running_curve,
                flow=self.link(link.name, lambda one: max(0.0, one.flow)),
                head=self.link(link.name, lambda one: -(one.loss or 0.0)),
                state=self._links[0][link.name].state,
            )
            for link in self.links
            if isinstance(link, Pump) and link.speed > 0.0
        )

    def stretches(self) -> tuple[Stretch, ...]:
        """Return the elements of pipework, in the order of the network."""
        power = self._power()
        told = []
        for link in self.links:
            if isinstance(link, Pump):
                continue
            piece, likely = self.laid.pieces[link.name], self._links[0][link.name]
            known = all(links[link.name].loss is not None for links in self._links)
            told.append(
                Stretch(
                    link=link.name,
                    body=piece.body,
                    kind=piece.kind,
                    part=piece.part,
                    start=link.start,
                    end=link.end,
                    bore=piece.bore,
                    length=piece.length,
                    flow=self.link(link.name, lambda one: one.flow),
                    velocity=self.link(link.name, lambda one: abs(one.velocity or 0.0)),
                    loss=self.link(link.name, lambda one: abs(one.loss or 0.0)) if known else None,
                    share=abs(likely.flow * (likely.loss or 0.0)) / power if power > 0.0 else 0.0,
                    state=likely.state,
                    source=_source(link),
                )
            )
        return tuple(told)

    def outs(self) -> tuple[WayOut, ...]:
        """Return the ways out; open water only where a pipe runs into it without a mouth of its own."""
        parts = {
            end: self.laid.pieces[link.name].part for link in self.links for end in (link.end, link.start)
        }
        told = []
        holes: dict[str, list[DripHole]] = {}
        for node in self.nodes:
            if isinstance(node, DripHole):
                holes.setdefault(branch_of(node), []).append(node)
            elif isinstance(node, Outlet):
                area = 0.25 * math.pi * node.bore**2
                told.append(
                    WayOut(
                        name=node.name,
                        where=self.laid.outlets.get(node.name, node.name),
                        kind="mouth",
                        part=parts[node.name],
                        height=node.back_head,
                        flow=self.node(node.name, lambda one: one.outflow),
                        crest=self.cases[0].unreached.get(node.name),
                        velocity=self.node(node.name, lambda one, area=area: abs(one.outflow) / area),  # type: ignore[misc]
                    )
                )
            elif isinstance(node, Reservoir) and self._nodes[0][node.name].outflow > 0.0:
                told.append(
                    WayOut(
                        name=node.name,
                        where=f"the water of {node.name}",
                        kind="water",
                        part=parts[node.name],
                        height=node.level,
                        flow=self.node(node.name, lambda one: one.outflow),
                    )
                )
        for body, several in holes.items():
            told.append(
                WayOut(
                    name=body,
                    where=f"holes of {body}",
                    kind="holes",
                    part=body.partition(".")[0],
                    height=min(node.elevation for node in several),
                    crest=self.cases[0].unreached.get(body),
                    flow=band_over(
                        [math.fsum(nodes[node.name].outflow for node in several) for nodes in self._nodes]
                    ),
                )
            )
        for node_name, laid in self.bars.laid.items():
            told.append(
                WayOut(
                    name=node_name,
                    where=f"drip bar {laid.body}",
                    kind="bar",
                    part=laid.run,
                    height=min(laid.bar.heights),
                    crest=self.cases[0].unreached.get(node_name),
                    flow=self.node(node_name, lambda one: one.outflow),
                )
            )
        return tuple(told)

    def grade(self) -> tuple[GradePoint, ...]:
        """Return the grade line at each node."""
        fastest: dict[str, float] = {}
        for link in self.links:
            speed = abs(self._links[0][link.name].velocity or 0.0)
            for end in (link.start, link.end):
                fastest[end] = max(fastest.get(end, 0.0), speed)
        heights = {
            node.name: node.elevation
            for node in self.nodes
            if not isinstance(node, Reservoir) and hasattr(node, "elevation")
        }
        told = []
        for name in (found.name for found in self.cases[0].steady.nodes):
            known = all(nodes[name].head is not None for nodes in self._nodes)
            height = heights.get(name)
            if name in self.bars.laid:
                height = self.bars.laid[name].bar.heights[0]
            told.append(
                GradePoint(
                    node=name,
                    elevation=height,
                    head=self.node(name, lambda one: one.head or 0.0) if known else None,
                    velocity=fastest.get(name, 0.0),
                )
            )
        return tuple(told)

    def costs(self) -> tuple[Cost, ...]:
        """Return where the pumps' power goes, the most first; the shares add up to 1."""
        power = self._power()
        if not power > 0.0:
            return ()
        by_part: dict[str, float] = {}
        for stretch in self.stretches():
            by_part[stretch.part] = by_part.get(stretch.part, 0.0) + stretch.share
        lift, speed = self._lift_and_exit()
        told = [Cost(what=part, share=share, kind="part") for part, share in by_part.items()]
        told.append(Cost(what="lifting the water", share=lift / power, kind="lift"))
        told.append(Cost(what="speed of the water that leaves", share=speed / power, kind="exit"))
        return tuple(sorted(told, key=lambda cost: -cost.share))

    def _power(self) -> float:
        """Flow times head of all pumps, likely, [m⁴/s]: their power over density and gravity."""
        links = self._links[0]
        return math.fsum(
            links[link.name].flow * -(links[link.name].loss or 0.0)
            for link in self.links
            if isinstance(link, Pump)
        )

    def _lift_and_exit(self) -> tuple[float, float]:
        """Return what lifts the water, and what is left in it as it leaves, both as flow times head."""
        lift = left = 0.0
        for node in self.nodes:
            found = self._nodes[0][node.name]
            if isinstance(node, Reservoir):
                lift += found.outflow * node.level
            elif isinstance(node, Outlet | DripHole) and found.head is not None:
                back = node.back_head if isinstance(node, Outlet) else node.elevation
                lift += found.outflow * back
                left += found.outflow * (found.head - back)
        for name, laid in self.bars.laid.items():
            head, flows = self._nodes[0][name].head, self.cases[0].bars[name].flows
            if head is not None:
                raised = math.fsum(float(q) * z for q, z in zip(flows, laid.bar.heights, strict=True))
                lift += raised
                left += float(flows.sum()) * head - raised
        return lift, left


def _source(link: Link) -> str:
    if isinstance(link, Pump) or (isinstance(link, Valve) and link.opening == 0.0):
        return ""
    loss: Loss | None = link.loss
    return loss.source if loss is not None and loss.high > 0.0 else ""
