"""A light over the tank: a slim fixture with its cords. The light on the plants is not computed."""

from __future__ import annotations

from dataclasses import dataclass

from layout3d.fields import CatalogName, Length, Quantity, field
from layout3d.fields_composite import Point
from layout3d.parts.base import Built, PlacedPart, Site
from layout3d.parts.shapes.equipment import casing, stood
from layout3d.solid.boolean import union, whole
from layout3d.solid.primitives import cylinder
from layout3d.solid.shape import Placement

_SIDE = Length(0.01, 4.0)


@dataclass(frozen=True, kw_only=True)
class Light(PlacedPart):
    """A light; ``at`` is the middle of its lower face. Hang it with ``fixed_to: room`` or fix it to a rim."""

    kind = "light"
    group = "equipment"
    points = {  # noqa: RUF012 - annotated in the base
        "source": "anchor: the middle of the face that shines"
    }

    size: tuple[float, float, float] = field(
        Point(("length", "width", "height"), _SIDE), doc="of the fixture"
    )
    cords: float = field(Length(0.0, 3.0), 0.0, doc="length of two hanging cords; 0 for none")
    flux: float = field(
        Quantity("luminous flux", least=0.0),
        0.0,
        doc="luminous flux; 0 if not known (kept for the record: no light is computed from it)",
    )
    beam: float = field(
        Quantity("angle", least=0.05, most=3.1416),
        2.0944,
        doc="full angle to half the peak intensity (kept for the record as well)",
    )
    power: float = field(Quantity("power", least=0.0), 0.0, doc="electric power; 0 if not known")
    material: str = field(CatalogName("material"), "aluminium", doc="of the fixture")

    def build(self, site: Site) -> Built[Light, None]:
        """Build the fixture."""
        length, width, height = self.size
        pieces = [casing(length, width, height, 0.3 * width).solid()]
        if self.cords > 0:
            cord, apart = cylinder(0.0015, self.cords + 0.001, n=8), 0.35 * length
            pieces += [cord.solid(Placement.at((x, 0.0, height - 0.001))) for x in (-apart, apart)]
        # the fixture is a hollow profile: a fifth of it is metal (common practice, no source)
        return stood(
            self,
            site,
            whole(union(pieces), "light"),
            material=self.material,
            where="room",
            filled=0.2,
            anchors={"source": (0.0, 0.0, 0.0)},
        )
