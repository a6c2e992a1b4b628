"""An immersion heater: a rod that has to stay under water."""

from __future__ import annotations

from dataclasses import dataclass

from layout3d.fields import CatalogName, Length, Quantity, field
from layout3d.parts.base import Built, PlacedPart, Site
from layout3d.parts.shapes.equipment import stood
from layout3d.solid.boolean import union, whole
from layout3d.solid.primitives import cylinder
from layout3d.solid.shape import Placement


@dataclass(frozen=True, kw_only=True)
class Heater(PlacedPart):
    """A heater; ``at`` is the middle of its lower end. It stands upright until it is turned."""

    kind = "heater"
    group = "equipment"
    points = {  # noqa: RUF012 - annotated in the base
        "top": "anchor: its upper end"
    }

    length: float = field(Length(0.05, 1.0), 0.30, doc="of the rod")
    diameter: float = field(Length(0.005, 0.1), 0.03, doc="of the rod")
    power: float = field(Quantity("power", least=0.0, most=5000.0), 0.0, doc="electric power; 0 if not known")
    clear: float = field(Length(0.0, 0.5), 0.0, doc="space kept clear above it for hand and cable")
    material: str = field(CatalogName("material"), "glass", doc="of the rod, half of which is air")

    def build(self, site: Site) -> Built[Heater, None]:
        """Build the rod with its cap."""
        rod = cylinder(self.diameter / 2, self.length).solid()
        cap = cylinder(0.62 * self.diameter, 0.16 * self.length)
        capped = union([rod, cap.solid(Placement.at((0, 0, 0.84 * self.length)))])
        # a tube with a winding in it that just sinks: half of it is glass (common practice, no source)
        return stood(
            self,
            site,
            whole(capped, "heater"),
            material=self.material,
            filled=0.5,
            anchors={"top": (0.0, 0.0, self.length)},
            clear=self.clear,
            why="hand and cable",
        )
