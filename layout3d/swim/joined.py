"""Which cells of a grid hang together by their faces: by runs of cells along x, and what these lie beside."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from layout3d.solid.shape import hung_together

__all__ = ["joined"]


def joined(mask: NDArray[np.bool_]) -> tuple[NDArray[np.int32], int]:
    """Return which set of cells that hang together by their faces each is in, and how many sets there are.

    Parameters
    ----------
    mask : (nx, ny, nz), the cells; quickest with x running fastest

    Returns
    -------
    (nx, ny, nz), x running fastest: 0 beside the mask, else the number of its set, from 1, in the order in
    which the first cell of each comes with x running fastest; and the count of sets.
    """
    nx, ny, nz = mask.shape
    width = nx + 1  # each line ends in a cell beside the mask, so that no run goes on into the next
    lines = np.zeros((nz, ny, width), dtype=np.bool_)
    lines[:, :, :nx] = mask.T
    flat = lines.ravel()
    ends = np.flatnonzero(flat[1:] != flat[:-1]) + 1
    if flat.any() and flat[0]:
        ends = np.concatenate([[0], ends])
    begin, end = ends[::2], ends[1::2]
    one, other = [], []
    for step, some in ((width, begin // width % ny < ny - 1), (width * ny, np.ones(len(begin), dtype=bool))):
        here = np.flatnonzero(some)
        first = np.searchsorted(end, begin[here] + step, side="right")
        count = np.maximum(np.searchsorted(begin, end[here] + step) - first, 0)
        one.append(np.repeat(here, count))
        other.append(np.arange(count.sum()) + np.repeat(first - np.cumsum(count) + count, count))
    a, b = np.concatenate(one), np.concatenate(other)
    sets, number = np.unique(
        hung_together(len(begin), np.concatenate([a, b]), np.concatenate([b, a])), return_inverse=True
    )
    values = np.zeros(2 * len(begin) + 1, dtype=np.int32)
    values[1::2] = number + 1
    told = np.repeat(values, np.diff(ends, prepend=0, append=flat.size)).reshape(nz, ny, width)
    return np.ascontiguousarray(told[:, :, :nx]).T, len(sets)
