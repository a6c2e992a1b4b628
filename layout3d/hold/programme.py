"""Linear programmes of few rows and many columns, solved from a corner near by: the dual simplex method.

An answer is proven on a basis inverted anew, or there is none, and whoever asks takes a library's. Dense.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from layout3d.solid.placement import Array

__all__ = ["Basis", "cheapest"]

Basis = NDArray[np.intp]

SHORT = 1e-9  # how far below 0 a share or a cost may come and count as 0: rounding of sums, [-]
LEAST = 1e-7  # pivots nearer to 0 are not taken, [-]
SLACK = 1e-11  # by which a cost may fall below 0 for the sake of a larger pivot, [-]
MOST_STEPS = 500


def cheapest(costs: Array, matrix: Array, right: Array, basis: Basis) -> tuple[Basis, Array, Array] | None:
    """Return the cheapest shares x, none below 0, that ``matrix @ x == right``; None where none are proven.

    Parameters
    ----------
    costs, matrix, right : (n,), (m, n), (m,)
    basis : columns (m,) at which no cost of another is below 0, whatever shares they need; to start from

    Returns
    -------
    The columns (m,) that are used, their shares (m,), and what a share of each column would cost more, (n,).

    Notes
    -----
    Forrest and Goldfarb 1992, Math. Programming 57, 341-374: the row that is farthest off goes, measured
    square to its edge. Harris 1973, Math. Programming 5, 1-28: of columns that nearly tie the largest pivot
    (both from memory).
    """
    basis, fresh = basis.copy(), False
    inverse: NDArray[np.floating[Any]] = matrix
    shares, more = right, costs
    for step in range(MOST_STEPS):
        if not step % 50 or fresh:
            try:
                inverse = np.linalg.inv(matrix[:, basis])
            except np.linalg.LinAlgError:
                return None
            shares, more = inverse @ right, costs - (costs[basis] @ inverse) @ matrix
            if more.min() < -SHORT:
                return None
        far = np.minimum(shares + SHORT, 0.0) ** 2 / np.einsum("ij,ij->i", inverse, inverse)
        out = int(far.argmax())
        if not far[out]:
            if not fresh and step:
                fresh = True
                continue
            missing, idle = matrix[:, basis] @ shares - right, more[basis]
            return (basis, shares, more) if max(np.abs(missing).max(), idle.max()) < SHORT else None
        fresh = False
        row = inverse[out] @ matrix
        able = np.flatnonzero(row < -LEAST)
        if not len(able):
            return None
        pivots, costing = -row[able], np.maximum(more[able], 0.0)
        near = able[costing / pivots <= ((costing + SLACK) / pivots).min()]
        into = int(near[row[near].argmin()])
        column = inverse @ matrix[:, into]
        more = more - (more[into] / row[into]) * row
        share, line = shares[out] / column[out], inverse[out] / column[out]
        shares -= share * column
        inverse -= column[:, None] * line
        shares[out], inverse[out], basis[out] = share, line, into
    return None
