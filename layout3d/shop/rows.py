"""One row of the parts list, and what a scene's packs and prices make of it."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from layout3d.errors import UnknownName, nearest
from layout3d.scene.scene import Scene
from layout3d.units import show, system_shown

__all__ = ["Measure", "Row", "packed", "sixteenths", "told_length"]

_SIXTEENTH = 0.0254 / 16
_EXACT = 5e-5  # nearer to a sixteenth than this a length is told as one, [m]

Measure = Literal["count", "length", "area", "volume", "mass"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """An item to buy, as the model has it.

    ``amount`` is net, of what ``measure`` says, SI; ``spare`` the share that is bought on top, [-], with its
    source in ``spare_source``. ``mass`` is its dry mass, [kg], where it may be sold by that too.
    ``marks`` are those of the cut list, ``parts`` the parts that it goes into.
    ``packs`` and ``pack`` (how much one holds, SI) are known where packs are; ``cost`` where a price is.
    ``liquid`` is what is sold by the tube, tin or bottle, and told in their units.
    ``number`` is its place in the list, from 1, and stands on sheets in balloons that point to its
    ``bodies``; panes of one body have none of their own, and are found by their names in ``parts``.
    """

    item: str
    size: str
    measure: Measure
    amount: float
    source: str
    marks: tuple[str, ...] = ()
    parts: tuple[str, ...] = ()
    spare: float = 0.0
    spare_source: str = ""
    mass: float = 0.0
    pack: float = 0.0
    pack_source: str = ""
    packs: int = 0
    cost: float | None = None
    note: str = ""
    liquid: bool = False
    number: int = 0
    bodies: tuple[str, ...] = ()

    @property
    def wanted(self) -> float:
        """Return what is bought, the spare included."""
        return self.amount * (1.0 + self.spare)

    def in_packs(self, holds: float, source: str, price: float | None = None) -> Row:
        """Return the row with the packs that it takes."""
        packs = max(1, math.ceil(self.wanted / holds - 1e-9)) if self.amount > 0 else 0
        cost = None if price is None else packs * price
        return replace(self, pack=holds, pack_source=source, packs=packs, cost=cost)


def sixteenths(length: float) -> str:
    """Return a length in inches to the nearest sixteenth, without its unit.

    >>> sixteenths(0.0127), sixteenths(1.1811), sixteenths(0.0254)
    ('1/2', '46 1/2', '1')
    """
    whole, part = divmod(round(length / _SIXTEENTH), 16)
    below = 16
    while part and part % 2 == 0:
        part, below = part // 2, below // 2
    return f"{whole} {part}/{below}" if whole and part else f"{part}/{below}" if part else f"{whole}"


def told_length(length: float, style: str = "", *, give: float = 0.0) -> str:
    """Return a length as it is ordered: in inches as a fraction where it is one; by ``units.shown_in``.

    >>> told_length(0.0127, "inch"), told_length(0.013, "inch"), told_length(0.0127, "metric")
    ('1/2 in', '0.51 in', '12.7 mm')
    """
    style = style or system_shown()
    if style == "inch" and abs(length / _SIXTEENTH - round(length / _SIXTEENTH)) * _SIXTEENTH <= _EXACT:
        return f"{sixteenths(length)} in"
    return show(length, "length", system=style, give=give)


def packed(rows: Sequence[Row], scene: Scene) -> tuple[Row, ...]:
    """Return the rows with the packs and prices that the scene gives.

    Raises
    ------
    UnknownName : a pack of an item or size that the list doesn't have, or in another measure.
    """
    result = list(rows)
    for number, pack in enumerate(scene.shop.packs, start=1):
        path = f"shop.packs[{number}]"
        of_item = [row for row in rows if row.item == pack.item]
        of_size = [row for row in of_item if pack.size in ("", row.size)]
        if not of_size:
            known = [row.size for row in of_item] if of_item else [row.item for row in rows]
            sought, what = (pack.size, f"size of {pack.item}") if of_item else (pack.item, "item")
            raise _unknown(scene, path, f"no {what} of the parts list is called {sought!r}", sought, known)
        measures = sorted({row.measure for row in of_size})
        by_mass = pack.measure == "mass" and all(row.mass for row in of_size)
        if measures != [pack.measure] and not by_mass:
            raise _unknown(
                scene, path, f"a pack of {pack.item} is told by {pack.measure}", pack.measure, measures
            )
        for index, row in enumerate(result):
            if row.item == pack.item and pack.size in ("", row.size):
                holds = pack.holds * row.amount / row.mass if by_mass else pack.holds
                result[index] = row.in_packs(holds, "the scene", pack.price)
    return tuple(result)


def _unknown(scene: Scene, path: str, found: str, sought: str, known: Iterable[str]) -> UnknownName:
    expected = nearest(sought, list(known), most=20)
    return UnknownName(found, expected=expected, path=path, place=scene.place_of(path))
