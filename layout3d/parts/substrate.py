"""A bed of sand, gravel or soil: level, sloped or sculpted, lying around the hardscape and not in it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from layout3d.errors import SceneMistake
from layout3d.fields import CatalogName, Count, Length, Number, field
from layout3d.fields_composite import Listing, Point
from layout3d.parts.base import LOOSE, Body, Built, Join, Part, Rough, Site
from layout3d.parts.forms.bed import BedHeight, sculpted_bed, slope_bed
from layout3d.parts.shapes.grooves import bores_of, fixed_in
from layout3d.parts.shapes.natural import asked, height_shape
from layout3d.parts.shapes.plan import is_square
from layout3d.parts.vessel import Vessel
from layout3d.solid.boolean import clusters, cropped, difference, intersection, union
from layout3d.solid.carved import carved
from layout3d.solid.distance import meet
from layout3d.solid.shape import Solid
from layout3d.units import show

_DEPTH = Length(0.0, 3.0)
_PLACE = Length(-20.0, 20.0)
MOST_POINTS = 200_000
"""Of the grid a bed is drawn on; more is slow to cut and no finer to the eye."""

THINNEST = 0.001
"""A bed thinner than this is drawn this thick, so that it stays one solid, [m]."""


@dataclass(frozen=True, kw_only=True)
class Substrate(Part):
    """A bed on the tank's floor; its depth may be one figure, a slope, or depths at points."""

    kind = "substrate"
    group = "substrate"

    depth: float | None = field(_DEPTH, None, doc="of a level bed")
    front: float | None = field(_DEPTH, None, doc="depth along the front glass of a sloped bed")
    back: float | None = field(_DEPTH, None, doc="depth along the back of a sloped bed")
    depths: tuple[tuple[float, float, float], ...] = field(
        Listing(Point(("x", "y", "depth"), _PLACE), most=400), (), doc="depths at points of a sculpted bed"
    )
    roughness: float = field(
        Number(least=0.0, most=1.0), 0.0, doc="height of ripples, as a share of the depth"
    )
    seed: int = field(Count(0, 10**9), 0, doc="of the ripples")
    pitch: float = field(Length(0.002, 0.1), 0.012, doc="of the grid it is drawn on")
    region: tuple[float, float, float, float] | None = field(
        Point(("left", "front", "right", "back"), _PLACE),
        None,
        doc="x and y it reaches over; the whole floor if not given",
    )
    material: str = field(CatalogName("material"), "sand", doc="with its porosity")

    def __post_init__(self) -> None:
        """Refuse a bed whose depth is told in two ways, or in none."""
        given = [self.depth is not None, self.front is not None or self.back is not None, bool(self.depths)]
        if sum(given) != 1:
            raise SceneMistake(
                "its depth is not given" if not any(given) else "its depth is given twice",
                expected="one of `depth:`, `front:` with `back:`, `depths:`",
            )
        if given[1] and (self.front is None or self.back is None):
            raise SceneMistake("a slope lacks one end", expected="both `front:` and `back:`", path="front")
        if self.region and not (self.region[0] < self.region[2] and self.region[1] < self.region[3]):
            raise SceneMistake(
                "an empty region", expected="[left, front, right, back], rising", path="region"
            )

    def _heights(self, site: Site) -> Any:
        if self.depths:
            return asked(
                self,
                "depths",
                lambda: sculpted_bed(self.depths, roughness=self.roughness, seed=self.seed),
                site,
            )
        tank_depth = site.tank().data.high[1]
        front = self.depth if self.depth is not None else (self.front or 0.0)
        back = self.depth if self.depth is not None else (self.back or 0.0)
        if not self.roughness:
            return slope_bed(front, back, reach=tank_depth)
        length = site.tank().data.high[0]
        corners = [(x, y, d) for x in (0.0, length) for y, d in ((0.0, front), (tank_depth, back))]
        return asked(
            self, "roughness", lambda: sculpted_bed(corners, roughness=self.roughness, seed=self.seed), site
        )

    def _box(self, site: Site) -> tuple[float, float, float, float]:
        high = site.tank().data.high
        if self.region is None:
            return (0.0, 0.0, high[0], high[1])
        left, front, right, back = self.region
        box = (max(left, 0.0), max(front, 0.0), min(right, high[0]), min(back, high[1]))
        if box[2] - box[0] < 0.02 or box[3] - box[1] < 0.02:
            raise self.mistake("region", "the region lies outside the tank", expected="a region of its floor")
        return box

    def surface(self, site: Site) -> BedHeight:
        """Return the bed's height as a function of x, y that broadcast, [m]; NaN where it doesn't reach."""
        left, front, right, back = self._box(site)
        heights = self._heights(site)

        def height(x: ArrayLike, y: ArrayLike) -> NDArray[np.float64]:
            wide, far = np.broadcast_arrays(np.asarray(x, dtype=np.float64), np.asarray(y, dtype=np.float64))
            there = (left <= wide) & (wide <= right) & (front <= far) & (far <= back)
            return np.where(there, np.maximum(heights(wide, far), THINNEST), np.nan)

        return height

    def grid(self, site: Site) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
        """Return x (nx,), y (ny,) and heights (nx, ny) of the bed as it is drawn, before it is cut, [m]."""
        left, front, right, back = self._box(site)
        nx = max(2, round((right - left) / self.pitch) + 1)
        ny = max(2, round((back - front) / self.pitch) + 1)
        if nx * ny > MOST_POINTS:
            # a side has no more points than its length by the pitch, and 1.5
            ends, most = 1.5 * (right - left + back - front), MOST_POINTS - 1.5**2
            area = (right - left) * (back - front)
            least = (ends + (ends**2 + 4.0 * most * area) ** 0.5) / (2.0 * most)
            raise self.mistake(
                "pitch",
                f"a grid of {nx * ny:,} points",
                expected=f"a pitch of {site.length(least, enough=True)} or more on this floor",
            )
        x, y = np.linspace(left, right, nx), np.linspace(front, back, ny)
        return x, y, np.maximum(self._heights(site)(x[:, None], y[None, :]), THINNEST)

    def height_at(self, site: Site, x: float, y: float) -> float:
        """Return the bed's height at a point, [m]; NaN where it does not reach."""
        return float(self.surface(site)(x, y))

    def build(self, site: Site) -> Built[Substrate, None]:
        """Build the bed, cut around everything that stands in it."""
        tank = site.tank()
        x, y, heights = self.grid(site)
        ceiling = tank.data.height
        if float(heights.max()) >= ceiling:
            deep, high = (show(length, "length") for length in (float(heights.max()), ceiling))
            raise self.mistake(
                "depth" if self.depth is not None else "depths",
                f"the bed is {deep} deep in a tank {high} high",
                expected="a bed below the tank's top edge",
            )
        z = np.ascontiguousarray(heights, dtype=np.float64)
        whole = height_shape(x.tobytes(), y.tobytes(), z.tobytes(), 0.0).solid()
        square = is_square(np.array(tank.data.plan))
        bed = whole if square else intersection(whole, tank.data.interior)
        if bed is None:
            raise self.mistake("region", "the bed lies outside the tank", expected="a region of its floor")
        bodies, joins = self._around(site, bed)
        led = [body for body in bodies if body.group == "plumbing" and body.part != tank.part.name]
        fixed = [body for body in bodies if body not in led and body.group not in LOOSE]
        bores = bores_of(site, self, {body.name for body in led})
        apart = [*bores_of(site, self, {body.name for body in fixed}), *self._kept_out(site)]
        rough = difference(whole, apart)
        laid = difference(rough, bores) if rough is not None else None
        # where pipe, fittings and bores lie face to face, what each takes by itself would not add up
        pipes = map(union, clusters(cropped([*(body.solid for body in led), *bores], bed.bounds)))
        left = carved(
            bed,
            [*fixed_in(fixed, bed.bounds), *cropped(apart, bed.bounds)],
            loose=[
                *(pipe for pipe in pipes if pipe is not None),
                *(body.solid for body in bodies if body.group in LOOSE),
            ],
        )
        hollowed = Rough(solid=rough, works=tuple(bores)) if rough is not None and bores else None
        if left is None:
            raise self.mistake("", "nothing is left of the bed", expected="a bed with room of its own")
        return Built(
            part=self,
            data=None,
            bodies=(replace(self.body(left, site, material=self.material), uncut=laid, rough=hollowed),),
            joins=(*joins, Join(self.name, tank.part.name, "rests")),
        )

    def _kept_out(self, site: Site) -> list[Solid]:
        """Return what is walled off within the tank: no bed lies in an overflow box."""
        others = (site.built(part.name, self).data for part in site.others(self) if part.kind != self.kind)
        tank = site.tank().data
        return [data.interior for data in others if isinstance(data, Vessel) and data is not tank]

    def _around(self, site: Site, bed: Solid) -> tuple[list[Body], list[Join]]:
        """Return the bodies of other parts that reach into the bed, and the joins that say so.

        Beds are laid in the order of the file: one lies over and around those before it.
        """
        low, high = bed.bounds
        found: list[Body] = []
        names = [part.name for part in site.of_kind("substrate")]
        later = names[names.index(self.name) + 1 :]
        for part in site.others(self):
            if part.name in later:
                continue
            for body in site.built(part.name, self).bodies:
                near = bool(np.all(body.solid.bounds[0] < high) and np.all(body.solid.bounds[1] > low))
                if near and body.kind not in ("panel", "foliage") and meet(bed, body.solid):
                    found.append(body)
        return found, [Join(self.name, body.name, "embedded") for body in found]
