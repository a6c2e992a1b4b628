"""Room to swim: what water is left to fish of stated sizes, pockets that hold them, and the ways along."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from layout3d.model.model import Model
from layout3d.parts.base import Vector, vector
from layout3d.solid.boolean import trim
from layout3d.swim.field import Clearance, clearance
from layout3d.water.cavity import tank_cavity
from layout3d.water.remembered import kept

__all__ = ["Pocket", "Room", "Size", "room"]

CELLS = 2_000_000  # of the box around the water, about
FINEST = 0.003  # edge of a cell, [m]
STEPS = 4  # in which a gap is measured: so many to a cell
SQUEEZES = 0.7  # a fish gets through a gap of so much of its depth, and is stuck: common practice, no source
END = 0.15  # of the water's length: where a way along begins and ends
HARDSCAPE = ("rock", "wood")
Cell = tuple[int, int, int]


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
    open_water = tank_cavity(model).open
    water = (
        trim(open_water, normal=(0.0, 0.0, 1.0), offset=model.waterline) if open_water is not None else None
    )
    if water is None:
        nothing = tuple(Size(depth=depth, volume=0.0, pockets=()) for depth in depths)
        return Room(sizes=nothing, widest=0.0, front=None, behind=None, cell=FINEST, give=0.0)
    box = float(np.prod(np.ptp(water.bounds, axis=0)))
    field = clearance(water, max(FINEST, (box / CELLS) ** (1.0 / 3.0)))
    front, behind = _ways(model, field)
    below, above = field.error
    return Room(
        sizes=tuple(_size(field, depth) for depth in depths),
        widest=2.0 * max(float(field.distance.max()) - field.error[0], 0.0),
        front=front,
        behind=behind,
        cell=field.cell,
        give=2.0 * (below + above),
    )


def _size(field: Clearance, depth: float) -> Size:
    numbers, count = field.joined(depth / 2.0)
    if not count:
        return Size(depth=depth, volume=0.0, pockets=())
    main = 1 + int(np.bincount(numbers.ravel(), minlength=count + 1)[1:].argmax())
    roomiest = _roomiest(field, numbers, count)
    parted = [number for number in range(1, count + 1) if number != main]
    gaps = _gaps(field, roomiest[main - 1], [roomiest[number - 1] for number in parted], depth / 2.0)
    pockets = [
        Pocket(
            volume=field.filled(numbers == number, depth / 2.0),
            at=vector(field.at(roomiest[number - 1])),
            gap=gap,
            gap_most=min(gap + 2.0 * sum(field.error), depth),
            trap=gap + 2.0 * sum(field.error) >= SQUEEZES * depth,
        )
        for number, gap in zip(parted, gaps, strict=True)
    ]
    return Size(
        depth=depth,
        volume=field.filled(numbers == main, depth / 2.0),
        pockets=tuple(sorted(pockets, key=lambda each: -each.volume)),
    )


def _roomiest(field: Clearance, numbers: NDArray[np.int32], count: int) -> list[Cell]:
    """Return the cell of most clearance of each set of cells."""
    from scipy.ndimage import maximum_position

    found = maximum_position(field.distance, numbers, np.arange(1, count + 1)) if count else []
    return [(int(i), int(j), int(k)) for i, j, k in found]


def _gaps(field: Clearance, home: Cell, places: list[Cell], widest: float) -> list[float]:
    """Return the diameter of the largest ball that gets from each place home, [m]; to twice ``widest``."""
    gaps = [0.0] * len(places)
    steps = math.ceil(widest / (field.cell / STEPS))
    for step in range(steps, 0, -1):
        radius = widest * step / steps
        if all(gaps):
            break
        numbers, _ = field.joined(radius)
        for index, place in enumerate(places):
            if not gaps[index] and numbers[home] and numbers[place] == numbers[home]:
                gaps[index] = 2.0 * radius
    return gaps


def _ways(model: Model, field: Clearance) -> tuple[float | None, float | None]:
    """Return the widest ways along the water, before and behind the middle of rock and wood."""
    pieces = [body for body in model.bodies if body.group in HARDSCAPE and body.where == "tank"]
    if not pieces:
        return None, None
    mass = sum(body.solid.volume for body in pieces)
    middle = sum(body.solid.volume * float(body.solid.centroid[1]) for body in pieces) / mass
    along, deep = field.distance.shape[:2]
    ends = max(1, round(END * along))
    x = np.arange(along)[:, None, None]
    y = (field.low[1] + field.cell * np.arange(deep))[None, :, None]
    shape = field.distance.shape
    left, right = (np.broadcast_to(each, shape) for each in (x < ends, x >= along - ends))
    return tuple(  # type: ignore[return-value] # two, one a side
        field.widest(left, right, np.broadcast_to(side, shape)) for side in (y < middle, y > middle)
    )
