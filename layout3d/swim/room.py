"""Room to swim: what water is left to fish of stated sizes, pockets that hold them, and the ways along."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from layout3d.keep import Form, code_of, key_of
from layout3d.keep import kept as filed
from layout3d.model.model import Model
from layout3d.parts.base import Vector, vector
from layout3d.plain import form_of
from layout3d.solid.boolean import cropped, trim
from layout3d.solid.nearby import lies_in
from layout3d.solid.shape import Solid
from layout3d.swim.field import Cell, Clearance, clearance
from layout3d.water.cavity import tank_cavity
from layout3d.water.remembered import kept
from layout3d.water.share import GIVES_WAY, reaches_into

__all__ = ["Pocket", "Room", "Size", "clearances", "room"]

CELLS = 2_500_000  # of the box around the space under the waterline, about
FINEST = 0.003  # edge of a cell, [m]
CUT_OFF = 0.002  # what lies no farther outside of the water is not surely cut off, [m]
SQUEEZES = 0.7  # a fish gets through a gap of so much of its depth, and is stuck: common practice, no source
BALLS = 4  # smaller pockets than so many balls as wide as the fish are told by JSON alone
END = 0.15  # of the water's length: where a way along begins and ends
HARDSCAPE = ("rock", "wood")


@dataclass(frozen=True, slots=True, kw_only=True)
class Pocket:
    """Water that a fish fits in and that hangs together with the rest only by a narrow gap.

    ``gap`` is the diameter of a ball that gets through for certain, ``gap_most`` that of the largest that
    may, [m]. ``trap`` tells that it may be 0.7 of the fish's depth or more: the fish squeezes in and doesn't
    find out again. A narrower gap lets none in. ``volume`` [m³] is what a fish in there reaches, ``at`` its
    roomiest place.
    """

    volume: float
    at: Vector
    gap: float
    gap_most: float
    trap: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Size:
    """What is left to a fish ``depth`` deep, a ball of that diameter: the ``volume`` that it can swim in."""

    depth: float
    volume: float
    pockets: tuple[Pocket, ...]

    @property
    def traps(self) -> tuple[Pocket, ...]:
        """Return the pockets that may trap a fish and hold more water than ``BALLS`` of its depth."""
        least = BALLS * math.pi / 6.0 * self.depth**3
        return tuple(pocket for pocket in self.pockets if pocket.trap and pocket.volume >= least)


@dataclass(frozen=True, slots=True, kw_only=True)
class Room:
    """Room to swim, [m] and [m³]; from ``sizes``.

    ``widest`` is the diameter of the largest ball anywhere. ``front`` and ``behind`` are that of the largest
    ball that gets from one end of the water to the other before and behind the middle of the hardscape; None
    where there is none. All are certain, and short by at most ``give``. ``cell`` is that of the grid.
    """

    sizes: tuple[Size, ...]
    widest: float
    front: float | None
    behind: float | None
    cell: float
    give: float


@kept
def room(model: Model) -> Room:
    """Measure the room to swim at the waterline, outside of overflow boxes; leaves bend aside."""
    depths = model.scene.swim.sizes
    water = _water(model)
    if water is None:
        return _dry(depths)
    space, taken = water
    middle = _middle(model)
    # what lies over the water does nothing to it
    there = tuple(lies_in(solid, space.bounds + np.array([[-CUT_OFF], [CUT_OFF]])) for solid in taken)
    key = key_of("room to swim", code_of("swim", "solid"), space, there, depths, middle, CELLS)
    return filed(key, _ROOM, lambda: _room(space, taken, depths, middle))


def clearances(model: Model) -> Clearance | None:
    """Return how far each place of the water that ``room`` measures is from what bounds it; None for none."""
    water = _water(model)
    return None if water is None else _field(*water)


def _water(model: Model) -> tuple[Solid, list[Solid]] | None:
    """Return the space under the waterline and what takes of it; None where there is none."""
    cavity = tank_cavity(model)
    space = trim(cavity.inside, normal=(0.0, 0.0, 1.0), offset=model.waterline)
    if space is None:
        return None
    taken = [
        *(
            share.body.uncut or share.body.solid
            for share in cavity.shares
            if share.body.kind not in GIVES_WAY and reaches_into(share.solid, space)
        ),
        *cavity.bores,
        *cavity.closed,
    ]
    return space, taken


def _field(space: Solid, taken: Sequence[Solid]) -> Clearance:
    box = float(np.prod(np.ptp(space.bounds, axis=0)))
    return clearance(space, max(FINEST, (box / CELLS) ** (1.0 / 3.0)), cropped(taken, space.bounds))


_ROOM: Form[Room] = form_of(
    "room to swim",
    *(Room, Size, Pocket),
    size=lambda room: 200 * (1 + sum(1 + len(size.pockets) for size in room.sizes)),
)


def _dry(depths: Sequence[float]) -> Room:
    nothing = tuple(Size(depth=depth, volume=0.0, pockets=()) for depth in depths)
    return Room(sizes=nothing, widest=0.0, front=None, behind=None, cell=FINEST, give=0.0)


def _room(space: Solid, taken: Sequence[Solid], depths: Sequence[float], middle: float | None) -> Room:
    field = _field(space, taken)
    if not field.squared.any():
        return _dry(depths)
    front, behind = (None, None) if middle is None else _ways(field, middle)
    return Room(
        sizes=tuple(_size(field, depth) for depth in depths),
        widest=field.diameter(int(field.squared.max())),
        front=front,
        behind=behind,
        cell=field.cell,
        give=2.0 * sum(field.error),
    )


def _size(field: Clearance, depth: float) -> Size:
    radius = depth / 2.0
    numbers, count = field.joined(radius)
    if not count:
        return Size(depth=depth, volume=0.0, pockets=())
    main = 1 + int(np.bincount(numbers.ravel(order="K"), minlength=count + 1)[1:].argmax())
    parted = [number for number in range(1, count + 1) if number != main]
    beside = np.argwhere((numbers > 0) & (numbers != main))
    roomiest = [_roomiest(field, beside[numbers[tuple(beside.T)] == number]) for number in parted]
    home = _roomiest(field, np.argwhere(numbers == main)) if parted else (0, 0, 0)
    most = 2.0 * sum(field.error)
    pockets = [
        Pocket(
            volume=field.filled(numbers == number, radius),
            at=vector(field.at(place)),
            gap=gap,
            gap_most=min(gap + most, depth),
            trap=gap + most >= SQUEEZES * depth,
        )
        for number, place, gap in zip(parted, roomiest, field.gaps(home, roomiest, radius), strict=True)
    ]
    return Size(
        depth=depth,
        volume=field.filled(numbers == main, radius),
        pockets=tuple(sorted(pockets, key=lambda each: -each.volume)),
    )


def _roomiest(field: Clearance, cells: NDArray[np.intp]) -> Cell:
    """Return the cell of most clearance among some (n, 3)."""
    x, y, z = cells[int(field.squared[tuple(cells.T)].argmax())].tolist()
    return x, y, z


def _middle(model: Model) -> float | None:
    """Return how far from the front the middle of rock and wood lies, [m]; None where there is none."""
    pieces = [body for body in model.bodies if body.group in HARDSCAPE and body.where == "tank"]
    if not pieces:
        return None
    mass = sum(body.solid.volume for body in pieces)
    return sum(body.solid.volume * float(body.solid.centroid[1]) for body in pieces) / mass


def _ways(field: Clearance, middle: float) -> tuple[float, float]:
    """Return the widest ways along the water, before and behind the middle of rock and wood."""
    shape = field.squared.shape
    ends = max(1, round(END * shape[0]))
    x = np.arange(shape[0])[:, None, None]
    y = (field.low[1] + field.cell * np.arange(shape[1]))[None, :, None]
    left, right, front, behind = (
        np.broadcast_to(side, shape) for side in (x < ends, x >= shape[0] - ends, y < middle, y > middle)
    )
    return field.widest(left, right, front), field.widest(left, right, behind)
