"""Tells whether something is in the tank, in a sump or in the room, by the middle of its bounding box."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from layout3d.parts.base import Part, Site, vector
from layout3d.parts.vessel import Vessel

__all__ = ["where_is"]


def where_is(site: Site, part: Part, bounds: NDArray[np.float64]) -> str:
    """Return 'tank', 'sump' or 'room' for (2, 3) bounds in the tank's axes."""
    middle = vector(bounds.mean(axis=0))
    vessels: list[tuple[str, Vessel]] = [("tank", site.tank().data)]
    for sump in site.of_kind("sump"):
        data = site.built(sump.name, part).data
        assert isinstance(data, Vessel), "a sump builds into a vessel (where_is)"
        vessels.append(("sump", data))
    for where, vessel in vessels:
        if vessel.holds(middle) and middle[2] <= vessel.rim:
            return where
    return "room"
