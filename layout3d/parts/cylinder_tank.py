"""An upright round tank, cast or bent of acrylic and cemented to its floor. Its strength is not computed.

The wall is drawn as a polygon of its true area, its sides within 0.05 mm of the arc. Holes are told by their
angle around and their height; in the floor by their angle and their way out from the middle.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from layout3d.errors import SceneMistake
from layout3d.fields import CatalogName, Choice, Length, Quantity, field
from layout3d.fields_composite import Entries, record
from layout3d.parts.base import Built, Site
from layout3d.parts.drilled_tank import Hole, TankPart
from layout3d.parts.shapes.glazing import assemble, bottom_panel
from layout3d.parts.shapes.plan import Polygon
from layout3d.parts.tank_data import Edge, RoundWall, TankData
from layout3d.solid.outline import circle
from layout3d.solid.primitives import prism
from layout3d.solid.shape import Placement
from layout3d.units import show

__all__ = ["CylinderTank", "RoundHole"]

_THICKNESS = Length(0.002, 0.1)
_SIZE = Length(0.1, 10.0)
_PLACE = Length(0.0, 10.0)
FINE = 5e-5
"""How far a side of the wall's polygon may stray from the arc, [m]."""


@dataclass(frozen=True, kw_only=True)
class RoundHole(Hole):
    """A drilled hole in a round tank: around the wall and up it, or out from the middle of the floor."""

    panel: str = field(Choice(("wall", "bottom")), "wall", doc="where it is drilled")
    angle: float = field(
        Quantity("angle", least=-2 * math.pi, most=2 * math.pi),
        0.0,
        doc="around, from the front towards the right: 90 deg is right, 180 deg the back",
    )
    bottom: float | None = field(_PLACE, None, doc="in the wall: centre above the inside floor")
    top: float | None = field(_PLACE, None, doc="or below the wall's top edge")
    out: float | None = field(_PLACE, None, doc="in the bottom: centre from the middle of the floor")

    def __post_init__(self) -> None:
        """Refuse a hole whose place is told in two ways, or in none."""
        super().__post_init__()
        given = [name for name in ("bottom", "top", "out") if getattr(self, name) is not None]
        if len(given) != 1 or (given == ["out"]) != (self.panel == "bottom"):
            raise SceneMistake(
                f"a hole in the {self.panel} given by {' and '.join(given) or 'no distance'}",
                expected="`out:`" if self.panel == "bottom" else "one of `bottom:` and `top:`",
            )


@dataclass(frozen=True, kw_only=True)
class CylinderTank(TankPart):
    """A round tank; positions count from the front left bottom corner of the square around its inside."""

    kind = "cylinder_tank"

    inside_diameter: float = field(_SIZE, doc="between the inside faces")
    height: float = field(_SIZE, doc="inside, from the floor to the wall's top")
    wall: float = field(_THICKNESS, doc="thickness of the wall")
    floor: float = field(_THICKNESS, doc="thickness of the floor, which the wall stands on")
    material: str = field(CatalogName("material"), "acrylic", doc="of wall and floor")
    holes: Mapping[str, RoundHole] = field(
        Entries(record(RoundHole, "a hole"), "hole"), {}, doc="drilled holes by name"
    )

    def __post_init__(self) -> None:
        """Refuse a wall that leaves no room, and holes that are called like something else."""
        if self.wall >= self.inside_diameter / 4:
            raise SceneMistake(
                f"a wall {show(self.wall, 'length')} thick round {show(self.inside_diameter, 'length')}",
                expected="a wall thinner than a quarter of the inside diameter",
                path="wall",
            )
        self.check_hole_names()

    def wall_names(self) -> tuple[str, ...]:
        """Return the one wall's name."""
        return ("wall",)

    def thickness(self, panel: str) -> float:
        """Return the thickness of wall or bottom, [m]."""
        return self.floor if panel == "bottom" else self.wall

    def inside_size(self) -> tuple[float, float, float]:
        """Return the inside diameter twice, and the height, [m]."""
        return (self.inside_diameter, self.inside_diameter, self.height)

    def outside_size(self) -> tuple[float, float, float]:
        """Return the outside diameter twice, and the height with the floor, [m]."""
        across = self.inside_diameter + 2 * self.wall
        return (across, across, self.height + self.floor)

    def build(self, site: Site) -> Built[CylinderTank, TankData]:
        """Build wall and floor with their holes, and bulkheads."""
        radius, height = self.inside_diameter / 2, self.height
        plan, outer = self._round(radius), self._round(radius + self.wall)
        sides = ["wall"] * len(plan)
        around = 2 * math.pi * radius
        wall = RoundWall(
            name="wall",
            body=f"{self.name}.wall",
            length=around,
            height=height,
            thickness=self.wall,
            edges=("left", "right", "bottom", "top"),
            outline=(
                Edge(name="bottom", start=(0.0, 0.0), end=(around, 0.0)),
                Edge(name="top", start=(around, height), end=(0.0, height)),
            ),
            seams=(Edge(name="bottom", start=(0.0, 0.0), end=(around, 0.0)),),
            axis=(radius, radius),
            inside_radius=radius,
            start=-math.pi / 2,
        )
        bottom = bottom_panel(self, plan=plan, outer_plan=outer, sides=sides)
        return assemble(
            self,
            site,
            panes={
                "wall": (wall, prism(outer, height, holes=[plan]).solid()),
                "bottom": (bottom, prism(outer, self.floor).solid(Placement.at((0.0, 0.0, -self.floor)))),
            },
            centre=lambda name, _: self._centre(site, name, self.holes[name]),
            plan=plan,
            outer_plan=outer,
            sides=sides,
        )

    def _round(self, radius: float) -> Polygon:
        """Return a circle round the tank's axis as a polygon of its area, a multiple of four sides."""
        count = 4 * math.ceil(math.pi * math.sqrt(self.inside_diameter / (4 * FINE)) / 4)
        middle = self.inside_diameter / 2
        ring: Polygon = circle(radius, max(count, 48)) + middle
        return ring

    def _centre(self, site: Site, name: str, hole: RoundHole) -> tuple[float, float]:
        """Return the centre (u, v) of a hole on its wall, [m]."""
        radius = self.inside_diameter / 2
        if hole.panel == "bottom":
            out = hole.out or 0.0
            return (radius + out * math.sin(hole.angle), radius - out * math.cos(hole.angle))
        given = "bottom" if hole.bottom is not None else "top"
        up = hole.bottom if hole.bottom is not None else self.height - (hole.top or 0.0)
        if not 0 < up < self.height:
            raise self.mistake(
                f"holes.{name}.{given}",
                f"the centre of {name} lies {site.length(getattr(hole, given))} from its {given}, "
                "off the wall",
                expected=f"more than 0 and less than {site.length(self.height)}",
            )
        return (radius * (-hole.angle % (2 * math.pi)), up)
