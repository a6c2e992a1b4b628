"""A filter basket or sock holder: an open box whose walls are taken as solid."""

from __future__ import annotations

from dataclasses import dataclass

from layout3d.errors import SceneMistake
from layout3d.fields import CatalogName, Length, Quantity, field
from layout3d.fields_composite import Point
from layout3d.parts.base import Built, PlacedPart, Site
from layout3d.parts.shapes.equipment import stood
from layout3d.solid.boolean import difference, whole
from layout3d.solid.primitives import box
from layout3d.solid.shape import Placement

_SIDE = Length(0.02, 2.0)


@dataclass(frozen=True, kw_only=True)
class FilterBasket(PlacedPart):
    """A basket, open on top; ``at`` is the middle of its base."""

    kind = "filter_basket"
    group = "equipment"

    size: tuple[float, float, float] = field(Point(("length", "width", "height"), _SIDE), doc="outside")
    wall: float = field(Length(0.0005, 0.05), 0.003, doc="thickness of its walls")
    open_share: float = field(
        Quantity("number", least=0.0, most=0.95), 0.4, doc="share of the walls that is slots; 40 % is 0.4"
    )
    clear: float = field(Length(0.0, 1.0), 0.15, doc="space kept clear above it, to lift it out")
    material: str = field(CatalogName("material"), "polypropylene", doc="of its walls")

    def __post_init__(self) -> None:
        """Refuse walls that fill the basket."""
        if 2 * self.wall >= min(self.size):
            raise SceneMistake("the walls fill the basket", expected="thinner walls", path="wall")

    def build(self, site: Site) -> Built[FilterBasket, None]:
        """Build the basket."""
        length, width, height = self.size
        wall = self.wall
        outer = box(self.size).solid(Placement.at((-length / 2, -width / 2, 0.0)))
        inner = box((length - 2 * wall, width - 2 * wall, height)).solid(
            Placement.at((wall - length / 2, wall - width / 2, wall))
        )
        return stood(
            self,
            site,
            whole(difference(outer, [inner]), "filter basket"),
            material=self.material,
            porosity=self.open_share,
            clear=self.clear,
            why="lifting it out",
        )
