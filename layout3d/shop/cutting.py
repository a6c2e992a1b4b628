"""Cutting bars into pieces with the least bought: one-dimensional stock cutting as an integer programme.

A pattern says how many of each length one bar gives; the programme picks how often each is cut. Where all
patterns can be listed the answer is the best there is, or its bound is told; where there are too many they
are made one by one as the linear programme asks for them, and the bound is that programme's. Not considered:
offcuts of earlier jobs, and bars whose ends have to be squared first.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from layout3d.errors import OutOfRange
from layout3d.keep import remembered

__all__ = ["Bar", "Plan", "StockBar", "plan"]

Counts = NDArray[np.int64]

MOST_PATTERNS = 20_000
"""So many are listed; beyond, patterns are made as they are asked for."""

TIME_LIMIT = 5.0  # for each programme, [s]
_UNIT = 1e-5  # lengths count in whole hundredths of a millimetre, so that sums are exact, [m]
_ROUNDS = 200  # of making patterns; each adds one a stock, and some dozen are usual


@dataclass(frozen=True, slots=True, kw_only=True)
class StockBar:
    """A length that bars are sold in, [m], and what one costs; by default its length."""

    length: float
    price: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Bar:
    """One bar: its length, which pieces it gives (as indices of those asked for), and what is left, [m]."""

    stock: float
    pieces: tuple[int, ...]
    offcut: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """Bars that give all pieces. ``cost`` counts price, or metres where no price is known.

    ``optimal`` says that no plan costs less; else none costs less than ``bound``.
    """

    bars: tuple[Bar, ...]
    kerf: float
    cost: float
    bound: float
    optimal: bool


def plan(
    lengths: Sequence[float], stocks: Sequence[StockBar], *, kerf: float = 0.0, most: int = MOST_PATTERNS
) -> Plan:
    """Plan how to cut pieces from bars so that the bars cost least.

    Parameters
    ----------
    lengths : of the pieces, [m], above 0; the plan names them by their place here
    stocks : the lengths there are, as many of each as it takes; prices count where all have one above 0
    kerf : what each cut takes off, [m]; a piece that takes the rest of a bar needs none
    most : patterns that are listed before they are made one by one

    Raises
    ------
    OutOfRange : a piece is longer than every bar.

    Notes
    -----
    Pieces l and kerf k in a bar L: sum(l + k) <= L + k, in whole hundredths of a millimetre, pieces rounded
    up. Bound: the linear programme's optimum, raised to the next sum that bars can cost where all cost alike.

    Sources
    -------
    Gilmore and Gomory 1961, Operations Research 9(6), 849-859, and 1963, 11(6), 863-888: patterns and
    columns made as they are asked for. From memory.

    Examples
    --------
    >>> cut = plan([0.6, 0.6, 0.4, 0.3], [StockBar(length=1.0)])
    >>> [bar.pieces for bar in cut.bars], cut.optimal
    ([(0, 2), (1, 3)], True)
    """
    given = tuple(lengths), tuple(stocks)
    return remembered("cutting plan", *given, kerf, most, make=lambda: _planned(*given, kerf, most))


def _planned(lengths: Sequence[float], stocks: Sequence[StockBar], kerf: float, most: int) -> Plan:
    """Return the plan, computed."""
    if not lengths:
        return Plan(bars=(), kerf=kerf, cost=0.0, bound=0.0, optimal=True)
    longest = max(stock.length for stock in stocks)
    if max(lengths) > longest + 1e-9:
        raise OutOfRange(
            f"a piece of {max(lengths):.3f} m from bars of {longest:.3f} m", expected="a bar that is as long"
        )
    saw = round(kerf / _UNIT)
    whole = [math.ceil(length / _UNIT - 1e-6) + saw for length in lengths]
    sizes = np.array(sorted(set(whole), reverse=True), dtype=np.int64)
    demand = np.array([whole.count(int(size)) for size in sizes], dtype=np.int64)
    rooms = [math.floor(stock.length / _UNIT + 1e-6) + saw for stock in stocks]
    prices = np.array(
        [float(s.price or 0.0) for s in stocks]
        if all(s.price for s in stocks)
        else [s.length for s in stocks]
    )
    listed = [_patterns(sizes, demand, room, most=most) for room in rooms]
    columns, least = [(i, one) for i, found in enumerate(listed) for one in found or ()], None
    if None in listed:
        columns, least = _made(sizes, demand, rooms, prices)
    counts, cost, bound = _programme(columns, demand, prices)
    if least is not None:
        bound = least  # that of the programme is only of the patterns that were made
    if len(set(prices.tolist())) == 1:
        bound = float(prices[0]) * math.ceil(bound / float(prices[0]) - 1e-6)
    bars = _bars(columns, counts, whole, sizes, stocks, saw)
    return Plan(bars=bars, kerf=kerf, cost=cost, bound=min(bound, cost), optimal=cost <= bound * (1 + 1e-9))


def _patterns(sizes: Counts, demand: Counts, room: int, *, most: int) -> list[Counts] | None:
    """Return every pattern to which no piece can be added; None where there are more than ``most``."""
    found: list[Counts] = []
    pattern = np.zeros(len(sizes), dtype=np.int64)
    steps = 0

    def fill(index: int, left: int) -> bool:
        nonlocal steps
        steps += 1
        if steps > 20 * most or len(found) > most:
            return False
        if index == len(sizes):
            fits = (sizes <= left) & (pattern < demand)
            if pattern.any() and not fits.any():
                found.append(pattern.copy())
            return True
        for count in range(min(int(demand[index]), left // int(sizes[index])), -1, -1):
            pattern[index] = count
            if not fill(index + 1, left - count * int(sizes[index])):
                return False
        pattern[index] = 0
        return True

    return found if fill(0, room) else None


def _made(
    sizes: Counts, demand: Counts, rooms: Sequence[int], prices: NDArray[np.float64]
) -> tuple[list[tuple[int, Counts]], float]:
    """Return the patterns that the linear programme asks for, and its optimum: nothing costs less."""
    from scipy.optimize import Bounds, LinearConstraint, linprog, milp

    columns: list[tuple[int, Counts]] = []
    for number, size in enumerate(sizes):
        index = min((i for i, room in enumerate(rooms) if room >= size), key=lambda i: float(prices[i]))
        single = np.zeros(len(sizes), dtype=np.int64)
        single[number] = min(int(demand[number]), rooms[index] // int(size))
        columns.append((index, single))
    optimum = 0.0
    for _ in range(_ROUNDS):
        table = np.column_stack([pattern for _, pattern in columns]).astype(float)
        costs = np.array([prices[index] for index, _ in columns])
        solved = linprog(costs, A_ub=-table, b_ub=-demand.astype(float), method="highs")
        worth = -np.asarray(solved.ineqlin.marginals)
        added = 0
        scale = 1.0
        for index, room in enumerate(rooms):
            best = milp(
                -worth,
                constraints=LinearConstraint(sizes[None, :].astype(float), -np.inf, float(room)),
                integrality=np.ones(len(sizes)),
                bounds=Bounds(0, demand.astype(float)),
            )
            value = -float(best.fun)
            scale = max(scale, value / float(prices[index]))
            if value > prices[index] * (1 + 1e-9):
                columns.append((index, np.rint(best.x).astype(np.int64)))
                added += 1
        # the duals, made cheap enough to be feasible, bound every plan from below (Farley 1990, from memory)
        optimum = max(optimum, float(worth @ demand) / scale)
        if not added:
            break
    return columns, optimum


def _programme(
    columns: Sequence[tuple[int, Counts]], demand: Counts, prices: NDArray[np.float64]
) -> tuple[Counts, float, float]:
    """Return how often each pattern is cut, what that costs, and what it can't be below."""
    from scipy.optimize import Bounds, LinearConstraint, milp

    table = np.column_stack([pattern for _, pattern in columns]).astype(float)
    costs = np.array([prices[index] for index, _ in columns])
    solved = milp(
        costs,
        constraints=LinearConstraint(table, demand.astype(float), np.inf),
        integrality=np.ones(len(columns)),
        bounds=Bounds(0, np.inf),
        options={"time_limit": TIME_LIMIT},
    )
    if solved.x is None:
        raise RuntimeError(f"fault of the program: no plan was found ({solved.message}) (cutting._programme)")
    counts = np.rint(solved.x).astype(np.int64)
    cost = float(costs @ counts)
    bound = solved.mip_dual_bound
    return counts, cost, cost if bound is None else float(bound)


def _bars(
    columns: Sequence[tuple[int, Counts]],
    counts: Counts,
    whole: Sequence[int],
    sizes: Counts,
    stocks: Sequence[StockBar],
    saw: int,
) -> tuple[Bar, ...]:
    """Return the bars, the fullest first; pieces that a pattern has to spare are left out."""
    waiting = {int(size): [index for index, length in enumerate(whole) if length == size] for size in sizes}
    bars: list[Bar] = []
    for (index, pattern), count in zip(columns, counts, strict=True):
        for _ in range(int(count)):
            taken: list[int] = []
            for size, number in zip(sizes, pattern, strict=True):
                row = waiting[int(size)]
                taken += row[:number]
                del row[:number]
            if taken:
                used = sum(whole[piece] for piece in taken) * _UNIT
                left = max(0.0, stocks[index].length - used)
                bars.append(Bar(stock=stocks[index].length, pieces=tuple(taken), offcut=round(left, 9)))
    return tuple(sorted(bars, key=lambda bar: (bar.offcut, bar.pieces)))
