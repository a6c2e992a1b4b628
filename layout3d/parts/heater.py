"""An immersion heater: a rod that has to stay under water."""

from __future__ import annotations

from dataclasses import dataclass

from layout3d.fields import CatalogName, Quantity, field
from layout3d.parts.base import Built, PlacedPart, Site, vector
from layout3d.parts.shapes.equipment import clear_above
from layout3d.parts.shapes.whereabouts import where_is
from layout3d.solid.boolean import union
from layout3d.solid.primitives import cylinder
from layout3d.solid.shape import Placement

__all__ = ["Heater"]


@dataclass(frozen=True, kw_only=True)
class Heater(PlacedPart):
    """A heater; ``at`` is the middle of its lower end. It stands upright until it is turned."""

    kind = "heater"
    group = "equipment"
    points = {  # noqa: RUF012 - annotated in the base
        "top": "anchor: its upper end",
    }

    length: float = field(Quantity("length", least=0.05, most=1.0), 0.30, doc="of the rod")
    diameter: float = field(Quantity("length", least=0.005, most=0.1), 0.03, doc="of the rod")
    power: float = field(Quantity("power", least=0.0, most=5000.0), 0.0, doc="electric power; 0 if not known")
    clear: float = field(
        Quantity("length", least=0.0, most=0.5), 0.0, doc="space kept clear above it for hand and cable"
    )
    material: str = field(CatalogName("material"), "glass", doc="of the rod, half of which is air")

    def build(self, site: Site) -> Built[Heater, None]:
        """Build the rod with its cap."""
        rod = cylinder(self.diameter / 2, self.length).solid()
        cap = cylinder(0.62 * self.diameter, 0.16 * self.length).solid(
            Placement.at((0, 0, 0.84 * self.length))
        )
        whole = union([rod, cap])
        assert whole is not None, "a heater has a rod (Heater.build)"
        placement = site.placement(self, whole)
        solid = whole.moved(placement)
        where = where_is(site, self, solid.bounds)
        # a tube with a winding in it that just sinks: half of it is glass (common practice, no source)
        body = self.body(solid, site, material=self.material, where=where, filled=0.5)
        return Built(
            part=self,
            data=None,
            bodies=(body,),
            joins=self.fixings(),
            anchors={"top": vector(placement.apply([0.0, 0.0, self.length]))},
            keep_clear=clear_above(self, solid, self.clear, "hand and cable"),
        )
