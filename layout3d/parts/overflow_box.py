"""An overflow box: panes inside the tank that wall off the drilled holes, with a weir along their top.

Water runs over the weir into the box and down the drains in it; in the box it stands lower than in the tank.
How much the weir and the drains carry is computed elsewhere.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from layout3d.errors import SceneMistake, nearest
from layout3d.fields import CatalogName, Choice, Length, Name, field
from layout3d.fields_composite import Listing, record
from layout3d.parts.base import Body, Built, Join, Part, Site, Space, vector
from layout3d.parts.tank_data import Panel, TankData
from layout3d.parts.vessel import OverflowBoxData, WeirEdge
from layout3d.solid.boolean import difference, whole
from layout3d.solid.primitives import box
from layout3d.solid.shape import Placement, Solid
from layout3d.units import show

__all__ = ["OverflowBox", "WeirFields"]

_SIZE = Length(0.03, 10.0)
_PLACE = Length(0.0, 10.0)
_SIDES = ("front", "left", "right")
BEYOND = 0.001
"""How far a cut reaches past a pane's faces, [m]."""
SQUARE = 1e-6
"""A corner is square up to here, [rad]."""


@dataclass(frozen=True, kw_only=True)
class WeirFields:
    """The weir along the top of the box: a comb of slots, or a straight edge."""

    depth: float = field(Length(0.003, 0.5), doc="of its crest below the top of the box")
    slot: float | None = field(
        Length(0.002, 0.1), None, doc="width of each slot of a comb; a straight edge if not given"
    )
    tooth: float = field(Length(0.002, 0.1), 0.005, doc="width of glass or acrylic between two slots")
    sides: tuple[str, ...] = field(
        Listing(Choice(_SIDES), least=1, most=3),
        ("front",),
        doc="the panes it runs along, as seen from inside the tank towards the wall",
    )


