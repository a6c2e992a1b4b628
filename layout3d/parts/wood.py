"""A piece of driftwood, grown from a seed or read from a scanned mesh."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial

from layout3d.fields import CatalogName, Choice, Count, Length, Number, field
from layout3d.parts.base import Built, Site
from layout3d.parts.forms.wood import WOOD_FORMS
from layout3d.parts.shapes.natural import Scanned, build_scanned, grown


@dataclass(frozen=True, kw_only=True)
class Wood(Scanned):
    """Driftwood; ``at`` is the middle of its base. A grown log or branch lies along x, a root stands."""

    kind = "wood"
    group = "wood"
    grown_by = "length"

    form: str = field(Choice(WOOD_FORMS), "log", doc="how grown wood looks")
    seed: int = field(Count(0, 10**9), 0, doc="another number, another piece")
    length: float | None = field(Length(0.05, 4.0), None, doc="longest side of a grown piece")
    thickness: float | None = field(
        Length(0.002, 1.0), None, doc="of its stem; a tenth of the length if not given"
    )
    branches: int = field(Count(0, 16), 4, doc="limbs that leave the stem, or roots of a root")
    twist: float = field(Number(least=0.0, most=1.0), 0.5, doc="how crooked it is")
    taper: float = field(Number(least=0.0, most=0.95), 0.5, doc="share of its thickness lost to the tip")
    detail: int = field(Count(2000, 200_000), 16_000, doc="about how many triangles")
    material: str = field(CatalogName("material"), "root wood waterlogged", doc="what it is made of")

    dimensions = {"longest_side": lambda wood: wood.length or wood.longest or 0.0}  # noqa: RUF012 - see base

    def build(self, site: Site) -> Built[Wood, None]:
        """Build the piece."""
        length = self.length or 0.0
        thickness = self.thickness if self.thickness is not None else length / 10
        looks = {
            name: getattr(self, name) for name in ("seed", "form", "branches", "twist", "taper", "detail")
        }
        grow = partial(grown, "wood", length=length, thickness=thickness, **looks)
        return build_scanned(self, site, self.material, "thickness", grow)
