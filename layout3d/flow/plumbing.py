"""The pipe network of a model's pumps, made of its pipework: nodes, links, and what each stands for.

A gravity drain is no full pipe, and an air line carries no water: neither is solved.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from layout3d.fittings.losses import NO_LOSS
from layout3d.flow.bar import Bar
from layout3d.flow.network import (
    DrilledPipe,
    Junction,
    Link,
    Network,
    Node,
    Outlet,
    Pipe,
    Pump,
    Reservoir,
)
from layout3d.flow.pump import Curve
from layout3d.model.model import Model
from layout3d.parts.base import Vector
from layout3d.pipework.graph import Edge, Mouth, Pipework
from layout3d.pipework.read import pipework
from layout3d.pipework.waters import water_at_point
from layout3d.solid.shape import hung_together
from layout3d.water.remembered import kept

__all__ = ["Plumbing", "plumbing"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Plumbing:
    """The pressure side of a model. ``outlets`` maps node names to where they are in words.

    ``refused`` maps an element that no loss is known for to the reason.
    """

    nodes: tuple[Node, ...]
    links: tuple[Link, ...]
    outlets: Mapping[str, str]
    notes: tuple[str, ...] = ()
    refused: Mapping[str, str] = field(default_factory=dict)

    @property
    def network(self) -> Network:
        """Nodes and links alone."""
        return Network(nodes=self.nodes, links=self.links)

    @property
    def pumps(self) -> tuple[Pump, ...]:
        """Its pumps, running or stopped."""
        return tuple(link for link in self.links if isinstance(link, Pump))

    @property
    def drilled(self) -> tuple[DrilledPipe, ...]:
        """Its pipes with holes."""
        return tuple(link for link in self.links if isinstance(link, DrilledPipe))

    def at_speeds(self, speeds: Mapping[str, float]) -> Plumbing:
        """Return the same with some pumps at other speeds, shares of the rated one; 0 stops a pump."""
        return replace(
            self,
            links=tuple(
                replace(link, speed=speeds[link.name])
                if isinstance(link, Pump) and link.name in speeds
                else link
                for link in self.links
            ),
        )

    def at_levels(self, levels: Mapping[str, float]) -> Plumbing:
        """Return the same with some open waters at other levels, by name, z [m]."""
        return replace(
            self,
            nodes=tuple(
                replace(node, level=levels[node.name])
                if isinstance(node, Reservoir) and node.name in levels
                else node
                for node in self.nodes
            ),
        )

    def systems(self) -> tuple[Plumbing, ...]:
        """Part it into what hangs on one pump or more without passing through open water."""
        open_water = {node.name for node in self.nodes if isinstance(node, Reservoir)}
        place = {node.name: number for number, node in enumerate(self.nodes, start=len(self.links))}
        pairs = [
            (number, place[end])
            for number, link in enumerate(self.links)
            for end in (link.start, link.end)
            if end is not None and end not in open_water
        ]
        count = len(self.links) + len(self.nodes)
        a, b = np.array(pairs, dtype=np.intp).reshape(-1, 2).T
        label = hung_together(count, np.concatenate([a, b]), np.concatenate([b, a]))
        by_group: dict[int, list[Link]] = {}
        for link, group in zip(self.links, label.tolist(), strict=False):
            by_group.setdefault(group, []).append(link)
        return tuple(
            self._only(tuple(links))
            for links in by_group.values()
            if any(isinstance(link, Pump) for link in links)
        )

    def _only(self, links: tuple[Link, ...]) -> Plumbing:
        names = {end for link in links for end in (link.start, link.end)}
        return replace(
            self,
            nodes=tuple(node for node in self.nodes if node.name in names),
            links=links,
            outlets={name: text for name, text in self.outlets.items() if name in names},
            refused={link.name: self.refused[link.name] for link in links if link.name in self.refused},
        )


@kept
def plumbing(model: Model) -> Plumbing:
    """Return the network of all pipework of a model; its ``systems`` are what pumps drive."""
    found = pipework(model)
    nodes: dict[str, Node] = {
        name: Junction(name=name, elevation=height) for name, height in found.heights.items()
    }
    links: list[Link] = []
    outlets: dict[str, str] = {}
    for pump, name, level in _standing(model, found):
        nodes[name] = Reservoir(name=name, level=level)
        links.append(pump)
    links += [_link(model, found, edge) for edge in found.edges]
    for mouth in found.mouths:
        if mouth.kind != "holes":
            outlet = _outlet(model, mouth)
            nodes[outlet.name] = outlet
            outlets[outlet.name] = (
                f"nozzle of {mouth.part}" if mouth.kind == "nozzle" else mouth.words.removeprefix("the ")
            )
            links.append(
                Pipe(
                    name=f"{mouth.node}.mouth",
                    start=mouth.node,
                    end=outlet.name,
                    length=0.0,
                    bore=mouth.bore,
                    body=mouth.body,
                    kind="mouth",
                    part=mouth.part,
                )
            )
    return Plumbing(
        nodes=tuple(nodes.values()),
        links=tuple(links),
        outlets=outlets,
        notes=found.notes,
        refused={edge.name: f"{edge.part}: {edge.no_loss}" for edge in found.edges if edge.no_loss},
    )


def _standing(model: Model, found: Pipework) -> Iterator[tuple[Pump, str, float]]:
    """Return the water pumps that stand in water, with its name and level."""
    for port in found.water_pumps:
        water = water_at_point(model, port.inlet)
        if water is None:
            continue
        built = next(one for one in model.pumps if one.part.name == port.name)
        entry = model.scene.catalog.pump(built.part.model)
        curve = Curve(
            flows=tuple(flow for flow, _ in entry.points),
            heads=tuple(head for _, head in entry.points),
            name=entry.name,
            tolerance=entry.tolerance,
        )
        pump = Pump(
            name=port.name,
            start=water[0],
            end=port.node,
            curve=curve,
            speed=built.part.speed,
            bore=built.ports[0].bore,
            body=built.bodies[0].name,
            kind="pump",
            part=port.name,
        )
        yield pump, *water


def _link(model: Model, found: Pipework, edge: Edge) -> Link:
    own = {name: getattr(edge, name) for name in ("name", "start", "body", "kind", "part")}
    loss = edge.loss if edge.loss and not edge.closed else NO_LOSS
    if not edge.holes:
        return Pipe(
            **own,
            end=edge.end,
            length=edge.length,
            bore=edge.bore,
            loss=loss,
            loss_back=None if edge.one_way else edge.loss_back,
            one_way=edge.one_way,
            shut=edge.closed,
        )
    bar = Bar(
        positions=tuple(hole.along for hole in edge.holes),
        diameters=tuple(hole.diameter for hole in edge.holes),
        heights=tuple(_level_at(model, hole.at) for hole in edge.holes),
        length=edge.length,
        bore=edge.bore,
        wall=edge.holes[0].wall,
    )
    beyond = set(found.reached(edge.end, through=lambda one: one is not edge))
    ends = [mouth.node for mouth in found.mouths if mouth.kind != "holes" or mouth.body != edge.body]
    dead = beyond.isdisjoint([*ends, *(pump.node for pump in found.pumps)])
    end = None if dead and edge.start not in beyond else edge.end
    return DrilledPipe(**own, end=end, bar=bar, loss=loss)


def _outlet(model: Model, mouth: Mouth) -> Outlet:
    water = water_at_point(model, mouth.at)
    level = water[1] if water and mouth.at[2] < water[1] else None
    return Outlet(
        name=f"{mouth.node}.out",
        elevation=mouth.at[2],
        bore=mouth.bore,
        level=level,
        loss=mouth.exit_loss,
        entry=mouth.entry_loss,
    )


def _level_at(model: Model, point: Vector) -> float:
    """Return the level a hole works against: its own height, or the water it lies under."""
    found = water_at_point(model, point)
    return max(point[2], found[1]) if found else point[2]
