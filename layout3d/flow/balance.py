"""Flows and heads at which every node of a network is in balance: the numerics behind ``flow.network``.

Knows laws and numbers only, no pipes. Damped Newton on flows and heads together (the global gradient
method): after one step every node is in balance and stays so; what is left is to bring the head round every
loop to 0, which is the bottom of a convex bowl, so each step is cut back until it goes downhill.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from layout3d.errors import NotSettled
from layout3d.flow.laws import Law

__all__ = ["TRICKLE", "Balance", "Floats", "balance"]

HEAD_TOLERANCE = 1e-9  # [m], greatest miss of any link's law
FLOW_TOLERANCE = 1e-8  # of the largest flow, greatest change that one more step would make
TRICKLE = 1e-13  # [m³/s], 0.4 mm³/h: a change of flow that is nothing in any link
FLOW_ROUNDING = 1e-11  # [m³/s], what rounding of the heads makes of a link that loses next to nothing
STEPS = 400
DENSE_NODES = 150  # up to here a dense solve is quicker than importing the sparse one

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Balance:
    """Flow by link (m,) [m³/s], head by node (n,) [m], steps taken."""

    flows: Floats
    heads: Floats
    steps: int


def balance(
    starts: Sequence[int],
    ends: Sequence[int],
    laws: Sequence[Law],
    fixed: Floats,
    *,
    first: Floats | None = None,
) -> Balance:
    """Solve for the steady state.

    Parameters
    ----------
    starts, ends : (m,) index of the node each link runs from and to
    laws : (m,) one law a link, strictly rising
    fixed : (n,) head where it is given, NaN where it is sought, [m]; every node must reach a given head
    first : (m,) flows to start from, or None

    Raises
    ------
    NotSettled : the search did not settle.

    Sources
    -------
    Todini and Pilati 1988, A gradient algorithm for the analysis of pipe networks, in Computer Applications
    in Water Supply 1. The convex bowl: Collins et al. 1978, Management Science 24, 747-760. From memory.
    """
    start, end = np.asarray(starts, dtype=np.intp), np.asarray(ends, dtype=np.intp)
    free = np.flatnonzero(np.isnan(fixed))
    place = np.full(len(fixed), -1, dtype=np.intp)
    place[free] = np.arange(len(free))
    heads = np.where(np.isnan(fixed), 0.0, fixed)
    given = np.where(place[start] < 0, heads[start], 0.0) - np.where(place[end] < 0, heads[end], 0.0)
    flows = np.array([law.guess() for law in laws]) if first is None else first.astype(float)
    in_balance = False
    for step in range(STEPS):
        lost, slope = _evaluate(laws, flows)
        heads[free] = _heads(start, end, place, len(free), heads, flows, lost, slope)
        miss = heads[start] - heads[end] - lost
        move = miss / slope
        settled = _largest(move) <= FLOW_TOLERANCE * _largest(flows) + FLOW_ROUNDING
        # through a shut link even a trickle too small to count makes a miss
        met = (np.abs(miss) <= HEAD_TOLERANCE) | (np.abs(move) <= TRICKLE)
        if in_balance and settled and bool(np.all(met)):
            return Balance(flows=_continuous(start, end, place, flows), heads=heads, steps=step)
        share = _share(laws, flows, move, given) if in_balance else 1.0
        flows = flows + share * move
        in_balance = True
    raise NotSettled(
        f"the flow in the network did not settle in {STEPS} steps",
        remedy="look for a valve almost shut beside a wide open one, or simplify the network",
    )


def _largest(values: Floats) -> float:
    return float(np.max(np.abs(values), initial=0.0))


def _evaluate(laws: Sequence[Law], flows: Floats) -> tuple[Floats, Floats]:
    pairs = np.array([law.at(float(flow)) for law, flow in zip(laws, flows, strict=True)])
    pairs = pairs.reshape(-1, 2)
    return pairs[:, 0], pairs[:, 1]


def _heads(
    start: NDArray[np.intp],
    end: NDArray[np.intp],
    place: NDArray[np.intp],
    count: int,
    heads: Floats,
    flows: Floats,
    lost: Floats,
    slope: Floats,
) -> Floats:
    """Heads of the free nodes that bring every node into balance, with the laws taken as straight lines."""
    if count == 0:
        return np.zeros(0)
    weight = 1.0 / slope
    carried = flows - weight * lost
    known = np.where(place < 0, heads, 0.0)
    right = np.zeros(count)
    rows: list[NDArray[np.intp]] = []
    columns: list[NDArray[np.intp]] = []
    values: list[Floats] = []
    for own, other, sign in ((start, end, 1.0), (end, start, -1.0)):
        mine = place[own] >= 0
        np.add.at(right, place[own][mine], (weight * known[other] - sign * carried)[mine])
        rows.append(place[own][mine])
        columns.append(place[own][mine])
        values.append(weight[mine])
        both = mine & (place[other] >= 0)
        rows.append(place[own][both])
        columns.append(place[other][both])
        values.append(-weight[both])
    row, column, value = np.concatenate(rows), np.concatenate(columns), np.concatenate(values)
    if count <= DENSE_NODES:
        matrix = np.zeros((count, count))
        np.add.at(matrix, (row, column), value)
        dense: Floats = np.linalg.solve(matrix, right).astype(np.float64)
        return dense
    from scipy.sparse import csc_array
    from scipy.sparse.linalg import spsolve

    solved: Floats = spsolve(csc_array((value, (row, column)), shape=(count, count)), right)
    return solved


def _continuous(
    start: NDArray[np.intp], end: NDArray[np.intp], place: NDArray[np.intp], flows: Floats
) -> Floats:
    """Return the nearest flows that leave nothing over at any free node: rounding of the search is gone."""
    count = int(place.max(initial=-1)) + 1
    if count == 0 or count > DENSE_NODES:
        return flows
    meets = np.zeros((count, len(flows)))
    for ends, sign in ((end, 1.0), (start, -1.0)):
        mine = place[ends] >= 0
        np.add.at(meets, (place[ends][mine], np.flatnonzero(mine)), sign)
    # every free node hangs on a given head, so the product is not singular
    nearest: Floats = flows - meets.T @ np.linalg.solve(meets @ meets.T, meets @ flows)
    return nearest


def _share(laws: Sequence[Law], flows: Floats, move: Floats, given: Floats) -> float:
    """Share of the step to take: all of it unless the bowl rises again before its end."""

    def rise(share: float) -> float:
        lost, _ = _evaluate(laws, flows + share * move)
        return float(move @ (lost - given))

    at_end = rise(1.0)
    if at_end <= 0.0:
        return 1.0
    at_start = rise(0.0)
    if at_start >= 0.0 or at_end <= -0.5 * at_start:
        return 1.0  # at the bottom but for rounding, or nearly level at the end
    low, high = 0.0, 1.0
    for _ in range(60):
        middle = 0.5 * (low + high)
        at_middle = rise(middle)
        if abs(at_middle) <= -0.5 * at_start:
            return middle
        low, high = (middle, high) if at_middle < 0.0 else (low, middle)
    return low or high
