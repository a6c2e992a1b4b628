"""An ultrasonic mist maker: a disc that works under a stated depth of water, with room for its plume."""

from __future__ import annotations

from dataclasses import dataclass

from layout3d.fields import CatalogName, Quantity, field
from layout3d.parts.base import Built, PlacedPart, Site
from layout3d.parts.shapes.equipment import clear_above
from layout3d.parts.shapes.whereabouts import where_is
from layout3d.solid.boolean import union
from layout3d.solid.primitives import cylinder
from layout3d.solid.shape import Placement

__all__ = ["MistMaker"]


@dataclass(frozen=True, kw_only=True)
class MistMaker(PlacedPart):
    """A mist maker; ``at`` is the middle of its base."""

    kind = "mist_maker"
    group = "equipment"

    diameter: float = field(Quantity("length", least=0.01, most=0.3), 0.045, doc="of its disc")
    height: float = field(Quantity("length", least=0.005, most=0.2), 0.03, doc="of its body")
    clear: float = field(Quantity("length", least=0.0, most=1.0), 0.12, doc="space kept clear for its plume")
    material: str = field(CatalogName("material"), "steel", doc="of its body")

    def build(self, site: Site) -> Built[MistMaker, None]:
        """Build the disc."""
        base = cylinder(self.diameter / 2, 0.8 * self.height).solid()
        ring = cylinder(0.35 * self.diameter, self.height).solid(Placement.identity())
        whole = union([base, ring])
        assert whole is not None, "a mist maker has a body (MistMaker.build)"
        solid = whole.moved(site.placement(self, whole))
        body = self.body(solid, site, material=self.material, where=where_is(site, self, solid.bounds))
        return Built(
            part=self,
            data=None,
            bodies=(body,),
            joins=self.fixings(),
            keep_clear=clear_above(self, solid, self.clear, "its plume"),
        )
