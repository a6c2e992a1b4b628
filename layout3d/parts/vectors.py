"""A point or way as three plain floats: what frozen data holds, and what arrays come down to."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

__all__ = ["Vector", "vector"]

Vector = tuple[float, float, float]


def vector(values: NDArray[np.float64] | list[float] | tuple[float, ...]) -> Vector:
    """Return three plain floats of an array."""
    x, y, z = (float(value) for value in values)
    return (x, y, z)
