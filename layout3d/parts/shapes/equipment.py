"""What equipment shares: how it stands, boxes with cut edges, spaces kept clear, and the tube on a barb."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TypeVar

import numpy as np

from layout3d.parts.base import Built, KeepClear, Part, PlacedPart, Site, Vector, vector
from layout3d.solid.primitives import box, prism
from layout3d.solid.shape import Placement, Shape, Solid
from layout3d.solid.store import stored

__all__ = ["casing", "stood", "tube_of_bore"]

PartT = TypeVar("PartT", bound=PlacedPart)


@stored
def casing(length: float, width: float, height: float, chamfer: float) -> Shape:
    """Return a box with its upright edges cut off, centred in plan, from z = 0."""
    x, y, c = length / 2, width / 2, min(chamfer, length / 4, width / 4)
    if c <= 0:
        return box((length, width, height))
    right = [(x - c, -y), (x, c - y), (x, y - c), (x - c, y)]
    left = [(c - x, y), (-x, y - c), (-x, c - y), (c - x, -y)]
    return prism(np.array([*right, *left]), height)


def stood(
    part: PartT,
    site: Site,
    made: Solid,
    *,
    material: str,
    anchors: Mapping[str, Vector] | None = None,
    clear: float = 0.0,
    why: str = "",
    where: str = "",
    filled: float = 1.0,
    porosity: float | None = None,
) -> Built[PartT, None]:
    """Build a part that is one solid, ``made`` about its base point, where it stands.

    ``anchors`` are in its own axes; ``clear`` is the height of the space kept free above it, [m], and ``why``
    what for. ``where`` as of a body: by default where its middle is; ``filled`` and ``porosity`` too.
    """
    placement = site.placement(part, made)
    solid = made.moved(placement)
    body = part.body(
        solid,
        site,
        material=material,
        porosity=porosity,
        filled=filled,
        where=where or part.whereabouts(site, solid),
    )
    return Built(
        part=part,
        data=None,
        bodies=(body,),
        joins=part.fixings(),
        anchors={name: vector(placement.apply(at)) for name, at in (anchors or {}).items()},
        keep_clear=_clear_above(part, solid, clear, why),
    )


def _clear_above(part: Part, solid: Solid, height: float, why: str) -> tuple[KeepClear, ...]:
    """Return the space of this height over a solid's bounding box, or nothing where the height is 0."""
    if height <= 0:
        return ()
    (x, y, _), (right, back, top) = (vector(corner) for corner in solid.bounds)
    space = box((right - x, back - y, height)).solid(Placement.at((x, y, top)))
    return (KeepClear(name=f"{part.name}.clear", part=part.name, solid=space, why=why),)


def tube_of_bore(site: Site, part: Part, bore: float) -> str:
    """Return the catalogue's tube of this bore, for a barb that no tube is named for."""
    tubes = [site.catalog.tube(name) for name in site.catalog.names("tubes")]
    nearest = min((t for t in tubes if t.kind == "tube"), key=lambda t: abs(t.inside - bore))
    if abs(nearest.inside - bore) > 0.0006:
        raise part.mistake(
            "model",
            f"no tube of {site.length(bore)} bore is in the catalogue",
            expected="`outlet:` with the name of a pipe or tube",
        )
    return nearest.name
