"""A pipe network as plain data: nodes with heights, links with losses. Solved by ``flow.solve``.

Left out: velocity head at junctions (along drilled pipe it is in), air, filling and emptying.
All heights and levels are z in one frame, [m].
"""

from __future__ import annotations

from dataclasses import dataclass

from layout3d.errors import NetworkMistake, OutOfRange
from layout3d.fittings.losses import NO_LOSS, Loss
from layout3d.flow.bar import Bar
from layout3d.flow.pipe import DEFAULT_ROUGHNESS
from layout3d.flow.pump import Curve
from layout3d.guards import above_zero, finite, not_negative, within

__all__ = [
    "PUSHED_BACK",
    "DrilledPipe",
    "Junction",
    "Link",
    "Network",
    "Node",
    "Outlet",
    "Pipe",
    "Pump",
    "Reservoir",
]

PUSHED_BACK = "its rotor taken to hold its shut-off head, the rest lost as in a stopped pump"
EXIT = Loss.exact(1.0, "exit: the whole velocity head is lost, Borda-Carnot")
STOPPED = Loss(
    low=3.0,
    likely=8.0,
    high=20.0,
    note="a stopped pump is an open pipe with a rotor in it: common practice",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Junction:
    """A point where pipes meet, or a cap: no water leaves here."""

    name: str
    elevation: float

    def __post_init__(self) -> None:
        finite(self.elevation, f"elevation of {self.name}", "m")


@dataclass(frozen=True, slots=True, kw_only=True)
class Reservoir:
    """Open water with a level that the flow does not change: the display, a sump chamber."""

    name: str
    level: float

    def __post_init__(self) -> None:
        finite(self.level, f"level of {self.name}", "m")


@dataclass(frozen=True, slots=True, kw_only=True)
class Outlet:
    """The open end of a pipe; its exit loss is in here, so do not add it to the pipe.

    ``elevation`` of the centre of the mouth and its ``bore``, [m]; ``level`` of the water it ends under,
    [m], or None into air. ``loss`` on the velocity in ``bore``; the default is one velocity head. Into air
    water only leaves; under water it may run backward, with ``entry`` if given.
    """

    name: str
    elevation: float
    bore: float
    level: float | None = None
    loss: Loss = EXIT
    entry: Loss | None = None

    def __post_init__(self) -> None:
        finite(self.elevation, f"elevation of {self.name}", "m")
        above_zero(self.bore, f"bore of {self.name}", "m")
        if self.level is not None:
            finite(self.level, f"level of {self.name}", "m")
        if not self.loss.low > 0.0:
            raise OutOfRange(f"the exit loss of {self.name} must be above 0", remedy="an open end loses 1.0")

    @property
    def back_head(self) -> float:
        """Head it flows out against, [m]: its own height, or the water over it."""
        return self.elevation if self.level is None else max(self.elevation, self.level)


Node = Junction | Reservoir | Outlet


@dataclass(frozen=True, slots=True, kw_only=True)
class Element:
    """What is between two nodes, from ``start`` on; and what it is in a model, '' in none.

    ``body`` is its body there, ``kind`` the sort of that, ``part`` the run or other part that it belongs to.
    """

    name: str
    start: str
    body: str = ""
    kind: str = ""
    part: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Pipe(Element):
    """A full pipe from ``start`` to ``end``; ``loss`` is the sum of its fittings, on its own bore.

    ``loss_back`` is that of water running from end to start, ``loss`` where None. ``one_way`` lets water pass
    from start to end only, as a check valve does; ``shut`` none, as a closed valve.
    """

    end: str
    length: float
    bore: float
    roughness: float = DEFAULT_ROUGHNESS
    loss: Loss = NO_LOSS
    loss_back: Loss | None = None
    one_way: bool = False
    shut: bool = False

    def __post_init__(self) -> None:
        not_negative(self.length, f"length of {self.name}", "m")
        above_zero(self.bore, f"bore of {self.name}", "m")
        not_negative(self.roughness, f"roughness of {self.name}", "m")
        within(self.roughness / self.bore, 0.0, 0.05, f"relative roughness of {self.name}", "of the bore")


@dataclass(frozen=True, slots=True, kw_only=True)
class DrilledPipe(Element):
    """A drilled pipe from ``start`` to ``end``, or capped where ``end`` is None; holes at z of the network.

    Water may come from either end, or run through. Behind each hole pressure recovers, see
    :func:`layout3d.flow.solve.solve`. ``loss`` is that of its bends, before the first hole.
    """

    bar: Bar
    end: str | None = None
    loss: Loss = NO_LOSS

    @property
    def bore(self) -> float:
        """Bore of the pipe, [m]."""
        return self.bar.bore

    @property
    def length(self) -> float:
        """Length of the pipe, [m]."""
        return self.bar.length


@dataclass(frozen=True, slots=True, kw_only=True)
class Pump(Element):
    """A pump from ``start`` to ``end`` at ``speed``, a share of its rated speed; 0 is stopped.

    Water passes a stopped pump either way with a ``STOPPED`` loss on its ``bore`` [m]; None lets none pass.
    More than the shut-off head pushes water back through a running one: it is taken to hold that head still,
    and the rest to be lost in the same passage. Common practice, no source.
    """

    end: str
    curve: Curve
    speed: float = 1.0
    bore: float | None = None

    def __post_init__(self) -> None:
        not_negative(self.speed, f"speed of {self.name}", "of the rated speed")
        if self.bore is not None:
            above_zero(self.bore, f"bore of {self.name}", "m")

    @property
    def running_curve(self) -> Curve:
        """The curve at the set speed; asked of a running pump only."""
        return self.curve.at_speed(self.speed)


Link = Pipe | DrilledPipe | Pump


@dataclass(frozen=True, slots=True, kw_only=True)
class Network:
    """Nodes and links with names of their own; what hangs together is checked on making it.

    Raises
    ------
    NetworkMistake : all that is wrong, in one message: a name used twice, a link to a node that is not
        there, a link from a node to itself, no link at all.
    """

    nodes: tuple[Node, ...]
    links: tuple[Link, ...]

    def __post_init__(self) -> None:
        object.__setattr__(self, "nodes", tuple(self.nodes))
        object.__setattr__(self, "links", tuple(self.links))
        wrong = [
            *_twice("node", [node.name for node in self.nodes]),
            *_twice("link", [link.name for link in self.links]),
        ]
        names = {node.name for node in self.nodes}
        for link in self.links:
            for end in (link.start, link.end):
                if end is not None and end not in names:
                    wrong.append(f"link {link.name} goes to node {end!r}, which is not there")
            if link.start == link.end:
                wrong.append(f"link {link.name} goes from node {link.start!r} to itself")
        if not self.links:
            wrong.append("the network has no link")
        if wrong:
            raise NetworkMistake("; ".join(wrong), expected="nodes and links that hang together")


def _twice(what: str, names: list[str]) -> list[str]:
    return [f"{what} name {name!r} is used twice" for name in dict.fromkeys(names) if names.count(name) > 1]
