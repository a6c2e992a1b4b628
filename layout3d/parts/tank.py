"""A tank of flat panes: glass panels, silicone beads, braces, rim, drilled holes and bulkheads in them.

Walls stand on the bottom panel. In a rectangular tank the front and back run the full length and the sides
stand between them; in a polygonal one the panels meet in mitres. What bends them is told in ``glass``.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from layout3d.errors import SceneMistake, nearest
from layout3d.fields import OWN_NAME, CatalogName, Length, Name, field, is_own_name
from layout3d.fields_composite import Either, Entries, Listing, Point, record
from layout3d.parts.base import Body, Built, Site
from layout3d.parts.drilled_tank import PIECES, HoleFields, TankPart
from layout3d.parts.shapes.glazing import assemble, beads, bottom_panel, upright_panel
from layout3d.parts.shapes.plan import (
    Polygon,
    clockwise,
    convex_fault,
    edge_normals,
    edges_kept,
    move_edges,
    wound,
)
from layout3d.parts.tank_data import Panel, TankData
from layout3d.solid.boolean import difference, intersection, union, whole
from layout3d.solid.placement import Placement, vector
from layout3d.solid.primitives import box, prism
from layout3d.solid.shape import Solid
from layout3d.units import show

__all__ = ["Brace", "PerimeterBrace", "Rim", "Tank"]

_THICKNESS = Length(0.001, 0.1)
_SIZE = Length(0.05, 10.0)


@dataclass(frozen=True, kw_only=True)
class PerimeterBrace:
    """Strips of glass along the inside of the top edge."""

    width: float = field(Length(0.005, 1.0), doc="from the wall inward")
    thickness: float = field(_THICKNESS, doc="of the strip")
    below_top: float = field(Length(0.0, 1.0), 0.0, doc="its upper face below the glass's top edge")


@dataclass(frozen=True, kw_only=True)
class Brace:
    """A strip of glass from the front to the back across the top."""

    at: float = field(Length(0.0, 10.0), doc="its middle, from the left face")
    width: float = field(Length(0.01, 1.0), doc="along the tank")
    thickness: float = field(_THICKNESS, doc="of the strip")


@dataclass(frozen=True, kw_only=True)
class Rim:
    """A trim profile around the outside of the top edge, with a lip over it."""

    height: float = field(Length(0.005, 0.2), doc="down the outside")
    thickness: float = field(Length(0.001, 0.05), doc="of the profile and its lip")
    material: str = field(CatalogName("material"), "pvc", doc="of the profile")


@dataclass(frozen=True, kw_only=True)
class Tank(TankPart):
    """A glass tank; its inside front left bottom corner is the origin of all positions."""

    kind = "tank"

    inside: tuple[float, float, float] | None = field(
        Point(("length", "depth", "height"), _SIZE),
        None,
        doc="inside size, from the floor to the glass's top",
    )
    outside: tuple[float, float, float] | None = field(
        Point(("length", "depth", "height"), _SIZE), None, doc="or outside size"
    )
    footprint: tuple[tuple[float, float], ...] | None = field(
        Listing(Point(("x", "y"), Length(-10.0, 10.0)), least=3, most=24),
        None,
        doc="or the inside corners of a convex polygon, first edge at the front",
    )
    height: float | None = field(_SIZE, None, doc="inside height, with `footprint`")
    panels: tuple[str, ...] = field(
        Listing(Name("a panel of your own"), most=24), (), doc="names of the polygon's panels, edge by edge"
    )
    glass: float | Mapping[str, float] = field(
        Either(scalar=_THICKNESS, map=Entries(_THICKNESS, "panel (or `others`)")),
        doc="thickness for all panels, or by panel with `others` for the rest",
    )
    tempered: tuple[str, ...] = field(
        Listing(Name("a panel")), (), doc="panels of toughened glass, which can't be drilled"
    )
    silicone: float = field(Length(0.0, 0.05), 0.006, doc="leg of the bead in the inside corners")
    perimeter_brace: PerimeterBrace | None = field(
        record(PerimeterBrace, "a perimeter brace"), None, doc="strips along the top edge"
    )
    cross_braces: tuple[Brace, ...] = field(
        Listing(record(Brace, "a cross brace"), most=20), (), doc="strips from front to back"
    )
    rim: Rim | None = field(record(Rim, "a rim"), None, doc="a trim profile around the top")
    holes: Mapping[str, HoleFields] = field(
        Entries(record(HoleFields, "a hole"), "hole"), {}, doc="drilled holes by name"
    )

    def __post_init__(self) -> None:
        """Refuse sizes that contradict each other."""
        given = [name for name in ("inside", "outside", "footprint") if getattr(self, name) is not None]
        if len(given) != 1:
            raise SceneMistake(
                f"{' and '.join(given) or 'no size'} given",
                expected="exactly one of inside, outside, footprint",
            )
        if (self.footprint is not None) != (self.height is not None):
            raise SceneMistake("footprint and height go together", expected="both, or neither", path="height")
        if self.footprint is not None:
            fault = convex_fault(self.plan())
            if fault:
                raise SceneMistake(fault, expected="a convex footprint", path="footprint")
            least = np.array(self.footprint, dtype=float).min(axis=0)
            if np.abs(least).max() > 1e-9:
                x, y = (show(float(value), "length") for value in least)
                raise SceneMistake(
                    f"the footprint's least x is {x}, its least y {y}",
                    expected="0 and 0: positions of parts count from there",
                    path="footprint",
                )
            if self.panels and len(self.panels) != len(self.footprint):
                raise SceneMistake(
                    f"{len(self.panels)} panel names for {len(self.footprint)} edges",
                    expected="one name an edge",
                    path="panels",
                )
        elif self.panels:
            raise SceneMistake("panel names are for a footprint", expected="no `panels:` here", path="panels")
        self._check_panel_names()
        self.check_hole_names()
        if min(self.inside_size()) < 0.02:
            raise SceneMistake(
                f"the inside is less than {show(0.02, 'length')} wide",
                expected=f"{show(0.02, 'length')} or more in each direction, within the glass",
                path=given[0],
            )
        if not edges_kept(self.plan(), self.outer_plan()):
            raise SceneMistake(
                "panes of these thicknesses don't meet in a corner",
                expected="a thinner pane beside a flat corner, or panes of one thickness",
                path="glass",
            )
        if self.silicone and not edges_kept(self.plan(), move_edges(self.plan(), self.silicone + 0.001)):
            raise SceneMistake(
                f"beads with legs of {show(self.silicone, 'length')} fill the tank",
                expected="narrower beads",
                path="silicone",
            )
        self._check_braces()

    def _check_panel_names(self) -> None:
        names = self.panel_names()
        for number, name in enumerate(self.panels, start=1):
            mine = name in PIECES or name == "others" or name.startswith("cross_brace_")
            if mine or not is_own_name(name):
                raise SceneMistake(
                    f"no panel can be called {name!r}", expected=OWN_NAME, path=f"panels[{number}]"
                )
        if len(set(names)) != len(names):
            raise SceneMistake(
                "two panels bear one name", expected="a name each, not 'bottom'", path="panels"
            )
        if isinstance(self.glass, Mapping):
            for name in self.glass:
                if name not in (*names, "others"):
                    raise SceneMistake(
                        f"no panel is called {name!r}",
                        expected=nearest(name, [*names, "others"]),
                        path=f"glass.{name}",
                    )
            lacking = [name for name in names if name not in self.glass]
            if lacking and "others" not in self.glass:
                raise SceneMistake(
                    f"no thickness for {', '.join(lacking)}",
                    expected="each panel, or `others:`",
                    path="glass",
                )
        for number, name in enumerate(self.tempered, start=1):
            if name not in names:
                raise SceneMistake(
                    f"no panel is called {name!r}", expected=nearest(name, names), path=f"tempered[{number}]"
                )

    def _check_braces(self) -> None:
        """Refuse braces and a rim that have no place on this tank."""
        height, strip, rim = self.inside_size()[2], self.perimeter_brace, self.rim
        if strip and not edges_kept(self.plan(), move_edges(self.plan(), strip.width + 0.005)):
            raise SceneMistake(
                f"a brace {show(strip.width, 'length')} wide leaves no opening",
                expected=f"a narrower brace, with {show(0.01, 'length')} or more open between its strips",
                path="perimeter_brace.width",
            )
        if strip and strip.below_top + strip.thickness > height:
            raise SceneMistake(
                "the perimeter brace lies below the tank's floor",
                expected=f"at most {show(height - strip.thickness, 'length')} below the top edge",
                path="perimeter_brace.below_top",
            )
        right, reached = self.inside_size()[0], 0.0
        for at, number in sorted((brace.at, number) for number, brace in enumerate(self.cross_braces)):
            brace, path = self.cross_braces[number], f"cross_braces[{number + 1}]"
            if at - brace.width / 2 < reached - 1e-9:
                found = "overlaps another one" if reached else "reaches past the left panel"
                raise SceneMistake(f"this cross brace {found}", expected="a place of its own", path=path)
            reached = at + brace.width / 2
            if reached > right + 1e-9:
                raise SceneMistake(
                    "this cross brace reaches past the right panel",
                    expected=f"`at:` of at most {show(right - brace.width / 2, 'length')}",
                    path=path,
                )
            if brace.thickness > height / 2:
                raise SceneMistake(
                    "this cross brace is half as thick as the tank is high",
                    expected="a thinner brace",
                    path=f"{path}.thickness",
                )
        if rim and rim.height > height:
            raise SceneMistake("the rim is higher than the tank", expected="a lower rim", path="rim.height")

    # -- figures from the fields alone ------------------------------------------------------------

    def wall_names(self) -> tuple[str, ...]:
        """Return the walls' names, counter-clockwise from the front."""
        if self.footprint is None:
            return ("front", "right", "back", "left")
        names = self.panels or tuple(f"side_{i + 1}" for i in range(len(self.footprint)))
        # given clockwise, the corners are taken the other way round: the first edge stays the first
        return (names[0], *names[:0:-1]) if clockwise(np.array(self.footprint)) else names

    def thickness(self, panel: str) -> float:
        """Return a panel's glass thickness, [m]."""
        if isinstance(self.glass, Mapping):
            return self.glass[panel] if panel in self.glass else self.glass["others"]
        return self.glass

    def inside_size(self) -> tuple[float, float, float]:
        """Return length, depth and height of the inside (of its bounding box), [m]."""
        if self.inside is not None:
            return self.inside
        if self.outside is not None:
            length, depth, height = self.outside
            return (
                length - self.thickness("left") - self.thickness("right"),
                depth - self.thickness("front") - self.thickness("back"),
                height - self.thickness("bottom"),
            )
        plan = self.plan()
        size = plan.max(axis=0) - plan.min(axis=0)
        return float(size[0]), float(size[1]), self.height or 0.0

    def plan(self) -> np.ndarray:
        """Return the inside footprint, (k, 2) [m], counter-clockwise; its bounding box starts at 0, 0."""
        if self.footprint is not None:
            return wound(np.array(self.footprint, dtype=float))
        length, depth, _ = self.inside_size()
        return np.array([[0, 0], [length, 0], [length, depth], [0, depth]], dtype=float)

    def outer_plan(self) -> np.ndarray:
        """Return the outside footprint, (k, 2) [m]."""
        return move_edges(self.plan(), -np.array([self.thickness(name) for name in self.wall_names()]))

    def outside_size(self) -> tuple[float, float, float]:
        """Return length, depth and height of the outside (of its bounding box), [m]."""
        outer = self.outer_plan()
        size = outer.max(axis=0) - outer.min(axis=0)
        return float(size[0]), float(size[1]), self.inside_size()[2] + self.thickness("bottom")

    def build(self, site: Site) -> Built[Tank, TankData]:
        """Build panels with their holes, beads, braces, rim and bulkheads."""
        plan, outer, names = self.plan(), self.outer_plan(), self.wall_names()
        panels = {name: _wall(self, index, plan, outer) for index, name in enumerate(names)}
        panels["bottom"] = bottom_panel(
            self, plan=plan, outer_plan=outer, sides=names, tempered="bottom" in self.tempered
        )
        return assemble(
            self,
            site,
            panes={name: (panel, _pane(self, panel)) for name, panel in panels.items()},
            plan=plan,
            outer_plan=outer,
            sides=names,
            silicone=self.silicone,
            more=_bracing(self, site),
        )


