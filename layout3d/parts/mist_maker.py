"""An ultrasonic mist maker: a disc that works under a stated depth of water, with room for its plume."""

from __future__ import annotations

from dataclasses import dataclass

from layout3d.fields import CatalogName, Length, field
from layout3d.parts.base import Built, PlacedPart, Site
from layout3d.parts.shapes.equipment import stood
from layout3d.solid.boolean import union, whole
from layout3d.solid.primitives import cylinder


@dataclass(frozen=True, kw_only=True)
class MistMaker(PlacedPart):
    """A mist maker; ``at`` is the middle of its base."""

    kind = "mist_maker"
    group = "equipment"

    diameter: float = field(Length(0.01, 0.3), 0.045, doc="of its disc")
    height: float = field(Length(0.005, 0.2), 0.03, doc="of its body")
    clear: float = field(Length(0.0, 1.0), 0.12, doc="space kept clear for its plume")
    material: str = field(CatalogName("material"), "steel", doc="of its body")

    def build(self, site: Site) -> Built[MistMaker, None]:
        """Build the disc."""
        base, ring = (
            cylinder(self.diameter / 2, 0.8 * self.height),
            cylinder(0.35 * self.diameter, self.height),
        )
        disc = whole(union([base.solid(), ring.solid()]), "mist maker")
        return stood(self, site, disc, material=self.material, clear=self.clear, why="its plume")