@dataclass(frozen=True, kw_only=True)
class OverflowBox(Part):
    """A box on a flat wall of the tank, in a corner of it or between, on the floor or hung higher."""

    kind = "overflow_box"
    group = "glass"

    panel: str = field(Name("a panel"), doc="the flat wall it stands at")
    left: float | None = field(_PLACE, None, doc="its outside from that wall's left end; 0 in the corner")
    right: float | None = field(_PLACE, None, doc="or from its right end")
    width: float = field(_SIZE, doc="along the wall, outside")
    depth: float = field(_SIZE, doc="from the wall into the tank, outside")
    bottom: float = field(
        _PLACE, 0.0, doc="its underside over the tank's floor; above 0 it has a bottom of its own"
    )
    top: float = field(_SIZE, doc="its upper edge over the tank's floor")
    level: float = field(_PLACE, doc="of the water in it over the tank's floor, as its drain holds it")
    glass: float = field(Length(0.002, 0.05), 0.006, doc="thickness of its panes")
    material: str = field(CatalogName("material"), "glass", doc="of its panes")
    weir: WeirFields = field(record(WeirFields, "a weir"), doc="comb or straight edge")

    def __post_init__(self) -> None:
        """Refuse a box whose figures contradict each other."""
        if (self.left is None) == (self.right is None):
            raise SceneMistake(
                "its place along the wall is given " + ("not at all" if self.left is None else "twice"),
                expected="one of `left:` and `right:`",
            )
        if min(self.width, self.depth) - 2 * self.glass < 0.02:
            raise SceneMistake(
                f"panes of {show(self.glass, 'length')} leave no room in it",
                expected=f"{show(0.02, 'length')} or more between them",
                path="glass",
            )
        if self.crest <= self.inside_floor + 0.02:
            raise SceneMistake(
                f"its crest is {show(self.crest, 'length')} over the floor, its inside begins at "
                f"{show(self.inside_floor, 'length')}",
                expected=f"a crest {show(0.02, 'length')} or more above its inside floor",
                path="weir.depth",
            )
        if not self.inside_floor < self.level < self.top:
            raise SceneMistake(
                f"its water stands {show(self.level, 'length')} over the tank's floor",
                expected=f"more than {show(self.inside_floor, 'length')} and less than "
                f"{show(self.top, 'length')}: within the box",
                path="level",
            )

    @property
    def crest(self) -> float:
        """Return the height of the weir's crest over the tank's floor, [m]."""
        return self.top - self.weir.depth

    @property
    def inside_floor(self) -> float:
        """Return the height of its inside floor over the tank's, [m]."""
        return self.bottom + self.glass if self.bottom > 0 else 0.0

    points = {  # noqa: RUF012 - annotated in the base
        "crest": "anchor: the middle of its weir's crest, of its front if that has one",
        "floor": "anchor: the middle of its inside floor",
    }
    dimensions = {  # noqa: RUF012 - annotated in the base
        "crest": lambda part: part.crest,
        "top": lambda part: part.top,
        "width": lambda part: part.width,
        "depth": lambda part: part.depth,
    }

    def build(self, site: Site) -> Built[OverflowBox, OverflowBoxData]:
        """Build its panes, with slots cut through, and what the others ask of it."""
        tank = site.tank().data
        panel = self._panel(tank)
        low = self.left if self.left is not None else panel.length - self.width - (self.right or 0.0)
        high = low + self.width
        self._check_place(site, tank, panel, low, high)
        corner = {"left": low < SQUARE, "right": high > panel.length - SQUARE}
        for side, seam in zip(("left", "right"), panel.seams[:2], strict=True):
            if corner[side] and abs(seam.angle - np.pi / 2) > SQUARE:
                raise self.mistake(
                    side,
                    f"it stands in the corner at {seam.name}, which is not square",
                    expected="a square corner, or some way from it",
                )
        t = self.glass
        inner = (low if corner["left"] else low + t, high if corner["right"] else high - t)
        floor, reach = self.inside_floor, self.depth - t
        panes = {"front": ((low, self.bottom, reach), (self.width, self.top - self.bottom, t))}
        for side, at in (("left", low), ("right", high - t)):
            if not corner[side]:
                panes[side] = ((at, self.bottom, 0.0), (t, self.top - self.bottom, reach))
        gone = [side for side in self.weir.sides if side not in panes]
        if gone:
            raise self.mistake(
                "weir.sides",
                f"it has no pane at its {gone[0]}: it stands in that corner",
                expected=f"of {', '.join(panes)}",
            )
        bodies: list[Body] = []
        edges: list[WeirEdge] = []
        for side, (corner_at, size) in panes.items():
            solid = _block(panel, corner_at, size)
            if side in self.weir.sides:
                solid, edge = self._weir(site, panel, side, corner_at, size, inner)
                edges.append(edge)
            bodies.append(self._pane(site, solid, side))
        if self.bottom > 0:
            plate = _block(panel, (inner[0], self.bottom, 0.0), (inner[1] - inner[0], t, reach))
            bodies.append(self._pane(site, plate, "bottom"))
        inside = _block(panel, (inner[0], floor, 0.0), (inner[1] - inner[0], self.top - floor, reach))
        ring = [(inner[0], 0.0), (inner[0], reach), (inner[1], reach), (inner[1], 0.0)]
        corners = [panel.at(u, 0.0, w) for u, w in ring]
        data = OverflowBoxData(
            plan=tuple((x, y) for x, y, _ in corners),
            floor=floor,
            rim=self.top,
            interior=inside,
            outer=_block(panel, (low, self.bottom, 0.0), (self.width, self.top - self.bottom, self.depth)),
            crest=self.crest,
            level=self.level,
            weirs=tuple(edges),
        )
        holes = tuple(
            name for name, hole in tank.holes.items() if data.holds(hole.at) and hole.at[2] < self.top
        )
        return Built(
            part=self,
            data=replace(data, holes=holes),
            bodies=tuple(bodies),
            joins=self._joins(site, panel, corner),
            anchors={"crest": edges[0].middle, "floor": vector([*np.mean(data.plan, axis=0), floor])},
            spaces=(Space(name=self.name, low=data.low, high=data.high, water=self.level),),
        )

    def _panel(self, tank: TankData) -> Panel:
        flat = {name: panel for name, panel in tank.flat_panels.items() if name != "bottom"}
        if self.panel not in flat:
            bent = self.panel in tank.panels
            raise self.mistake(
                "panel",
                f"{self.panel} is no flat wall" if bent else f"no panel is called {self.panel!r}",
                expected=nearest(self.panel, flat) if flat else "a tank with a flat wall",
            )
        return flat[self.panel]

    def _check_place(self, site: Site, tank: TankData, panel: Panel, low: float, high: float) -> None:
        """Refuse a box that reaches out of the tank."""
        past = max(-low, high - panel.length)
        if past > SQUARE:
            raise self.mistake(
                "width",
                f"it reaches {site.length(past)} past the end of {panel.name}, "
                f"{site.length(panel.length)} long",
                expected="a box that stands within its wall",
            )
        ends = np.array([panel.at(u, 0.0, self.depth) for u in (low, high)])
        past = -float(tank.room(ends).min())
        if past > SQUARE:
            raise self.mistake(
                "depth", f"it reaches {site.length(past)} past another wall", expected="a box within the tank"
            )
        if self.top > tank.rim + SQUARE:
            raise self.mistake(
                "top",
                f"its top is {site.length(self.top - tank.rim)} above the tank's rim",
                expected=f"at most {site.length(tank.rim)}",
            )

    def _pane(self, site: Site, solid: Solid, side: str) -> Body:
        return self.body(solid, site, material=self.material, piece=side, kind="box_pane")

    def _weir(
        self,
        site: Site,
        panel: Panel,
        side: str,
        at: tuple[float, float, float],
        size: tuple[float, float, float],
        inner: tuple[float, float],
    ) -> tuple[Solid, WeirEdge]:
        """Return a pane with the weir cut in its top, and the weir's figures."""
        axis = 0 if side == "front" else 2  # along u, or along w
        begin, end = inner if side == "front" else (0.0, size[2])
        cut_low, cut_high = (at[0], at[0] + size[0]) if side == "front" else (begin, end)
        middle = np.array(at) + np.array(size) / 2
        middle[1], middle[axis] = self.crest, (begin + end) / 2

        def cut(low: float, high: float) -> Solid:
            start, extent = np.array(at) - BEYOND, np.array(size) + 2 * BEYOND
            start[axis], extent[axis] = low, high - low
            start[1], extent[1] = self.crest, self.weir.depth + BEYOND
            return _block(panel, tuple(start), tuple(extent))

        slot, tooth = self.weir.slot, self.weir.tooth
        if slot is None:
            cuts, count, width = [cut(cut_low - BEYOND, cut_high + BEYOND)], 1, end - begin
        else:
            count = int((end - begin - tooth + 1e-9) // (slot + tooth))
            if count < 1:
                raise self.mistake(
                    "weir.slot",
                    f"no slot of {site.length(slot)} between teeth of {site.length(tooth)} has room on "
                    f"its {side}",
                    expected=f"slot and two teeth within {site.length(end - begin)}",
                )
            first = (begin + end - count * slot - (count - 1) * tooth) / 2
            starts = [first + number * (slot + tooth) for number in range(count)]
            cuts, width = [cut(start, start + slot) for start in starts], slot
        return whole(difference(_block(panel, at, size), cuts), "weir's pane"), WeirEdge(
            side=side,
            slots=count,
            slot_width=width,
            slot_height=self.weir.depth,
            thickness=self.glass,
            middle=panel.at(*(float(value) for value in middle)),
        )

    def _joins(self, site: Site, panel: Panel, corner: dict[str, bool]) -> tuple[Join, ...]:
        """Return the seams that hold it: to its wall, the floor, and the next wall in a corner."""
        tank = site.tank()
        walls = [panel.body]
        for side, seam in zip(("left", "right"), panel.seams[:2], strict=True):
            if corner[side]:
                walls.append(tank.data.panels[seam.name].body)
        if self.bottom == 0:
            walls.append(tank.data.panels["bottom"].body)
        walls += [body.name for body in tank.bodies if body.kind == "silicone"]
        return (Join(self.name, self.name, "seal"), *(Join(self.name, wall, "seal") for wall in walls))


def _block(panel: Panel, at: tuple[float, ...], size: tuple[float, ...]) -> Solid:
    """Return a box in a wall's axes: from ``at`` (u, v, w), as large as ``size``, [m]."""
    return box(size).solid(panel.placement() @ Placement.at(at))