def _wall(tank: Tank, index: int, plan: Polygon, outer: Polygon) -> Panel:
    names, normals = tank.wall_names(), edge_normals(plan)
    name, count = names[index], len(names)
    # u runs as seen from inside, left to right, against the order of the walls: low u is at the next wall
    end, origin = plan[index], plan[(index + 1) % count]
    length = float(np.linalg.norm(end - origin))
    after, before = (index + 1) % count, (index - 1) % count
    mitred = tank.footprint is not None
    if mitred:
        along = (end - origin) / length
        low, high = (float(np.dot(outer[corner] - origin, along)) for corner in (after, index))
    else:
        low, high = 0.0, length
        if name in ("front", "back"):
            low -= tank.thickness(names[after])
            high += tank.thickness(names[before])
    return upright_panel(
        tank,
        name,
        origin,
        end,
        ends=("end", "start") if mitred else None,
        glass=(low, high),
        drillable=(max(low, 0.0), min(high, length)) if mitred else None,
        neighbours=(
            (names[after], _between(normals[index], normals[after])),
            (names[before], _between(normals[index], normals[before])),
        ),
        tempered=name in tank.tempered,
    )


def _between(inward: Polygon, other: Polygon) -> float:
    """Return the angle inside the corner of two walls, [rad]."""
    return math.acos(max(-1.0, min(1.0, -float(np.dot(inward, other)))))


