"""A mat on the tank's floor, under rock: foam rubber, or a plastic grid that the sand fills."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from layout3d.errors import SceneMistake
from layout3d.fields import CatalogName, Length, field
from layout3d.fields_composite import Point
from layout3d.parts.base import Built, Join, Part, Site
from layout3d.parts.shapes.plan import is_square
from layout3d.solid.boolean import difference, intersection
from layout3d.solid.primitives import box
from layout3d.solid.shape import Placement

_PLACE = Length(-20.0, 20.0)


@dataclass(frozen=True, kw_only=True)
class Mat(Part):
    """A mat on the floor; stones stand on it and not on the glass, and the bed lies around it."""

    kind = "mat"
    group = "substrate"

    thickness: float = field(Length(0.001, 0.1), 0.006, doc="of the mat or grid")
    region: tuple[float, float, float, float] | None = field(
        Point(("left", "front", "right", "back"), _PLACE),
        None,
        doc="x and y it reaches over; the whole floor if not given",
    )
    material: str = field(CatalogName("material"), "foam rubber", doc="such as foam rubber, or plastic grid")

    def __post_init__(self) -> None:
        """Refuse a region of nothing."""
        if self.region and not (self.region[0] < self.region[2] and self.region[1] < self.region[3]):
            raise SceneMistake(
                "an empty region", expected="[left, front, right, back], rising", path="region"
            )

    def _box(self, site: Site) -> tuple[float, float, float, float]:
        high = site.tank().data.high
        left, front, right, back = self.region or (0.0, 0.0, high[0], high[1])
        return max(left, 0.0), max(front, 0.0), min(right, high[0]), min(back, high[1])

    def height_at(self, site: Site, x: float, y: float) -> float:
        """Return its height at a point, [m]; 0 where it does not reach."""
        left, front, right, back = self._box(site)
        return self.thickness if left <= x <= right and front <= y <= back else 0.0

    def build(self, site: Site) -> Built[Mat, None]:
        """Build the mat, cut to the floor."""
        tank = site.tank()
        left, front, right, back = self._box(site)
        laid = None
        if left < right and front < back:
            laid = box((right - left, back - front, self.thickness)).solid(Placement.at((left, front, 0.0)))
            if not is_square(np.array(tank.data.plan)):
                laid = intersection(laid, tank.data.interior)
        beads = [body for body in tank.bodies if body.kind == "silicone"]
        laid = difference(laid, [body.solid for body in beads]) if laid else None
        if laid is None:
            raise self.mistake("region", "the mat lies outside the tank", expected="a region of its floor")
        return Built(
            part=self,
            data=None,
            bodies=(self.body(laid, site, material=self.material),),
            joins=(
                Join(self.name, tank.part.name, "rests"),
                *(Join(self.name, body.name, "seal") for body in beads),
            ),
        )
