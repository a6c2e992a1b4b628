"""Plans a run's route: legs between nodes, with the fitting that each turn asks for. Makes no solids."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from layout3d.errors import Place, SceneMistake
from layout3d.fields_composite import Position
from layout3d.parts.base import Port, Site, Vector, vector

if TYPE_CHECKING:
    from layout3d.parts.run import Drip, Run

__all__ = ["Leg", "Node", "Plan", "plan_route"]

Array = NDArray[np.float64]

_STRAIGHT = 1e-6  # sine of an angle taken as none; a thousandth of a millimetre over a metre
_ENDS = ("cap", "strainer", "nozzle", "open", "join")
_INLINE = ("union", "coupling", "ball_valve", "check_valve", "reduce")


@dataclass(slots=True)
class Node:
    """A point of the route, with the fitting that sits there ('' for none, 'start' and 'join' for ports)."""

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
    """A straight leg between two nodes, in this direction."""

    direction: Array
    length: float
    step: int
    drip: Drip | None = None
    size: str = ""


@dataclass(slots=True)
class Plan:
    """A route: ``legs[i]`` runs from ``nodes[i]`` to ``nodes[i + 1]``."""

    nodes: list[Node] = field(default_factory=list)
    legs: list[Leg] = field(default_factory=list)
    end: str = "open"


def plan_route(run: Run, site: Site) -> Plan:
    """Plan the route of a run.

    Raises
    ------
    SceneMistake : a turn that no fitting makes, a step after the end, a leg that does not leave its port.
    """
    return _Planner(run, site).plan()


class _Planner:
    def __init__(self, run: Run, site: Site) -> None:
        self.run, self.site = run, site
        self.plan_made = Plan()
        self.size = run.pipe or run.tube
        self.ended = False
        self.tees = 0

    def plan(self) -> Plan:
        self._start()
        for number, (word, values, place) in enumerate(self.run.route, start=1):
            if self.ended:
                raise self._mistake(
                    number, place, f"step {word!r} after the end", expected="nothing after an end"
                )
            self._take(number, word, values or {}, place)
        if not self.plan_made.legs:
            raise self.run.mistake("route", "no leg", expected="at least one leg of pipe or tube")
        self._elbows()
        return self.plan_made

    def _mistake(
        self, number: int, place: Place, found: str, *, expected: str, remedy: str = ""
    ) -> SceneMistake:
        return SceneMistake(
            found,
            expected=expected,
            remedy=remedy,
            path=f"parts.{self.run.name}.route[{number}]",
            place=place,
        )

    def _start(self) -> None:
        start = self.run.start
        if isinstance(start, Position):
            node = Node(np.array(self.site.point(start, self.run)), "open", size=self.size)
        else:
            port = self.site.port(start, self.run)
            node = Node(
                np.array(port.at), "start", size=self.size, port=port, incoming=np.array(port.direction)
            )
        self.plan_made.nodes.append(node)

    def _take(self, number: int, word: str, values: dict[str, Any], place: Place) -> None:
        from layout3d.parts.run import DIRECTIONS

        here = self.plan_made.nodes[-1]
        if word in DIRECTIONS:
            self._leg(number, place, np.array(DIRECTIONS[word]) * values[word], values["drip"])
        elif word == "by":
            self._leg(number, place, np.array(values["by"]), values["drip"])
        elif word == "to":
            target = np.array(self.site.point(values["to"], self.run))
            self._leg(number, place, target - here.at, values["drip"])
        elif word == "until":
            direction = np.array(DIRECTIONS[values["until"]])
            target = np.array(self.site.point(values["reach"], self.run))
            reach = float(np.dot(target - here.at, direction))
            if reach <= 0:
                raise self._mistake(
                    number,
                    place,
                    f"the point lies {-reach * 1000:.1f} mm behind, going {values['until']}",
                    expected="a point ahead",
                )
            self._leg(number, place, direction * reach, values["drip"])
        elif word == "join":
            self._join(number, place, values["join"])
        elif not self.plan_made.legs:
            raise self._mistake(number, place, f"{word!r} before any leg", expected="a leg first")
        elif word in ("cap", "strainer", "nozzle", "open"):
            here.fitting, here.step = word, number
            self.plan_made.end, self.ended = word, True
        elif here.fitting:
            raise self._mistake(
                number, place, f"a {word} on top of a {here.fitting}", expected="a leg between two fittings"
            )
        else:
            self._fitting(number, word, values, place)

    def _fitting(self, number: int, word: str, values: dict[str, Any], place: Place) -> None:
        from layout3d.parts.run import DIRECTIONS

        here = self.plan_made.nodes[-1]
        if self.run.tube and word not in ("ball_valve", "check_valve"):
            raise self._mistake(
                number, place, f"a {word} in a tube", expected="ball_valve or check_valve; else use pipe"
            )
        here.fitting, here.step = word, number
        here.name = values.get("name") or ""
        if word == "ball_valve":
            here.opening = float(values.get("ball_valve", 1.0))
        elif word == "tee":
            self.tees += 1
            here.name = here.name or f"tee_{self.tees}"
            here.branch = np.array(DIRECTIONS[values["tee"]])
        elif word == "reduce":
            here.size_after = values["reduce"]
            self.size = here.size_after

    def _leg(self, number: int, place: Place, move: Array, drip: Drip | None) -> None:
        length = float(np.linalg.norm(move))
        if length < 1e-4:
            raise self._mistake(number, place, "a leg without length", expected="a leg of 0.1 mm or more")
        if drip is not None and self.run.tube:
            raise self._mistake(number, place, "drip holes in a tube", expected="drip holes in rigid pipe")
        direction = move / length
        here = self.plan_made.nodes[-1]
        self._check_leaving(number, place, here, direction)
        same = here.incoming is not None and float(np.dot(here.incoming, direction)) > 1 - _STRAIGHT
        if same and not here.fitting and self.plan_made.legs[-1].drip is drip:
            self.plan_made.legs[-1].length += length  # straight on: one piece of pipe
            here.at = here.at + move
            return
        if same and not here.fitting and not self.run.tube:
            raise self._mistake(
                number,
                place,
                "drip holes begin in the middle of a straight pipe",
                expected="one leg with its holes, or a coupling between",
                remedy="use the drip's margin to keep holes away from one end",
            )
        here.outgoing = direction
        self.plan_made.legs.append(Leg(direction, length, number, drip, self.size))
        self.plan_made.nodes.append(Node(here.at + move, size=self.size, incoming=direction, step=number))

    def _check_leaving(self, number: int, place: Place, here: Node, direction: Array) -> None:
        """Refuse a leg that can't leave the node it starts at."""
        if here.incoming is None or (self.run.tube and here.fitting in ("", "start")):
            return
        cosine = float(np.dot(here.incoming, direction))
        if here.fitting == "start" and cosine < 1 - _STRAIGHT:
            assert here.port is not None, "a start node has its port (_check_leaving)"
            raise self._mistake(
                number,
                place,
                f"the first leg goes {_say(direction)}, but {here.port.name} faces {_say(here.incoming)}",
                expected=f"a first leg {_say(here.incoming)}",
            )
        if here.fitting in _INLINE and cosine < 1 - _STRAIGHT:
            raise self._mistake(
                number,
                place,
                f"a turn inside a {here.fitting}",
                expected="straight on, or a leg before the turn",
            )
        if here.fitting == "tee" and here.branch is not None:
            across = abs(float(np.dot(here.branch, here.incoming))) < _STRAIGHT
            if not across or not cosine > 1 - _STRAIGHT:
                raise self._mistake(
                    number,
                    place,
                    f"a tee whose branch points {_say(here.branch)}, going on {_say(direction)}",
                    expected="straight on through the tee, its branch square to it",
                    remedy="let a run of its own start at the tee's port for the other way",
                )

    def _join(self, number: int, place: Place, name: str) -> None:
        port = self.site.port(name, self.run)
        here = self.plan_made.nodes[-1]
        self._leg(number, place, np.array(port.at) - here.at, None)
        node = self.plan_made.nodes[-1]
        facing = float(np.dot(self.plan_made.legs[-1].direction, port.direction))
        if facing > -1 + _STRAIGHT and not self.run.tube:
            raise self._mistake(
                number,
                place,
                f"the last leg goes {_say(self.plan_made.legs[-1].direction)}, but {name} faces "
                f"{_say(np.array(port.direction))}",
                expected="a last leg straight into the port",
                remedy="bring the run in line with the port before `join`",
            )
        node.fitting, node.port = "join", port
        self.plan_made.end, self.ended = "join", True

    def _elbows(self) -> None:
        """Put an elbow at each turn of rigid pipe; refuse turns that no elbow makes."""
        if self.run.tube:
            return
        for index in range(1, len(self.plan_made.legs)):
            node = self.plan_made.nodes[index]
            if node.fitting:
                continue
            before, after = self.plan_made.legs[index - 1], self.plan_made.legs[index]
            cosine = float(np.clip(np.dot(before.direction, after.direction), -1, 1))
            degrees = math.degrees(math.acos(cosine))
            if abs(degrees - 90) < 0.01:
                node.fitting = "elbow_90"
            elif abs(degrees - 45) < 0.01:
                node.fitting = "elbow_45"
            else:
                _, _, place = self.run.route[after.step - 1]
                raise self._mistake(
                    after.step,
                    place,
                    f"a turn of {degrees:.1f} degrees from {_say(before.direction)} to {_say(after.direction)}",
                    expected="a turn of 45 or 90 degrees, as elbows make",
                )


def _say(direction: Array) -> str:
    """Return a direction in words: 'up', 'right', or 'right and up'."""
    words = (("left", "right"), ("front", "back"), ("down", "up"))
    named = [
        pair[int(value > 0)] for value, pair in zip(direction, words, strict=True) if abs(float(value)) > 0.05
    ]
    return " and ".join(named)


def along(points: list[Vector]) -> Array:
    """Return the distance of each point along a polyline, (k,), [m]."""
    steps = np.linalg.norm(np.diff(np.array(points), axis=0), axis=1)
    return np.concatenate([[0.0], np.cumsum(steps)])


def as_vectors(points: Array) -> tuple[Vector, ...]:
    """Return (k, 3) points as plain tuples."""
    return tuple(vector(point) for point in points)