def _pane(tank: Tank, panel: Panel) -> Solid:
    """Return the undrilled pane."""
    if panel.name == "bottom":
        shape = prism(np.array(panel.glass), panel.thickness)
        return shape.solid(Placement.at((0.0, 0.0, -panel.thickness)))
    if tank.footprint is None:
        (low, _), (high, top) = panel.glass[0], panel.glass[2]
        corners = [np.array(panel.at(u, 0.0, w)) for u in (low, high) for w in (0.0, -panel.thickness)]
        least, most = np.min(corners, axis=0), np.max(corners, axis=0)
        size = (float(most[0] - least[0]), float(most[1] - least[1]), top)
        return box(size).solid(Placement.at(vector(least)))
    plan, outer = tank.plan(), tank.outer_plan()
    index = tank.wall_names().index(panel.name)
    after = (index + 1) % len(plan)
    return prism(np.array([outer[index], outer[after], plan[after], plan[index]]), panel.height).solid()


def _bracing(tank: Tank, site: Site) -> list[Body]:
    """Return braces, rim and silicone, in this order."""
    bodies: list[Body] = []

    def add(solid: Solid, piece: str, kind: str, material: str) -> Solid:
        bodies.append(tank.body(solid, site, material=material, piece=piece, kind=kind))
        return solid

    strip = None
    if tank.perimeter_brace:
        strip = add(_perimeter(tank, tank.perimeter_brace), "perimeter_brace", "brace", tank.material)
    for number in range(1, len(tank.cross_braces) + 1):
        add(_cross(tank, number, strip), f"cross_brace_{number}", "brace", tank.material)
    if tank.rim:
        add(_rim(tank, tank.rim), "rim", "rim", tank.rim.material)
    if tank.silicone > 0:
        braces = [body.solid for body in bodies if body.kind == "brace"]
        left = difference(beads(tank.plan(), tank.inside_size()[2], tank.silicone), braces)
        add(whole(left, "bead"), "silicone", "silicone", "silicone")
    return bodies


