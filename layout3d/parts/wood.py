"""A piece of driftwood, grown from a seed or read from a scanned mesh."""

from __future__ import annotations

from dataclasses import dataclass

from layout3d.errors import SceneMistake
from layout3d.fields import CatalogName, Choice, Count, Number, Quantity, field
from layout3d.parts.base import Built, Site
from layout3d.parts.forms.wood import WOOD_FORMS
from layout3d.parts.shapes.natural import Scanned, asked, driftwood_shape, imported_shape, scan_notes

__all__ = ["Wood"]


@dataclass(frozen=True, kw_only=True)
class Wood(Scanned):
    """Driftwood; ``at`` is the middle of its base. A grown log or branch lies along x, a root stands."""

    kind = "wood"
    group = "wood"

    form: str = field(Choice(WOOD_FORMS), "log", doc="how grown wood looks")
    seed: int = field(Count(0, 10**9), 0, doc="another number, another piece")
    length: float | None = field(
        Quantity("length", least=0.05, most=4.0), None, doc="longest side of a grown piece"
    )
    thickness: float | None = field(
        Quantity("length", least=0.002, most=1.0), None, doc="of its stem; a tenth of the length if not given"
    )
    branches: int = field(Count(0, 16), 4, doc="limbs that leave the stem, or roots of a root")
    twist: float = field(Number(least=0.0, most=1.0), 0.5, doc="how crooked it is")
    taper: float = field(Number(least=0.0, most=0.95), 0.5, doc="share of its thickness lost to the tip")
    detail: int = field(Count(2000, 200_000), 16_000, doc="about how many triangles")
    material: str = field(CatalogName("material"), "root wood waterlogged", doc="what it is made of")

    dimensions = {"longest_side": lambda wood: wood.length or wood.longest or 0.0}  # noqa: RUF012 - see base

    def __post_init__(self) -> None:
        """Refuse wood without a size."""
        if bool(self.mesh) == (self.length is not None):
            raise SceneMistake(
                "both length and mesh" if self.mesh else "neither length nor mesh",
                expected="`length:` of a grown piece, or `mesh:`",
                path="mesh" if self.mesh else "",
            )

    def build(self, site: Site) -> Built[Wood, None]:
        """Build the piece."""
        scan = None
        if self.mesh:
            shape, scan = imported_shape(
                self,
                site,
                self.mesh,
                longest=self.longest,
                file_unit=self.file_unit,
                up=self.up,
                density=site.catalog.material(self.material).density,
                mass=self.mass,
                hull=self.hull,
            )
        else:
            assert self.length is not None, "checked in __post_init__ (Wood.build)"
            length = self.length
            thickness = self.thickness if self.thickness is not None else length / 10
            shape = asked(
                self,
                "thickness",
                lambda: driftwood_shape(
                    self.seed,
                    self.form,
                    length,
                    thickness,
                    self.branches,
                    self.twist,
                    self.taper,
                    self.detail,
                ),
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
