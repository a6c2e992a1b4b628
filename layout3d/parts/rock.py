"""A rock, grown from a seed or read from a scanned mesh."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial

from layout3d.fields import CatalogName, Choice, Count, Length, Number, field
from layout3d.fields_composite import Point
from layout3d.parts.base import Built, Site
from layout3d.parts.forms.rock import ROCK_FORMS
from layout3d.parts.shapes.natural import Scanned, build_scanned, grown

_SIDE = Length(0.005, 5.0)


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

    def build(self, site: Site) -> Built[Rock, None]:
        """Build the rock."""
        figures = {"size": self.size or (0.0, 0.0, 0.0), "roughness": self.roughness, "detail": self.detail}
        grow = partial(grown, "rock", seed=self.seed, form=self.form, **figures)
        return build_scanned(self, site, self.material, "size", grow)