def _perimeter(tank: Tank, brace: PerimeterBrace) -> Solid:
    plan, height = tank.plan(), tank.inside_size()[2]
    ring = prism(plan, brace.thickness, holes=[move_edges(plan, brace.width)])
    return ring.solid(Placement.at((0, 0, height - brace.below_top - brace.thickness)))


def _cross(tank: Tank, number: int, strip: Solid | None) -> Solid:
    cross, height = tank.cross_braces[number - 1], tank.inside_size()[2]
    depth = float(np.ptp(tank.plan()[:, 1]))
    slab = box((cross.width, depth, cross.thickness)).solid(
        Placement.at((cross.at - cross.width / 2, 0.0, height - cross.thickness))
    )
    cut = intersection(slab, prism(tank.plan(), height).solid())
    if cut is not None and strip is not None:
        cut = difference(cut, [strip])
    if cut is None:
        raise tank.mistake(
            f"cross_braces[{number}]",
            "nothing is left of this brace beside the perimeter brace",
            expected="a brace that reaches over open water",
        )
    return cut


def _rim(tank: Tank, rim: Rim) -> Solid:
    plan, outer, height = tank.plan(), tank.outer_plan(), tank.inside_size()[2]
    wide = move_edges(outer, -rim.thickness)
    band = prism(wide, rim.height, holes=[outer]).solid(Placement.at((0, 0, height - rim.height)))
    lip = prism(wide, rim.thickness, holes=[plan]).solid(Placement.at((0, 0, height)))
    return whole(union([band, lip]), "rim")
