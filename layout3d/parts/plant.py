"""A plant as a placed volume: foliage that gives way, and a root ball that takes room."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import partial

import numpy as np

from layout3d.fields import CatalogName, Choice, Count, Flag, Length, Number, field
from layout3d.fields_composite import Turn
from layout3d.parts.base import Built, Join, PlacedPart, Site
from layout3d.parts.forms.leaf import PLANT_FORMS
from layout3d.parts.shapes.natural import asked, grown
from layout3d.solid.boolean import intersection
from layout3d.solid.primitives import prism
from layout3d.solid.shape import Placement, Shape, Solid
from layout3d.units import show

DRAPED = ("moss", "creeper")
"""Forms that lie along what they grow on."""

LEAST_TOLD = 0.005
"""Leaves that reach less past the glass are not worth a word, [m]."""


@dataclass(frozen=True, kw_only=True)
class Plant(PlacedPart):
    """A plant; ``at`` is its ground line. Leaves may touch anything: they bend."""

    kind = "plant"
    group = "plant"

    form: str = field(Choice(PLANT_FORMS), "fern", doc="how it looks")
    seed: int = field(Count(0, 10**9), 0, doc="another number, another plant")
    height: float = field(Length(0.01, 2.0), doc="of its foliage")
    spread: float = field(Length(0.02, 2.0), doc="longest side of its foliage in plan")
    detail: float = field(Number(least=0.5, most=3.0), 1.0, doc="more is finer")
    root: bool = field(Flag(), True, doc="false: no root ball (a cutting tied to wood)")
    material: str = field(CatalogName("material"), "plant", doc="of foliage and roots")

    def build(self, site: Site) -> Built[Plant, None]:
        """Build foliage and root ball."""
        pieces = ("foliage", "root") if self.root else ("foliage",)
        figures = {name: getattr(self, name) for name in ("seed", "form", "height", "spread", "detail")}
        grow = partial(grown, "plant", **figures)
        shapes = asked(self, "spread", lambda: [grow(piece=piece) for piece in pieces], site)
        if self.at.on and self.form in DRAPED:
            solids = self._draped(site, shapes)
        else:
            placement = site.placement(self, shapes[0], stands=False)
            solids = [shape.solid(placement) for shape in shapes]
        solids[0], past = self._within(site, solids[0])
        told = f"{self.name}: its leaves reach {show(past, 'length')} past the glass; they bend"
        return Built(
            part=self,
            data=None,
            bodies=tuple(
                self.body(solid, site, material=self.material, piece=piece, kind=piece)
                for piece, solid in zip(pieces, solids, strict=True)
            ),
            joins=(Join(self.name, self.name, "glued"), *self.fixings()),
            notes=(told,) if past > LEAST_TOLD else (),
        )

    def _draped(self, site: Site, shapes: list[Shape]) -> list[Solid]:
        """Return the plant laid along the face that it grows on; moss on a wall grows out of it."""
        face, point = site.face(self.at, self), site.point(self.at, self)
        if self.turn != Turn(about_up=self.turn.about_up if self.form == "moss" else 0.0):
            free = "moss turned `about_up:` alone" if self.form == "moss" else f"a {self.form} without a turn"
            raise self.mistake("turn", f"it lies along {self.at.on}, which turns it", expected=free)
        placement = Placement.turned((0.0, 0.0, 1.0), self.turn.about_up)
        if face.axis != 2:
            if self.form == "moss":
                placement = Placement.turned((1.0, 0.0, 0.0), math.pi / 2) @ placement
            aside = 0.0 if face.axis == 1 else -face.sign * math.pi / 2
            placement = Placement.turned((0.0, 0.0, 1.0), aside) @ placement
        placement = Placement.at(point) @ placement
        return [face.draped(shape.solid(placement), point) for shape in shapes]

    @staticmethod
    def _within(site: Site, foliage: Solid) -> tuple[Solid, float]:
        """Return the foliage without what is past the tank's walls, and how far that reached, [m].

        Leaves bend at the glass; cutting them off there is nearer to that than drawing them outside.
        """
        tank = site.tank().data
        past = -float(tank.room(foliage.vertices).min())
        if past <= 0:
            return foliage, 0.0
        low, high = (float(value) for value in foliage.bounds[:, 2])
        room = prism(np.array(tank.plan), high - low + 0.02).solid(Placement.at((0.0, 0.0, low - 0.01)))
        inside = intersection(foliage, room)
        return (inside, past) if inside is not None else (foliage, past)
