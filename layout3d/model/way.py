"""How a part of a built scene goes as its place in the file becomes another. Nothing is built anew."""

from __future__ import annotations

from layout3d.fields_composite import Position
from layout3d.model.build import BuildSite
from layout3d.model.model import Model
from layout3d.parts.base import Part
from layout3d.solid.placement import Placement

__all__ = ["way_to"]


def way_to(model: Model, part: Part, position: Position) -> Placement:
    """Return how a part goes from where it stands if its ``at`` becomes this: on the ground, or on its face.

    It goes as a whole, turned with the face; what drapes over that is bent anew only as it is built.

    Raises
    ------
    LayoutError : it can't stand there.
    """
    site, stands = BuildSite(model.scene, model), []
    for at in (part.at, position):  # type: ignore[attr-defined] # whoever moves it knows that it has one
        place = site.point(at, part)
        yaw = site.face(at, part).yaw(place) if at.on else 0.0
        stands.append(Placement.at(place) @ Placement.turned((0.0, 0.0, 1.0), yaw))
    return stands[1] @ stands[0].inverse()
