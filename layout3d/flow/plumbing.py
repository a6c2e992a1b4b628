"""The pipe network of a model as data: nodes and links, what each stands for, and its drip bars.

``flow.laying`` reads it off a model. Only what hangs on a pump is here; a gravity drain is no full pipe, and
an air line carries no water.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from layout3d.band import Band, Setting
from layout3d.flow.bar import Bar
from layout3d.flow.bar_design import bar_outlet
from layout3d.flow.network import Link, Network, Node, Pump, Reservoir

__all__ = ["LaidBar", "Piece", "Plumbing", "on_pumps"]

# at low losses the holes pass most
_HOLES_AT: Mapping[Setting, Setting] = {"low": "high", "likely": "likely", "high": "low"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """What a link stands for: the body in the model, its kind, its run or part, and its bore, [m]."""

    link: str
    body: str
    kind: str
    part: str
    bore: float
    length: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class LaidBar:
    """A drip bar of the model: the node it hangs on, its run and body, and the bar itself, heights as z."""

    node: str
    run: str
    body: str
    bar: Bar


@dataclass(frozen=True, slots=True, kw_only=True)
class Plumbing:
    """The pressure side of a model. ``outlets`` maps node names to where they are in words."""

    nodes: tuple[Node, ...]
    links: tuple[Link, ...]
    pieces: Mapping[str, Piece]
    bars: tuple[LaidBar, ...]
    outlets: Mapping[str, str]
    notes: tuple[str, ...] = ()

    def network(self, setting: Setting) -> Network:
        """Return the network with its bars sampled at one setting of the holes' coefficient.

        At 'low' losses the holes pass most: their coefficient is taken at its high end, and the other way.
        """
        nodes = list(self.nodes)
        for laid in self.bars:
            at = _HOLES_AT[setting]
            fixed = laid.bar.coefficients(at)[0]
            bar = replace(laid.bar, coefficient=Band(low=fixed, likely=fixed, high=fixed))
            top = max(self._highest(), min(bar.heights) + 0.01)  # out of reach it still stands in the network
            nodes.append(bar_outlet(bar, name=laid.node, highest_head=top))
        return Network(nodes=tuple(nodes), links=self.links)

    def _highest(self) -> float:
        levels = {node.name: node.level for node in self.nodes if isinstance(node, Reservoir)}
        lifts = [
            levels[link.start] + link.running_curve.shut_off_head
            for link in self.links
            if isinstance(link, Pump) and link.speed > 0
        ]
        return max([*lifts, *levels.values()]) + 0.01


def on_pumps(nodes: Iterable[Node], links: Sequence[Link]) -> set[str]:
    """Return the names of the links that hang on a running or stopped pump, not through open water."""
    open_water = {node.name for node in nodes if isinstance(node, Reservoir)}
    by_node: dict[str, list[Link]] = {}
    for link in links:
        for end in (link.start, link.end):
            if end not in open_water:
                by_node.setdefault(end, []).append(link)
    todo: list[Link] = [link for link in links if isinstance(link, Pump)]
    kept: set[str] = set()
    while todo:
        link = todo.pop()
        if link.name in kept:
            continue
        kept.add(link.name)
        for end in (link.start, link.end):
            if end not in open_water:
                todo += by_node.get(end, [])
    return kept
