"""A plant as a placed volume: foliage that gives way, and a root ball that takes room."""

from __future__ import annotations

from dataclasses import dataclass

from layout3d.fields import CatalogName, Choice, Count, Flag, Number, Quantity, field
from layout3d.parts.base import Built, PlacedPart, Site
from layout3d.parts.forms.leaf import PLANT_FORMS
from layout3d.parts.shapes.natural import asked, plant_shape

__all__ = ["Plant"]


@dataclass(frozen=True, kw_only=True)
class Plant(PlacedPart):
    """A plant; ``at`` is its ground line. Leaves may touch anything: they bend."""

    kind = "plant"
    group = "plant"

    form: str = field(Choice(PLANT_FORMS), "fern", doc="how it looks")
    seed: int = field(Count(0, 10**9), 0, doc="another number, another plant")
    height: float = field(Quantity("length", least=0.01, most=2.0), doc="of its foliage")
    spread: float = field(Quantity("length", least=0.02, most=2.0), doc="longest side of its foliage in plan")
    detail: float = field(Number(least=0.5, most=3.0), 1.0, doc="more is finer")
    root: bool = field(Flag(), True, doc="false: no root ball (a cutting tied to wood)")
    material: str = field(CatalogName("material"), "plant", doc="of foliage and roots")

    def build(self, site: Site) -> Built:
        """Build foliage and root ball."""
        placement = site.placement(self)
        bodies = []
        for piece in ("foliage", "root") if self.root else ("foliage",):
            shape = asked(
                self,
                "spread",
                lambda piece=piece: plant_shape(  # type: ignore[misc] # mypy can't type a bound default
                    self.seed, self.form, self.height, self.spread, self.detail, piece
                ),
            )
            bodies.append(
                self.body(shape, site, material=self.material, piece=piece, kind=piece, placement=placement)
            )
        from layout3d.parts.base import Join

        return Built(
            part=self, bodies=tuple(bodies), joins=(Join(self.name, self.name, "glued"), *self.fixings())
        )
