"""A rock, grown from a seed or read from a scanned mesh."""

from __future__ import annotations

from dataclasses import dataclass

from layout3d.errors import SceneMistake
from layout3d.fields import CatalogName, Choice, Count, Number, Quantity, field
from layout3d.fields_composite import Point
from layout3d.parts.base import Built, Site
from layout3d.parts.forms.rock import ROCK_FORMS
from layout3d.parts.shapes.natural import Scanned, asked, imported_shape, rock_shape, scan_notes

__all__ = ["Rock"]

_SIDE = Quantity("length", least=0.005, most=5.0)


@dataclass(frozen=True, kw_only=True)
class Rock(Scanned):
    """A rock; ``at`` is the middle of its base."""

    kind = "rock"
    group = "rock"

    form: str = field(Choice(ROCK_FORMS), "boulder", doc="how a grown rock looks")
    seed: int = field(Count(0, 10**9), 0, doc="another number, another rock")
    size: tuple[float, float, float] | None = field(
        Point(("length", "width", "height"), _SIDE), None, doc="of a grown rock, before it is turned"
    )
    roughness: float = field(Number(least=0.0, most=1.0), 0.5, doc="0 is worn smooth, 1 is raw")
    detail: int | None = field(
        Count(200, 200_000), None, doc="about how many triangles; by form if not given"
    )
    material: str = field(CatalogName("material"), "granite", doc="what it is made of")

    def __post_init__(self) -> None:
        """Refuse a rock without a size."""
        if bool(self.mesh) == (self.size is not None):
            raise SceneMistake(
                "both size and mesh" if self.mesh else "neither size nor mesh",
                expected="`size:` of a grown rock, or `mesh:`",
                path="mesh" if self.mesh else "",
            )

    def build(self, site: Site) -> Built[Rock, None]:
        """Build the rock."""
        scan = None
        if self.mesh:
            material = site.catalog.material(self.material)
            shape, scan = imported_shape(
                self,
                site,
                self.mesh,
                longest=self.longest,
                file_unit=self.file_unit,
                up=self.up,
                density=material.density * (1 - material.porosity),
                mass=self.mass,
                hull=self.hull,
            )
        else:
            assert self.size is not None, "checked in __post_init__ (Rock.build)"
            size = self.size
            shape = asked(
                self,
                "size",
                lambda: rock_shape(self.seed, self.form, size, self.roughness, self.detail),
                site,
            )
        body = self.body(shape, site, material=self.material, placement=site.placement(self, shape))
        return Built(
            part=self,
            data=None,
            bodies=(body,),
            joins=self.fixings(),
            scan=scan,
            notes=scan_notes(self.name, scan, self.up),
        )
