"""How each piece of rock and wood gets into the tank, past glass, background, pipe and what lies below it.

Pieces are taken out of the finished tank, in thought, as long as one of them has a way (``shop.passage``);
what is put in after them, equipment and plants, bars none. Sand gives way.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np

from layout3d.model.model import Model
from layout3d.parts.base import Body, vector
from layout3d.shop.opening import openings, passes_upright
from layout3d.shop.passage import Passage, Way
from layout3d.shop.pulls import WORDS
from layout3d.shop.task import SOFT
from layout3d.solid.placement import Placement
from layout3d.solid.primitives import box
from layout3d.units import show
from layout3d.water.remembered import kept

__all__ = ["HardscapeWays", "WayIn", "pieces", "slabs_barred", "way_words", "ways_in"]

HARDSCAPE = ("rock", "wood")
LATER = ("equipment", "plant")
"""Groups that are put in after rock and wood."""
SHORT = 0.0015  # that a slab is cut shorter all round than its place, [m]
TOLD = 0.01  # what a way goes less than this in a direction is not told, [m]


@dataclass(frozen=True, slots=True, kw_only=True)
class WayIn:
    """How a body of rock or wood gets in: ``way``, None where none was found among ``tried``."""

    body: str
    way: Way | None
    tried: int


class HardscapeWays:
    """Ways for the pieces of a scene, worked out as they are asked for."""

    def __init__(self, model: Model) -> None:
        self._rim = model.tank.rim
        self._bodies = [body for body in model.bodies if body.kind not in SOFT and self._may_bar(body)]
        self._solids = [body.solid for body in self._bodies]
        self._number = {body.name: number for number, body in enumerate(self._bodies)}
        self.openings = openings(model)
        self._passages: dict[str, Passage] = {}

    def _may_bar(self, body: Body) -> bool:
        return body.where == "tank" or float(body.solid.bounds[1, 2]) > self._rim

    def way(self, name: str, present: Iterable[str], *, turned: bool = True) -> Way | None:
        """Return a way out for a body past others; a straight one, if asked for."""
        return self.past(name, self.numbers(present), turned=turned)

    def past(self, name: str, others: frozenset[int], *, turned: bool) -> Way | None:
        """Return what ``way`` does, past others by their numbers."""
        passage = self.passage(name)
        return passage.straight(others) or (passage.turned(others) if turned else None)

    def bars(self, name: str, others: Iterable[str]) -> bool:
        """Tell whether one of the others bars the way of a body that was returned last."""
        return self.passage(name).bars(self.numbers(others))

    def numbers(self, names: Iterable[str]) -> frozenset[int]:
        """Return the numbers of bodies that may bar a way."""
        return frozenset(self._number[name] for name in names if name in self._number)

    def passage(self, name: str) -> Passage:
        """Return the passage of a body."""
        found = self._passages.get(name)
        if found is None:
            solid = self._solids[self._number[name]]
            found = Passage(solid, self._solids, rim=self._rim, openings=self.openings)
            self._passages[name] = found
        return found


def pieces(model: Model) -> list[Body]:
    """Return the bodies of rock and wood in the tank, in the scene's order."""
    return [
        body
        for body in model.bodies
        if body.group in HARDSCAPE and body.where == "tank" and body.kind not in SOFT
    ]


@kept
def ways_in(model: Model) -> tuple[WayIn, ...]:
    """Return how each piece of rock and wood gets in, those that go in first first."""
    ways = HardscapeWays(model)
    from_top = sorted(pieces(model), key=lambda body: (-float(body.solid.bounds[1, 2]), body.name))
    left = {body.name: body for body in from_top}
    # what pipe starts from or ends in is set before it
    ends = (port for run in model.runs for port in (run.data.start_port, run.data.end_port) if port)
    piped = {port.split(".")[0] for port in ends}
    present = ways.numbers(
        body.name
        for body in model.bodies
        if body.name in left or body.group not in LATER or body.part in piped
    )
    of_part: dict[str, frozenset[int]] = {}
    for body in left.values():
        of_part[body.part] = of_part.get(body.part, frozenset()) | ways.numbers([body.name])
    found: list[WayIn] = []
    while left:
        taken = _next_out(ways, left, present, of_part)
        if taken is None:
            break
        found.append(taken)
        present -= ways.numbers([left.pop(taken.body).name])
    names = [body.name for body in pieces(model) if body.name in left]
    stuck = [WayIn(body=name, way=None, tried=ways.passage(name).tried) for name in names]
    return (*stuck, *found[::-1])


@kept
def slabs_barred(model: Model) -> tuple[WayIn, ...]:
    """Return the slabs of backgrounds for which no way was found into the bare tank.

    Each is taken as the box around it, cut a little short all round, as a builder does. One that passes an
    opening upright is led to its wall within the empty tank; the others are led past its exact panes.
    """
    glass = [body.solid for body in model.built[model.tank_name].bodies]
    barred = []
    for body in (body for built in model.backgrounds for body in built.bodies if body.kind == "slab"):
        low, high = body.solid.bounds
        around = box(vector(high - low - 2.0 * SHORT)).solid(Placement.at(vector(low + SHORT)))
        if any(passes_upright(around, opening) for opening in openings(model)):
            continue
        passage = Passage(around, glass, rim=model.tank.rim, openings=openings(model))
        every = frozenset(range(len(glass)))
        if passage.straight(every) is None and passage.turned(every) is None:
            barred.append(WayIn(body=body.name, way=None, tried=passage.tried))
    return tuple(barred)


def _next_out(
    ways: HardscapeWays, left: dict[str, Body], present: frozenset[int], of_part: Mapping[str, frozenset[int]]
) -> WayIn | None:
    """Return the piece that comes out next, the first of those left; None where there is a way for none.

    ``present`` are the numbers of all that is there, ``of_part`` those of each part's pieces.
    """
    for turned in (False, True):
        for body in left.values():
            way = ways.past(body.name, present - of_part[body.part], turned=turned)
            if way is not None:
                return WayIn(body=body.name, way=way, tried=way.tried)
    return None


def way_words(way: Way, *, style: str) -> str:
    """Return a way in words, leg by leg, as hands go it; the first and the last 10 mm are not told."""
    said = []
    for leg in way.legs:
        far = sorted(((abs(along), axis) for axis, along in enumerate(leg.shift)), reverse=True)
        ways = [
            (along, WORDS[axis, 1 if leg.shift[axis] > 0.0 else -1]) for along, axis in far if along >= TOLD
        ]
        words = " and ".join(
            f"{show(along, 'length', system=style, give=0.005)} {word}" for along, word in ways
        )
        if leg.angle:
            turn = f"turned by {np.degrees(leg.angle):.0f}°"
            words = f"{turn} while {words}" if words else turn
        elif len(ways) == 1 and ways[0][1] == "down":
            words = "down"
        if words:
            said.append(words)
    return ", then ".join(said)
