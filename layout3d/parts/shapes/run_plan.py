"""Plans a run's route: legs between nodes, with the fitting that each turn asks for. Makes no solids."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from layout3d.errors import SceneMistake
from layout3d.fields_composite import Position
from layout3d.parts.base import Port, Site

if TYPE_CHECKING:
    from layout3d.parts.run import Drip, Run

__all__ = ["ENDS", "Leg", "Node", "Plan", "plan_route", "say_direction"]

Array = NDArray[np.float64]

ENDS = ("cap", "strainer", "nozzle", "open")
"""Words that end a run where it stands."""

_STRAIGHT = 1e-4  # an angle taken as none: a tenth of a millimetre over a metre, [rad]
_SHORTEST = 1e-4  # a leg below this is a slip, [m]
_INLINE = ("union", "coupling", "ball_valve", "check_valve", "reduce", "tee")
_IN_TUBE = ("ball_valve", "check_valve")
_ELBOW_SLACK = 0.01  # how far a turn may be from what an elbow makes, [degrees]
_NEARLY = 0.2  # below this an angle is told in degrees, for in words both ways are the same, [rad]


@dataclass(slots=True)
class Node:
    """A point of the route, with the fitting that sits there.

    ``fitting`` is '' for none, 'start' and 'join' at ports. ``size`` is the pipe or tube that comes in,
    ``size_after`` the one that goes on behind a reduction.
    """

    at: Array
    fitting: str = ""
    step: int = 0
    name: str = ""
    opening: float = 1.0
    branch: Array | None = None
    port: Port | None = None
    size: str = ""
    size_after: str = ""
    incoming: Array | None = None
    outgoing: Array | None = None


@dataclass(slots=True)
class Leg:
    """A straight leg between two nodes. ``drips`` are (from, to, drip): where along it holes go, [m]."""

    direction: Array
    length: float
    step: int
    size: str
    drips: list[tuple[float, float, Drip]] = field(default_factory=list)


@dataclass(slots=True)
class Plan:
    """A route: ``legs[i]`` runs from ``nodes[i]`` to ``nodes[i + 1]``; ``end`` is of ``ENDS``, or 'join'."""

    nodes: list[Node] = field(default_factory=list)
    legs: list[Leg] = field(default_factory=list)
    end: str = "open"


def plan_route(run: Run, site: Site) -> Plan:
    """Plan the route of a run.

    Raises
    ------
    SceneMistake : at its step: a turn that no fitting makes, a step after the end, a leg that does not leave
        its port, a name that stands twice.
    """
    return _Planner(run, site).plan()


def say_direction(direction: Array) -> str:
    """Return a direction in words: 'up', 'right', or 'right and up'."""
    words = (("left", "right"), ("front", "back"), ("down", "up"))
    named = [
        pair[int(value > 0)] for value, pair in zip(direction, words, strict=True) if abs(float(value)) > 0.05
    ]
    return " and ".join(named)


class _Planner:
    def __init__(self, run: Run, site: Site) -> None:
        self.run, self.site = run, site
        self.made = Plan()
        self.size = run.pipe or run.tube
        self.number = 0
        """The step that is planned, from 1."""

    @property
    def here(self) -> Node:
        return self.made.nodes[-1]

    def plan(self) -> Plan:
        self._start()
        ended = False
        for number, (word, values, _) in enumerate(self.run.route, start=1):
            self.number = number
            if ended:
                raise self._mistake(f"step {word!r} after the end", expected="nothing after an end")
            self._take(word, values or {})
            ended = word in ENDS or word == "join"
        if not self.made.legs:
            raise self.run.mistake("route", "no leg", expected="at least one leg of pipe or tube")
        self._elbows()
        return self.made

    def _mistake(self, found: str, *, expected: str, remedy: str = "", step: int = 0) -> SceneMistake:
        where = f"route[{step or self.number}]"
        return self.run.mistake(where, found, expected=expected, remedy=remedy)

    def _start(self) -> None:
        start = self.run.start
        if isinstance(start, Position):
            node = Node(np.array(self.site.point(start, self.run)), "open", size=self.size)
        else:
            port = self.site.port(start, self.run, "start")
            out = np.array(port.direction)
            node = Node(np.array(port.at), "start", size=self.size, port=port, incoming=out)
        self.made.nodes.append(node)

    # -- steps --------------------------------------------------------------------------------------

    def _take(self, word: str, values: dict[str, Any]) -> None:
        from layout3d.parts.run import DIRECTIONS

        drip = values.get("drip")
        if word in DIRECTIONS:
            self._leg(np.array(DIRECTIONS[word]) * values[word], drip)
        elif word == "by":
            self._leg(np.array(values["by"]), drip)
        elif word == "to":
            self._leg(np.array(self.site.point(values["to"], self.run)) - self.here.at, drip)
        elif word == "until":
            self._until(values["until"], values["reach"], drip)
        elif word == "join":
            self._join(values["join"])
        elif not self.made.legs:
            raise self._mistake(f"{word!r} before any leg", expected="a leg first")
        elif self.here.fitting:
            raise self._mistake(
                f"a {_said(word)} on top of a {_said(self.here.fitting)}",
                expected="a leg between two fittings",
            )
        elif word in ENDS:
            self.here.fitting, self.here.step = word, self.number
            self.made.end = word
            if self.run.tube and word in ("strainer", "nozzle"):
                raise self._mistake(
                    f"a {word} on a tube",
                    expected="an open end, a cap or `join`; put a strainer or nozzle on pipe",
                )
        else:
            self._fitting(word, values)

    def _until(self, way: str, reach: Position, drip: Drip | None) -> None:
        from layout3d.parts.run import DIRECTIONS

        direction = np.array(DIRECTIONS[way])
        ahead = float(np.dot(np.array(self.site.point(reach, self.run)) - self.here.at, direction))
        if ahead < _SHORTEST:
            behind = f"{self.site.length(-ahead)} behind" if ahead < -_SHORTEST else "right here"
            raise self._mistake(f"the point lies {behind}, going {way}", expected="a point ahead")
        self._leg(direction * ahead, drip)

    def _fitting(self, word: str, values: dict[str, Any]) -> None:
        from layout3d.parts.run import DIRECTIONS

        here = self.here
        if self.run.tube and word not in _IN_TUBE:
            raise self._mistake(
                f"a {_said(word)} in a tube", expected="ball_valve or check_valve; else use pipe"
            )
        here.fitting, here.step = word, self.number
        here.name = self._own_name(values.get("name") or "")
        if word == "ball_valve":
            here.opening = float(values.get("ball_valve", 1.0))
        elif word == "tee":
            here.name = here.name or self._free_name("tee")
            here.branch = np.array(DIRECTIONS[values["tee"]])
            assert here.incoming is not None, "a leg comes before a tee (_take)"
            if abs(_turn(here.branch, here.incoming) - math.pi / 2) > _STRAIGHT:
                raise self._mistake(
                    f"a tee whose branch points {values['tee']}, on pipe that runs "
                    f"{say_direction(here.incoming)}",
                    expected="a branch square to the pipe",
                )
        elif word == "reduce":
            here.size_after = self.size = values["reduce"]

    def _own_name(self, name: str) -> str:
        if name and (name == "end" or name in self._names()):
            raise self._mistake(
                f"{name!r} is something else in this run already", expected="a name of its own"
            )
        return name

    def _names(self) -> set[str]:
        return {node.name for node in self.made.nodes if node.name}

    def _free_name(self, kind: str) -> str:
        given = {(values or {}).get("name") for _, values, _ in self.run.route} | self._names()
        return next(name for name in (f"{kind}_{n}" for n in range(1, len(given) + 2)) if name not in given)

    # -- legs ---------------------------------------------------------------------------------------

    def _leg(self, move: Array, drip: Drip | None) -> None:
        length = float(np.linalg.norm(move))
        if length < _SHORTEST:
            raise self._mistake("a leg without length", expected="a leg of 0.1 mm or more")
        if drip is not None and self.run.tube:
            raise self._mistake("drip holes in a tube", expected="drip holes in rigid pipe")
        direction, here = move / length, self.here
        self._check_leaving(here, direction)
        straight = here.incoming is not None and _turn(here.incoming, direction) < _STRAIGHT
        if straight and not here.fitting:
            leg = self.made.legs[-1]  # straight on: one piece of pipe
            here.at = here.at + move
            whole = here.at - self.made.nodes[-2].at
            leg.direction = here.incoming = whole / np.linalg.norm(whole)
        else:
            here.outgoing = direction
            leg = Leg(direction, 0.0, self.number, self.size)
            self.made.legs.append(leg)
            node = Node(here.at + move, size=self.size, incoming=direction, step=self.number)
            self.made.nodes.append(node)
        if drip is not None:
            leg.drips.append((leg.length, leg.length + length, drip))
        leg.length += length

    def _check_leaving(self, here: Node, direction: Array) -> None:
        """Refuse a leg that can't leave the node it starts at."""
        if here.incoming is None or (self.run.tube and here.fitting in ("", "start")):
            return
        if _turn(here.incoming, direction) < _STRAIGHT:
            return
        if here.fitting == "start":
            assert here.port is not None, "a start node has its port (_check_leaving)"
            raise self._mistake(
                f"the first leg {_told(direction, here.incoming, here.port.name)}",
                expected=f"a first leg straight {say_direction(here.incoming)}",
            )
        if here.fitting == "tee":
            raise self._mistake(
                f"a turn to {say_direction(direction)} inside a tee",
                expected=f"straight on, {say_direction(here.incoming)}",
                remedy="let a run of its own start at the tee's port for the other way",
            )
        if here.fitting in _INLINE:
            raise self._mistake(
                f"a turn inside a {_said(here.fitting)}", expected="straight on, or a leg before the turn"
            )

    def _join(self, name: str) -> None:
        port = self.site.port(name, self.run, f"route[{self.number}].join")
        if np.linalg.norm(np.array(port.at) - self.here.at) < _SHORTEST and self.made.legs:
            # the leg before has come to the port itself
            if self.here.fitting:
                raise self._mistake(
                    f"a {_said(self.here.fitting)} in the port {name}", expected="a leg before the port"
                )
        else:
            self._leg(np.array(port.at) - self.here.at, None)
        way, into = self.made.legs[-1].direction, -np.array(port.direction)
        if not self.run.tube and _turn(way, into) > _STRAIGHT:
            raise self._mistake(
                f"the last leg {_told(way, into, name)}",
                expected=f"a last leg straight {say_direction(into)}, into the port",
                remedy="bring the run in line with the port before `join`",
            )
        self.here.fitting, self.here.port, self.here.step = "join", port, self.number
        self.made.end = "join"

    def _elbows(self) -> None:
        """Put an elbow at each turn of rigid pipe; refuse turns that no elbow makes."""
        if self.run.tube:
            return
        for index in range(1, len(self.made.legs)):
            node = self.made.nodes[index]
            if node.fitting:
                continue
            before, after = self.made.legs[index - 1], self.made.legs[index]
            degrees = math.degrees(_turn(before.direction, after.direction))
            if abs(degrees - 90) < _ELBOW_SLACK:
                node.fitting = "elbow_90"
            elif abs(degrees - 45) < _ELBOW_SLACK:
                node.fitting = "elbow_45"
            else:
                raise self._mistake(
                    f"a turn of {degrees:.1f} degrees from {say_direction(before.direction)} to "
                    f"{say_direction(after.direction)}",
                    expected="a turn of 45 or 90 degrees, as elbows make",
                    step=after.step,
                )


def _turn(one: Array, other: Array) -> float:
    """Return the angle between two unit vectors, [rad]; exact near none and half a turn alike."""
    return 2.0 * math.atan2(float(np.linalg.norm(one - other)), float(np.linalg.norm(one + other)))


def _told(way: Array, wanted: Array, port: str) -> str:
    """Say how a leg misses the axis of a port."""
    turn = _turn(way, wanted)
    if turn < _NEARLY:
        return f"stands at {math.degrees(turn):.2g} degrees to the axis of {port}"
    return f"goes {say_direction(way)}, but {port} wants it to go {say_direction(wanted)}"


def _said(fitting: str) -> str:
    return {"reduce": "reduction", "join": "port"}.get(fitting, fitting.replace("_", " "))
