"""Plans a run's route: legs between nodes, with the fitting that each turn asks for. Makes no solids."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from layout3d.errors import SceneMistake
from layout3d.fields_composite import Position
from layout3d.fittings.base import WAYS
from layout3d.fittings.registry import by_word, fitting, fittings
from layout3d.parts.base import Port, Site
from layout3d.parts.run.fields import MOST_FALL, Drip, RunFields
from layout3d.solid.placement import Array
from layout3d.units import show

__all__ = ["ENDS", "Leg", "Node", "Plan", "plan_route", "say_direction"]


ENDS = ("open", *(each.word for each in fittings().values() if each.place == "end"))
"""Words that end a run where it stands."""

_STRAIGHT = 1e-4  # an angle taken as none: a tenth of a millimetre over a metre, [rad]
_SHORTEST = 1e-4  # a leg below this is a slip, [m]
_NEARLY = 0.2  # below this an angle is told in degrees, for in words both ways are the same, [rad]


@dataclass(slots=True)
class Node:
    """A point of the route, with the fitting that sits there.

    ``fitting`` is its kind, '' for none, 'open' at a bare end, 'start' and 'join' at ports. ``size`` is the
    pipe or tube that comes in, ``size_after`` the one that goes on. ``reversed``: the run enters by port 'b'.
    """

    at: Array
    fitting: str = ""
    step: int = 0
    name: str = ""
    opening: float = 1.0
    branch: Array | None = None
    reversed: bool = False
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


def plan_route(run: RunFields, site: Site) -> Plan:
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
    def __init__(self, run: RunFields, site: Site) -> None:
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
        for number, (word, values) in enumerate(self.run.route, start=1):
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
        drip, fall = values.get("drip"), values.get("fall", 0.0)
        if word in WAYS:
            self._leg(_falling(word, fall) * values[word], drip)
        elif word == "by":
            self._leg(np.array(values["by"]), drip)
        elif word == "to":
            self._leg(np.array(self.site.point(values["to"], self.run)) - self.here.at, drip)
        elif word == "until":
            self._until(values["until"], values["reach"], fall, drip)
        elif word == "join":
            self._join(values["join"])
        elif not self.made.legs:
            raise self._mistake(f"{word!r} before any leg", expected="a leg first")
        elif self.here.fitting:
            above = _said(by_word()[word].kind) if word in by_word() else f"{word} end"
            raise self._mistake(
                f"{_one(above)} on top of {_one(_said(self.here.fitting))}",
                expected="a leg between two fittings",
            )
        elif word in ENDS:
            self.here.fitting, self.here.step = word, self.number
            self.made.end = word
            if self.run.tube and word in by_word() and not by_word()[word].in_tube:
                raise self._mistake(
                    f"a {word} on a tube",
                    expected="an open end, a cap, an air stone or `join`; put a strainer or nozzle on pipe",
                )
        else:
            self._fitting(word, values)

    def _until(self, way: str, reach: Position, fall: float, drip: Drip | None) -> None:
        if fall and WAYS[way][2]:
            raise self._mistake(f"a fall of a leg that goes {way}", expected="a fall of a level leg")
        ahead = float(np.dot(np.array(self.site.point(reach, self.run)) - self.here.at, WAYS[way]))
        if ahead < _SHORTEST:
            behind = f"{self.site.length(-ahead)} behind" if ahead < -_SHORTEST else "right here"
            raise self._mistake(
                f"the point lies {behind}, going {way}",
                expected="a point ahead",
                remedy=f"write `until: {say_direction(-np.array(WAYS[way]))}`" if ahead < -_SHORTEST else "",
            )
        self._leg(_falling(way, fall) * ahead * math.hypot(1.0, fall), drip)

    def _fitting(self, word: str, values: dict[str, Any]) -> None:
        here, made = self.here, by_word()[word]
        if self.run.tube and not made.in_tube:
            known = [each.word for each in fittings().values() if each.in_tube and each.place == "inline"]
            raise self._mistake(f"a {made.said} in a tube", expected=f"{' or '.join(known)}; else use pipe")
        here.fitting, here.step = made.kind, self.number
        here.name = self._own_name(values.get("name") or "")
        value = values.get(word)
        if made.value == "opening" and value is not None:
            here.opening = float(value)
        elif made.value == "branch":
            self._branch(here, word, values)
        elif made.value == "pipe" and value is not None:
            here.size_after = self.size = value

    def _branch(self, here: Node, word: str, values: dict[str, Any]) -> None:
        here.name = here.name or self._free_name(word)
        here.branch = np.array(WAYS[values[word]])
        here.reversed = values.get("lean") == "back"
        assert here.incoming is not None, "a leg comes before a branch (_take)"
        # on pipe with a fall, a branch that is called 'up' is square to the pipe, and leans with it
        if abs(_turn(here.branch, here.incoming) - math.pi / 2) > math.atan(MOST_FALL) + _STRAIGHT:
            raise self._mistake(
                f"a {word} whose branch points {values[word]}, on pipe that runs "
                f"{say_direction(here.incoming)}",
                expected="one of the ways square to the pipe",
            )

    def _own_name(self, name: str) -> str:
        if name and (name == "end" or name in self._names()):
            raise self._mistake(
                f"{name!r} is something else in this run already", expected="a name of its own"
            )
        return name

    def _names(self) -> set[str]:
        return {node.name for node in self.made.nodes if node.name}

    def _free_name(self, kind: str) -> str:
        given = {(values or {}).get("name") for _, values in self.run.route} | self._names()
        return next(name for name in (f"{kind}_{n}" for n in range(1, len(given) + 2)) if name not in given)

    # -- legs ---------------------------------------------------------------------------------------

    def _leg(self, move: Array, drip: Drip | None) -> None:
        length = float(np.linalg.norm(move))
        if length < _SHORTEST:
            raise self._mistake(
                "a leg without length", expected=f"a leg of {show(_SHORTEST, 'length')} or more"
            )
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

    def _give(self, node: Node) -> float:
        """Return how far a run may turn at a node because pipe leans in its sockets, [rad]."""
        if node.fitting in ("start", "join"):
            assert node.port is not None, "a start or join has its port (_give)"
            return self.site.catalog.limit("socket_give").value if node.port.end == "socket" else 0.0
        if node.fitting in fittings():
            return 2.0 * self.site.catalog.limit(fitting(node.fitting).give).value
        return 0.0

    def _check_leaving(self, here: Node, direction: Array) -> None:
        """Refuse a leg that can't leave the node it starts at."""
        if here.incoming is None or (self.run.tube and here.fitting in ("", "start")):
            return
        turn, give = _turn(here.incoming, direction), self._give(here)
        if turn < _STRAIGHT + give or here.fitting not in ("start", *fittings()):
            return
        leans = f", or leaning by {math.degrees(give):.2g} degrees at most" if give else ""
        if here.fitting == "start":
            assert here.port is not None, "a start node has its port (_check_leaving)"
            raise self._mistake(
                f"the first leg {_told(direction, here.incoming, here.port.name)}",
                expected=f"a first leg straight {say_direction(here.incoming)}{leans}",
            )
        branched = fitting(here.fitting).value == "branch"
        bent = f"a turn of {math.degrees(turn):.2g} degrees" if turn < _NEARLY else "a turn"
        raise self._mistake(
            f"{bent} to {say_direction(direction)} inside a {_said(here.fitting)}"
            if branched
            else f"{bent} inside a {_said(here.fitting)}",
            expected=f"straight on, {say_direction(here.incoming)}{leans}"
            if branched
            else f"straight on{leans}, or a leg before the turn",
            remedy="let a run of its own start at its port for the other way" if branched else "",
        )

    def _join(self, name: str) -> None:
        port = self.site.port(name, self.run, f"route[{self.number}].join")
        here, toward = self.here, np.array(port.at) - self.here.at
        if np.linalg.norm(toward) < _SHORTEST and self.made.legs:
            # the leg before has come to the port itself
            if here.fitting:
                raise self._mistake(
                    f"a {_said(here.fitting)} in the port {name}", expected="a leg before the port"
                )
        else:
            self._check_joining(here, toward, name)
            self._leg(toward, None)
        way, into = self.made.legs[-1].direction, -np.array(port.direction)
        end = Node(self.here.at, "join", port=port)
        if not self.run.tube and _turn(way, into) > _STRAIGHT + self._give(end):
            raise self._mistake(
                f"the last leg {_told(way, into, name)}",
                expected=f"a last leg straight {say_direction(into)}, into the port",
                remedy="bring the run in line with the port before `join`",
            )
        self.here.fitting, self.here.port, self.here.step = "join", port, self.number
        self.made.end = "join"

    def _check_joining(self, here: Node, toward: Array, name: str) -> None:
        """Refuse a port that doesn't lie straight ahead of a fitting, with how far it lies beside."""
        if self.run.tube or here.incoming is None or here.fitting not in ("start", *fittings()):
            return
        if _turn(toward / np.linalg.norm(toward), here.incoming) < _STRAIGHT + self._give(here):
            return
        ahead = float(np.dot(toward, here.incoming))
        beside = toward - ahead * here.incoming
        parts = [say_direction(here.incoming) if ahead > 0 else "behind"] if abs(ahead) > _SHORTEST else []
        told = " and ".join(
            [
                *(f"{self.site.length(abs(ahead))} {part}" for part in parts),
                *(
                    f"{self.site.length(abs(float(step)))} {say_direction(axis * np.sign(step))}"
                    for axis, step in zip(np.eye(3), beside, strict=True)
                    if abs(float(step)) > _SHORTEST
                ),
            ]
        )
        raise self._mistake(
            f"{name} is not straight ahead: it lies {told} of here",
            expected=f"a port straight {say_direction(here.incoming)} of the {_said(here.fitting)} before it",
            remedy="bring the run in line with the port before `join`",
        )

    def _elbows(self) -> None:
        """Put an elbow at each turn of rigid pipe; refuse turns that no elbow makes."""
        if self.run.tube:
            return
        elbows = [each for each in fittings().values() if each.place == "turn"]
        for index in range(1, len(self.made.legs)):
            node = self.made.nodes[index]
            if node.fitting:
                continue
            before, after = self.made.legs[index - 1], self.made.legs[index]
            turn = _turn(before.direction, after.direction)
            nearest = min(elbows, key=lambda each: abs(each.angle - turn))
            give = 2.0 * self.site.catalog.limit(nearest.give).value
            if abs(turn - nearest.angle) > give + _STRAIGHT:
                raise self._mistake(
                    f"a turn of {math.degrees(turn):.1f} degrees from {say_direction(before.direction)} to "
                    f"{say_direction(after.direction)}",
                    expected=f"a turn of 45 or 90 degrees, as elbows make, give or take "
                    f"{math.degrees(give):.2g} degrees that pipe may lean in their two sockets (limit "
                    f"{nearest.give})",
                    step=after.step,
                )
            node.fitting = nearest.kind


def _falling(way: str, fall: float) -> Array:
    """Return the unit vector of a level way that falls so much over its level length."""
    direction = np.array([*WAYS[way][:2], WAYS[way][2] - fall])
    unit: Array = direction / np.linalg.norm(direction)
    return unit


def _turn(one: Array, other: Array) -> float:
    """Return the angle between two unit vectors, [rad]; exact near none and half a turn alike."""
    return 2.0 * math.atan2(float(np.linalg.norm(one - other)), float(np.linalg.norm(one + other)))


def _told(way: Array, wanted: Array, port: str) -> str:
    """Say how a leg misses the axis of a port."""
    turn = _turn(way, wanted)
    if turn < _NEARLY or say_direction(way) == say_direction(wanted):
        return f"stands at {math.degrees(turn):.2g} degrees to the axis of {port}"
    return f"goes {say_direction(way)}, but {port} wants it to go {say_direction(wanted)}"


def _one(name: str) -> str:
    return f"an {name}" if name[0] in "aeio" else f"a {name}"


def _said(kind: str) -> str:
    return fitting(kind).said if kind in fittings() else {"join": "port"}.get(kind, kind)
