"""What equipment shares: boxes with cut edges, spaces kept clear above a body, and the tube on a barb."""

from __future__ import annotations

import numpy as np

from layout3d.parts.base import KeepClear, Part, Site
from layout3d.solid.primitives import box, prism
from layout3d.solid.shape import Placement, Shape, Solid
from layout3d.solid.store import stored

__all__ = ["casing", "clear_above", "tube_of_bore"]


@stored
def casing(length: float, width: float, height: float, chamfer: float) -> Shape:
    """Return a box with its upright edges cut off, centred in plan, from z = 0."""
    x, y, c = length / 2, width / 2, min(chamfer, length / 4, width / 4)
    if c <= 0:
        return box((length, width, height))
    outline = [
        (x - c, -y),
        (x, c - y),
        (x, y - c),
        (x - c, y),
        (c - x, y),
        (-x, y - c),
        (-x, c - y),
        (c - x, -y),
    ]
    return prism(np.array(outline), height)


def clear_above(part: Part, solid: Solid, height: float, why: str) -> tuple[KeepClear, ...]:
    """Return the space of this height over a solid's bounding box, or nothing where the height is 0."""
    if height <= 0:
        return ()
    low, high = solid.bounds
    size = (float(high[0] - low[0]), float(high[1] - low[1]), height)
    space = box(size).solid(Placement.at((float(low[0]), float(low[1]), float(high[2]))))
    return (KeepClear(name=f"{part.name}.clear", part=part.name, solid=space, why=why),)


def tube_of_bore(site: Site, part: Part, bore: float) -> str:
    """Return the catalogue's tube of this bore, for a barb that no tube is named for."""
    names = site.catalog.names("tubes")
    tubes = [site.catalog.tube(name) for name in names]
    nearest = min((t for t in tubes if t.kind == "tube"), key=lambda t: abs(t.inside - bore))
    if abs(nearest.inside - bore) > 0.0006:
        raise part.mistake(
            "model",
            f"no tube of {site.length(bore)} bore is in the catalogue",
            expected="`outlet:` with the name of a pipe or tube",
        )
    return nearest.name
