"""A glass tank with a bent front pane: flat back, sides and bottom, the front bowed out. No stress.

The front covers the ends of the sides, the back runs the full length, and all stand on the bottom. The bent
pane is drawn as flat strips within 0.05 mm of its arc.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from layout3d.errors import SceneMistake
from layout3d.fields import Length, field
from layout3d.fields_composite import Entries, Point, record
from layout3d.parts.base import Built, Site
from layout3d.parts.drilled_tank import HoleFields, TankPart
from layout3d.parts.shapes.glazing import assemble, beads, bottom_panel, ring, upright_panel
from layout3d.parts.shapes.plan import Polygon
from layout3d.parts.tank_data import Panel, RoundWall, TankData, Wall
from layout3d.solid.primitives import prism
from layout3d.solid.shape import Placement, Solid
from layout3d.units import show

_SIZE = Length(0.05, 10.0)
_THICKNESS = Length(0.002, 0.1)
FINE = 5e-5
"""How far a strip of the bent pane may stray from its arc, [m]."""


@dataclass(frozen=True, kw_only=True)
class BowFrontTank(TankPart):
    """A tank with a bowed front; positions count from the corner of the box around its inside.

    `front:` distances count from the foremost point of the bow, in the middle of the front.
    """

    kind = "bow_front_tank"

    inside: tuple[float, float, float] = field(
        Point(("length", "depth", "height"), _SIZE), doc="inside size; the depth in the middle, with the bow"
    )
    bow: float = field(Length(0.005, 2.0), doc="how far the front's middle stands before its ends")
    glass: float = field(_THICKNESS, doc="thickness of the panes")
    front: float | None = field(_THICKNESS, None, doc="thickness of the bent pane, if another")
    bottom: float | None = field(_THICKNESS, None, doc="thickness of the bottom, if another")
    silicone: float = field(Length(0.0, 0.05), 0.006, doc="leg of the bead in the inside corners")
    holes: Mapping[str, HoleFields] = field(
        Entries(record(HoleFields, "a hole"), "hole"), {}, doc="drilled holes by name, in its flat panes"
    )

    def __post_init__(self) -> None:
        """Refuse a bow that the tank has no room for, and a hole in the bent pane."""
        length, depth, _ = self.inside
        most = min(0.35 * length, depth - 0.05)
        if self.bow > most:
            raise SceneMistake(
                f"a bow of {show(self.bow, 'length')} on a tank {show(length, 'length')} long and "
                f"{show(depth, 'length')} deep",
                expected=f"at most {show(max(most, 0.0), 'length')}: a third of the length, and sides of "
                f"{show(0.05, 'length')} or more",
                path="bow",
            )
        if 2 * self.silicone > min(length, depth - self.bow) / 2:
            raise SceneMistake(
                f"beads with legs of {show(self.silicone, 'length')} fill the tank",
                expected="narrower beads",
                path="silicone",
            )
        self.check_hole_names()
        for name, hole in self.holes.items():
            if hole.panel == "front":
                raise SceneMistake(
                    f"{name} is drilled in the bent front pane: bent glass cracks where it is drilled, and "
                    "a flat flange does not seal on it (common practice, no source)",
                    expected="a flat pane: right, back, left or bottom",
                    remedy="drill another pane, or have the front made with its hole before it is bent",
                    path=f"holes.{name}.panel",
                )

    def wall_names(self) -> tuple[str, ...]:
        """Return the walls' names, counter-clockwise from the front."""
        return ("front", "right", "back", "left")

    def thickness(self, panel: str) -> float:
        """Return a pane's thickness, [m]."""
        own = {"front": self.front, "bottom": self.bottom}.get(panel)
        return self.glass if own is None else own

    def inside_size(self) -> tuple[float, float, float]:
        """Return length, depth in the middle, and height of the inside, [m]."""
        return self.inside

    def outside_size(self) -> tuple[float, float, float]:
        """Return length, depth in the middle, and height of the outside, [m]."""
        length, depth, height = self.inside
        return (
            length + 2 * self.glass,
            depth + self.glass + self.thickness("front"),
            height + self.thickness("bottom"),
        )

    def build(self, site: Site) -> Built[BowFrontTank, TankData]:
        """Build panes with their holes, beads and bulkheads."""
        length, depth, height = self.inside
        arc, outer_arc = self._arc(0.0, 0.0), self._arc(self.thickness("front"), self.glass)
        plan = np.vstack([arc, [[length, depth], [0.0, depth]]])
        g, far = self.glass, depth + self.glass
        outer = np.vstack([outer_arc, [[length + g, far], [-g, far]]])
        sides = [*["front"] * (len(arc) - 1), "right", "back", "left"]
        behind = float(self._arc(0.0, g)[0, 1])  # where the outside of a side pane meets the front
        walls: dict[str, Wall] = {"front": self._front(), **self._flat(behind)}
        walls["bottom"] = bottom_panel(self, plan=plan, outer_plan=outer, sides=sides)

        def upright(corners: Polygon | list[tuple[float, float]]) -> Solid:
            return prism(np.array(corners), height).solid()

        ends = np.array([[-g, behind], [length + g, behind]])
        right, thick = length + g, self.thickness("bottom")
        solids = {
            "front": upright(np.vstack([ends[:1], arc, ends[1:], outer_arc[::-1]])),
            "right": upright([(length, self.bow), (right, behind), (right, depth), (length, depth)]),
            "back": upright([(-g, depth), (right, depth), (right, far), (-g, far)]),
            "left": upright([(-g, behind), (0.0, self.bow), (0.0, depth), (-g, depth)]),
            "bottom": prism(outer, thick).solid(Placement.at((0.0, 0.0, -thick))),
        }
        more = []
        if self.silicone:
            bead = beads(plan, height, self.silicone)
            more.append(self.body(bead, site, material="silicone", piece="silicone", kind="silicone"))
        return assemble(
            self,
            site,
            panes={name: (walls[name], solids[name]) for name in self.panel_names()},
            plan=plan,
            outer_plan=outer,
            sides=sides,
            silicone=self.silicone,
            more=more,
        )

    @property
    def _radius(self) -> float:
        """Return the radius of the front's inside face, [m]."""
        half = self.inside[0] / 2
        return (half**2 + self.bow**2) / (2 * self.bow)

    def _arc(self, outward: float, beyond: float) -> Polygon:
        """Return the front's arc from left to right, (k, 2), [m]: ``outward`` of its inside face.

        It reaches ``beyond`` the inside of each side pane. Its ends lie on the arc, the points between are
        widened to the arc's own area.
        """
        radius, half = self._radius + outward, self.inside[0] / 2 + beyond
        spread = math.asin(half / radius)
        count = max(8, math.ceil(self._spread * math.sqrt(1.1 * self._radius / (2 * FINE))))  # of every arc
        step = 2 * spread / count
        angles = -spread + step * np.arange(count + 1)
        radii = np.full(count + 1, radius * math.sqrt(step / math.sin(step)))
        radii[[0, -1]] = radius
        return np.column_stack(
            [self.inside[0] / 2 + radii * np.sin(angles), self._radius - radii * np.cos(angles)]
        )

    @property
    def _spread(self) -> float:
        """Return half the angle that the front turns through, inside, [rad]."""
        return math.asin(self.inside[0] / 2 / self._radius)

    def _front(self) -> RoundWall:
        height, around = self.inside[2], 2 * self._spread * self._radius
        corner = math.pi / 2 + self._spread
        corners = [(0.0, 0.0), (around, 0.0), (around, height), (0.0, height)]
        outline = ring(("bottom", "left", "top", "right"), corners, (math.pi / 2, corner, 0.0, corner))
        return RoundWall(
            name="front",
            body=f"{self.name}.front",
            length=around,
            height=height,
            thickness=self.thickness("front"),
            edges=("right", "left", "bottom", "top"),
            outline=outline,
            seams=tuple(edge for edge in outline if edge.name != "top"),
            axis=(self.inside[0] / 2, self._radius),
            inside_radius=self._radius,
            start=-math.pi / 2 + self._spread,
        )

    def _flat(self, behind: float) -> dict[str, Panel]:
        """Return right, back and left; ``behind`` is where a side's outside meets the front, y [m]."""
        length, depth, _ = self.inside
        side, hidden = depth - self.bow, behind - self.bow
        front, square, g = ("front", math.pi / 2 + self._spread), math.pi / 2, self.glass
        ends = {  # inside corners, its own glass, what of it can be drilled
            "right": ((length, depth), (length, self.bow), (0.0, side), (0.0, side - hidden)),
            "back": ((0.0, depth), (length, depth), (-g, length + g), (-g, length + g)),
            "left": ((0.0, self.bow), (0.0, depth), (0.0, side), (hidden, side)),
        }
        beside = {
            "right": (("back", square), front),
            "back": (("left", square), ("right", square)),
            "left": (front, ("back", square)),
        }
        return {
            name: upright_panel(self, name, start, end, glass=glass, drillable=free, neighbours=beside[name])
            for name, (start, end, glass, free) in ends.items()
        }
