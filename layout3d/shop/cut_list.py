"""Every pipe and tube as it is cut: its mark, its length from socket bottom to socket bottom, its joints.

A letter stands for one setting of the saw: pieces of one size, length and drilling share it, and are told
apart by a number behind it (B1, B2), so that each also has its own place in the drawings. Letters run from
the widest pipe to the narrowest and from long to short; I and O are left out, which read as figures.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from layout3d.catalog.table import table
from layout3d.model.model import Model
from layout3d.parts.base import Vector, vector
from layout3d.parts.run_data import Element
from layout3d.shop.cutting import Plan, StockBar, plan
from layout3d.shop.fault import Fault
from layout3d.units import show

__all__ = ["DRY_FIT", "CutList", "Piece", "RunFit", "SizePlan", "cut_list"]

DRY_FIT = (1.0 / 3.0, 2.0 / 3.0)
"""How deep a dry pipe goes into its socket, as a share of the depth: sockets taper, and their bottom is
narrower than the pipe (ASTM D2466 and D2467). The shares are common practice, no source."""

OFF = 0.001
"""How far off a cut is taken to be, [m]."""

_LETTERS = "ABCDEFGHJKLMNPQRSTUVWXYZ"


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """One piece of pipe or tube. ``length`` to saw, ``sockets`` how deep each end goes in, 0 for none, [m].

    ``cut`` is its letter and ``mark`` the letter with its number; ``holes`` counts its drip holes.
    """

    mark: str
    cut: str
    part: str
    body: str
    kind: str
    size: str
    length: float
    sockets: tuple[float, float]
    holes: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class RunFit:
    """What cuts and dry joints do to a run of rigid pipe, [m].

    ``worst`` is how far its far end is out along x, y and z where each cut is off by 1 mm and all one way,
    ``likely`` where they are off either way by chance (root of the sum of squares). Dry-fitted, its
    ``joints`` together stand out by ``stands_out``, least and most.
    """

    part: str
    cuts: int
    worst: Vector
    likely: Vector
    joints: int
    stands_out: tuple[float, float]
    fixed_end: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class SizePlan:
    """How the pieces of one pipe are cut from bars; the plan's pieces are places in ``marks``."""

    size: str
    marks: tuple[str, ...]
    plan: Plan
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CutList:
    """All pieces by their marks, how runs fit, the bars by pipe, and what can't be cut."""

    pieces: tuple[Piece, ...]
    fits: tuple[RunFit, ...]
    plans: tuple[SizePlan, ...]
    kerf: float
    kerf_source: str
    faults: tuple[Fault, ...] = ()

    @property
    def optimal(self) -> bool:
        """Tell whether no plan takes less for any pipe."""
        return all(each.plan.optimal for each in self.plans)


def cut_list(model: Model) -> CutList:
    """Return the cut list of a model, in the order of its marks."""
    pieces = _pieces(model)
    given = model.scene.shop.kerf
    kerf, source = table("pipe_stock").rule("kerf") if given is None else (given, "the scene")
    plans: list[SizePlan] = []
    faults: list[Fault] = []
    for size in dict.fromkeys(piece.size for piece in pieces if piece.kind == "pipe"):
        stocks, of = _stocks(model, size)
        longest = max(stock.length for stock in stocks)
        rigid = [piece for piece in pieces if piece.size == size and piece.kind == "pipe"]
        short = [piece for piece in rigid if piece.length <= longest + 1e-9]
        faults += [_too_long(model, piece, longest) for piece in rigid if piece not in short]
        made = plan([piece.length for piece in short], stocks, kerf=kerf)
        plans.append(SizePlan(size=size, marks=tuple(piece.mark for piece in short), plan=made, source=of))
    return CutList(
        pieces=tuple(pieces),
        fits=tuple(_fits(model)),
        plans=tuple(plans),
        kerf=kerf,
        kerf_source=source,
        faults=tuple(faults),
    )


_Key = tuple[bool, float, str, float, tuple[tuple[float, float], ...]]


def _pieces(model: Model) -> list[Piece]:
    found: list[tuple[_Key, Element, str]] = []
    for built in model.runs:
        for element in built.data.elements:
            if element.kind in ("pipe", "tube"):
                drilled = tuple((round(hole.along, 4), round(hole.diameter, 5)) for hole in element.holes)
                flexible = element.kind == "tube"
                key = (flexible, -element.outside, element.size, -round(element.cut_length, 4), drilled)
                found.append((key, element, built.part.name))
    letters = {key: _letter(number) for number, key in enumerate(sorted({key for key, *_ in found}))}
    count = {key: sum(other == key for other, *_ in found) for key in letters}
    numbers = dict.fromkeys(letters, 0)
    pieces = []
    for key, element, part in found:
        numbers[key] += 1
        pieces.append(
            Piece(
                mark=letters[key] + (str(numbers[key]) if count[key] > 1 else ""),
                cut=letters[key],
                part=part,
                body=element.body,
                kind=element.kind,
                size=element.size,
                length=element.cut_length,
                sockets=_sockets(element),
                holes=len(element.holes),
            )
        )
    order = {letter: place for place, letter in enumerate(letters.values())}
    return sorted(pieces, key=lambda piece: order[piece.cut])


def _letter(number: int) -> str:
    """Return the letter of a cut, counted from 0.

    >>> _letter(0), _letter(8), _letter(24)
    ('A', 'J', 'AA')
    """
    more, last = divmod(number, len(_LETTERS))
    return (_letter(more - 1) if more else "") + _LETTERS[last]


def _sockets(element: Element) -> tuple[float, float]:
    """Return how deep each end stands behind the face of its socket, [m]."""
    if element.visible is None:
        return (0.0, 0.0)
    begin, end = (
        math.dist(a, b) for a, b in zip((element.path[0], element.path[-1]), element.visible, strict=True)
    )
    return (round(begin, 9), round(end, 9))


def _stocks(model: Model, size: str) -> tuple[list[StockBar], str]:
    own = [stock for stock in model.scene.shop.stocks if stock.pipe == size]
    if own:
        return [StockBar(length=stock.length, price=stock.price) for stock in own], "the scene"
    shipped = table("pipe_stock")
    family = model.scene.catalog.pipe(size).family
    row = next(row for row in shipped.rows if row["family"] == family)
    return [StockBar(length=float(row["length"]))], shipped.source


def _too_long(model: Model, piece: Piece, longest: float) -> Fault:
    style = model.scene.style
    over, stock = (show(length, "length", system=style) for length in (piece.length, longest))
    return Fault(
        parts=(piece.body,),
        message=f"{piece.mark} ({piece.body}) is {over} long, and bars of {piece.size} are {stock}",
        remedy="put a coupling in this leg, or give a longer bar under `shop: stocks:`",
    )


def _fits(model: Model) -> Iterator[RunFit]:
    for built in model.runs:
        pipes = [element for element in built.data.elements if element.kind == "pipe"]
        if not pipes:
            continue
        ways = np.array([np.subtract(pipe.path[-1], pipe.path[0]) for pipe in pipes])
        ways /= np.linalg.norm(ways, axis=1, keepdims=True)
        depths = [depth for pipe in pipes for depth in _sockets(pipe) if depth > 0]
        low, high = ((1.0 - share) * sum(depths) for share in DRY_FIT[::-1])
        yield RunFit(
            part=built.part.name,
            cuts=len(pipes),
            worst=vector(OFF * np.abs(ways).sum(axis=0)),
            likely=vector(OFF * np.sqrt((ways**2).sum(axis=0))),
            joints=len(depths),
            stands_out=(low, high),
            fixed_end=bool(built.data.end_port),
        )
