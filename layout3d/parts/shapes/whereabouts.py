"""Tells whether something is in the tank, in a sump or in the room, by the middle of its bounding box."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from layout3d.parts.base import Part, Site

__all__ = ["where_is"]


def where_is(site: Site, part: Part, bounds: NDArray[np.float64]) -> str:
    """Return 'tank', 'sump' or 'room' for (2, 3) bounds in the tank's axes."""
    middle = bounds.mean(axis=0)
    tank = site.tank()
    spaces = [("tank", tank.spaces[0])]
    spaces += [("sump", site.built(sump.name, part).spaces[0]) for sump in site.of_kind("sump")]
    for where, space in spaces:
        if np.all(middle >= np.array(space.low)) and np.all(middle <= np.array(space.high)):
            return where
    return "room"
