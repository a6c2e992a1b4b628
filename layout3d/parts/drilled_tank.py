"""What every kind of tank shares: a scene has one, holes can be drilled in it, and positions count from it.

A kind of tank is a ``TankPart`` that builds into ``TankData``; nothing else has to know how it is made.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from layout3d.errors import SceneMistake, nearest
from layout3d.fields import CatalogName, Choice, Flag, Length, Name, field
from layout3d.fields_composite import Entries, record
from layout3d.parts.base import GROUPS, Part

__all__ = ["PIECES", "Hole", "HoleFields", "TankPart"]

PIECES = ("silicone", "rim", "perimeter_brace")
"""Pieces of a tank beside its panels and cross braces; no panel or hole can be called so."""

_FROM_EDGE = Length(0.0, 10.0)


@dataclass(frozen=True, kw_only=True)
class Hole:
    """What is told of a drilled hole, wherever it is: its diameter, or the bulkhead in it."""

    panel: str = field(Name("a panel"), doc="the panel it is drilled in")
    diameter: float | None = field(
        Length(0.002, 0.5), None, doc="of the hole; by default what the bulkhead asks"
    )
    bulkhead: str = field(CatalogName("bulkhead"), "", doc="the bulkhead fitting that goes in it")
    flange: str = field(Choice(("inside", "outside")), "inside", doc="the side of the flange and gasket")
    drilled_from: str = field(
        Choice(("outside", "inside")),
        "outside",
        doc="the side that the drill comes from, which its template shows",
    )
    plugged: bool = field(Flag(), False, doc="true if the hole or bulkhead is closed with a plug")

    def __post_init__(self) -> None:
        """Refuse a hole that has neither diameter nor bulkhead."""
        if self.diameter is None and not self.bulkhead:
            raise SceneMistake("a hole with neither diameter nor bulkhead", expected="one of the two")


@dataclass(frozen=True, kw_only=True)
class HoleFields(Hole):
    """A drilled hole in a flat pane: its panel, its centre from two edges, its diameter or bulkhead."""

    left: float | None = field(
        _FROM_EDGE, None, doc="centre from the panel's left edge (front, back, bottom)"
    )
    right: float | None = field(_FROM_EDGE, None, doc="or from its right edge")
    front: float | None = field(_FROM_EDGE, None, doc="centre from the front edge (left, right, bottom)")
    back: float | None = field(_FROM_EDGE, None, doc="or from the back edge")
    start: float | None = field(
        _FROM_EDGE, None, doc="centre from the panel's first corner (polygonal tanks)"
    )
    end: float | None = field(_FROM_EDGE, None, doc="or from its second corner")
    bottom: float | None = field(_FROM_EDGE, None, doc="centre above the inside floor (walls)")
    top: float | None = field(_FROM_EDGE, None, doc="or below the glass's top edge")


@dataclass(frozen=True, kw_only=True)
class TankPart(Part):
    """Base of all kinds of tank; its inside front left bottom corner is the origin of all positions.

    Where the plan is no rectangle, that is the corner of the box around the inside. The bottom is called
    'bottom' in every kind.
    """

    group = "glass"
    points = {  # noqa: RUF012 - annotated in the base
        "NAME": "anchor: the centre of the hole NAME on the inside face",
        "NAME.inside": "port: of the bulkhead in the hole NAME, into the tank",
        "NAME.outside": "port: of the same, out of the tank",
    }
    dimensions = {  # noqa: RUF012 - frozen part of the class, annotated in the base
        "inside_length": lambda tank: tank.inside_size()[0],
        "inside_depth": lambda tank: tank.inside_size()[1],
        "inside_height": lambda tank: tank.inside_size()[2],
        "outside_length": lambda tank: tank.outside_size()[0],
        "outside_depth": lambda tank: tank.outside_size()[1],
        "outside_height": lambda tank: tank.outside_size()[2],
        "bottom_thickness": lambda tank: tank.thickness("bottom"),
    }

    material: str = field(CatalogName("material"), "glass", doc="of the panels and braces")
    holes: Mapping[str, Hole] = field(
        Entries(record(HoleFields, "a hole"), "hole"), {}, doc="drilled holes by name"
    )

    def wall_names(self) -> tuple[str, ...]:
        """Return the walls' names, counter-clockwise from the front."""
        raise NotImplementedError(f"{type(self).__name__}.wall_names")

    def panel_names(self) -> tuple[str, ...]:
        """Return all panels' names, the bottom last."""
        return (*self.wall_names(), "bottom")

    def thickness(self, panel: str) -> float:
        """Return a panel's thickness, [m]."""
        raise NotImplementedError(f"{type(self).__name__}.thickness")

    def inside_size(self) -> tuple[float, float, float]:
        """Return length, depth and height of the box around the inside, [m]."""
        raise NotImplementedError(f"{type(self).__name__}.inside_size")

    def outside_size(self) -> tuple[float, float, float]:
        """Return length, depth and height of the box around the outside, [m]."""
        raise NotImplementedError(f"{type(self).__name__}.outside_size")

    def check_hole_names(self) -> None:
        """Refuse a hole that is called like something else, or that is drilled in no panel."""
        names = self.panel_names()
        taken = {*names, *GROUPS, *PIECES, "room"}
        for name, hole in self.holes.items():
            if name in taken or name.startswith("cross_brace_"):
                raise SceneMistake(
                    f"{name!r} means something else already",
                    expected="no name of a panel, a piece of the tank or a group",
                    remedy="give the hole another name",
                    path=f"holes.{name}",
                )
            if hole.panel not in names:
                raise SceneMistake(
                    f"{name}: no panel is called {hole.panel!r}",
                    expected=nearest(hole.panel, names),
                    path=f"holes.{name}.panel",
                )
