"""The sump: a box in the stand, divided by baffles into compartments from the inlet to the return chamber.

Water levels are those the scene sets; what they become when pumps stop is computed elsewhere.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from layout3d.errors import SceneMistake
from layout3d.fields import CatalogName, Choice, Length, Name, field
from layout3d.fields_composite import Listing, Point, Position, PositionType, Turn, record
from layout3d.parts.base import Body, Built, Join, PlacedPart, Site, Space, Vector
from layout3d.parts.vessel import Compartment, SumpData
from layout3d.solid.boolean import difference, whole
from layout3d.solid.primitives import box
from layout3d.solid.shape import Placement
from layout3d.units import show

__all__ = ["Baffle", "CompartmentFields", "Media", "Sump"]

_SIZE = Length(0.02, 5.0)
_HEIGHT = Length(0.0, 5.0)
_THICKNESS = Length(0.001, 0.05)


@dataclass(frozen=True, kw_only=True)
class Baffle:
    """A wall at the end of a compartment: water goes over it, or under it."""

    height: float = field(_SIZE, doc="of its top over the sump's floor")
    gap: float = field(_HEIGHT, 0.0, doc="below it; 0 where water goes over the top")
    thickness: float = field(_THICKNESS, 0.006, doc="of the wall")


@dataclass(frozen=True, kw_only=True)
class Media:
    """Filter media in a compartment, between two heights over the floor."""

    bottom: float = field(_HEIGHT, 0.03, doc="its lower face over the sump's floor")
    top: float = field(_SIZE, doc="its upper face over the sump's floor")
    material: str = field(CatalogName("material"), "lava rock", doc="with its porosity")


@dataclass(frozen=True, kw_only=True)
class CompartmentFields:
    """One compartment; the last one takes the length that is left."""

    name: str = field(Name("the compartment", own=True), doc="its name, for `in: sump.name`")
    length: float | None = field(_SIZE, None, doc="inside, along the sump; left out at the last one")
    level: float | None = field(
        _HEIGHT, None, doc="of its water over the floor; by default the height of the baffle it runs over"
    )
    baffle: Baffle | None = field(record(Baffle, "a baffle"), None, doc="at its end; none at the last one")
    media: Media | None = field(record(Media, "media"), None, doc="filter media in it")


@dataclass(frozen=True, kw_only=True)
class Sump(PlacedPart):
    """A sump; ``at`` is its outside front left bottom corner."""

    kind = "sump"
    group = "sump"

    at: Position = field(
        PositionType(),
        doc="where its outside front left bottom corner is; its water begins a glass's thickness behind it",
    )
    inside: tuple[float, float, float] = field(Point(("length", "depth", "height"), _SIZE), doc="inside size")
    glass: float = field(_THICKNESS, 0.008, doc="thickness of its walls and floor")
    material: str = field(CatalogName("material"), "glass", doc="of walls, floor and baffles")
    flow: str = field(
        Choice(("left_to_right", "right_to_left")), "left_to_right", doc="the way the compartments follow"
    )
    compartments: tuple[CompartmentFields, ...] = field(
        Listing(record(CompartmentFields, "a compartment"), least=1, most=12),
        doc="from the inlet to the return chamber",
    )

    points = {  # noqa: RUF012 - annotated in the base
        "NAME": "anchor: the middle of the compartment NAME; and a space, for `in: sump.NAME`"
    }
    dimensions = {  # noqa: RUF012 - annotated in the base
        "inside_length": lambda sump: sump.inside[0],
        "inside_depth": lambda sump: sump.inside[1],
        "inside_height": lambda sump: sump.inside[2],
    }

    def __post_init__(self) -> None:
        """Refuse compartments that do not fill the sump, and levels above its rim."""
        last = self.compartments[-1]
        names = [compartment.name for compartment in self.compartments]
        for number, item in enumerate(self.compartments, start=1):
            path = f"compartments[{number}]"
            if item.name in names[: number - 1]:
                raise SceneMistake(
                    f"two compartments are called {item.name!r}", expected="a name each", path=f"{path}.name"
                )
            if item is last and (item.length is not None or item.baffle is not None):
                raise SceneMistake(
                    f"{item.name}, the last compartment, has a length or a baffle",
                    expected="neither: it takes the length that is left",
                    path=path,
                )
            if item is not last and (item.length is None or item.baffle is None):
                lacks = "length" if item.length is None else "baffle"
                raise SceneMistake(
                    f"{item.name} lacks its {lacks}", expected="a length and a baffle", path=path
                )
            self._check_contents(item, path)
        if self._last_length() < 0.02:
            raise SceneMistake(
                f"the compartments leave {show(self._last_length(), 'length')} for {last.name}",
                expected=f"{show(0.02, 'length')} or more",
                path="compartments",
            )
        if self.turn != Turn(about_up=self.turn.about_up) or abs(math.sin(2 * self.turn.about_up)) > 1e-6:
            raise SceneMistake(
                "a sump stands upright, along or across the stand",
                expected="a turn of 0, 90, 180 or 270 degrees about the upright axis alone",
                path="turn",
            )

    def _check_contents(self, item: CompartmentFields, path: str) -> None:
        """Refuse a level above the rim, a baffle that ends below its gap, media that is not there."""
        height, level = self.inside[2], self._level(item, path)
        if level > height:
            raise SceneMistake(
                f"{item.name} has its water {show(level, 'length')} above the floor of a sump "
                f"{show(height, 'length')} high",
                expected="a level within the sump",
                path=f"{path}.level" if item.level is not None else f"{path}.baffle.height",
            )
        if item.baffle and not item.baffle.gap < item.baffle.height:
            raise SceneMistake(
                f"the baffle of {item.name} ends {show(item.baffle.height, 'length')} over the floor, with "
                f"a gap of {show(item.baffle.gap, 'length')} below it",
                expected="its top above its gap",
                path=f"{path}.baffle",
            )
        if item.media and not item.media.bottom < item.media.top <= height:
            raise SceneMistake(
                f"the media of {item.name} reaches from {show(item.media.bottom, 'length')} to "
                f"{show(item.media.top, 'length')} over the floor",
                expected=f"its top above its bottom, and at most {show(height, 'length')}",
                path=f"{path}.media",
            )

    def _last_length(self) -> float:
        taken = sum((c.length or 0.0) + (c.baffle.thickness if c.baffle else 0.0) for c in self.compartments)
        return self.inside[0] - taken

    def _level(self, item: CompartmentFields, path: str = "compartments") -> float:
        if item.level is not None:
            return item.level
        if item.baffle is None or item.baffle.gap > 0:
            raise SceneMistake(
                f"{item.name} has no water level",
                expected="`level:` where no baffle sets it by its height",
                path=path,
            )
        return item.baffle.height

    def build(self, site: Site) -> Built[Sump, SumpData]:
        """Build walls, baffles, media and compartments."""
        length, depth, height = self.inside
        wall = self.glass
        outer = box((length + 2 * wall, depth + 2 * wall, height + wall))
        own = site.placement(self, outer)
        inner = own @ Placement.at((wall, wall, wall))
        hollow = box((length, depth, height + wall)).solid(Placement.at((wall, wall, wall)))
        box_walls = whole(difference(outer.solid(), [hollow]), "sump").moved(own)
        bodies = [self.body(box_walls, site, material=self.material, piece="box", kind="panel", where="sump")]
        compartments = []
        cursor = 0.0
        for item in self.compartments:
            extent = item.length if item.length is not None else self._last_length()
            low, high = cursor, cursor + extent
            cursor = high + (item.baffle.thickness if item.baffle else 0.0)
            if self.flow == "right_to_left":
                low, high = length - high, length - low
            bodies += self._contents(site, item, inner, (low, high))
            compartments.append(
                Compartment(
                    **_inside(inner, (low, high), depth, height),
                    name=item.name,
                    level=self._level(item),
                    baffle_height=item.baffle.height if item.baffle else 0.0,
                    baffle_gap=item.baffle.gap if item.baffle else 0.0,
                )
            )
        data = SumpData(**_inside(inner, (0.0, length), depth, height), compartments=tuple(compartments))
        return Built(
            part=self,
            bodies=tuple(bodies),
            joins=(Join(self.name, self.name, "seal"), *self.fixings()),
            spaces=(
                Space(name=self.name, low=data.low, high=data.high),
                *(
                    Space(name=f"{self.name}.{c.name}", low=c.low, high=c.high, water=c.water_z)
                    for c in compartments
                ),
            ),
            anchors={c.name: c.middle((c.floor + c.rim) / 2) for c in compartments},
            data=data,
        )

    def _contents(
        self, site: Site, item: CompartmentFields, inner: Placement, span: tuple[float, float]
    ) -> list[Body]:
        """Return the baffle at the end of a compartment and the media in it."""
        depth, (low, high) = self.inside[1], span
        bodies = []

        def add(size: Vector, at: Vector, kind: str, material: str) -> None:
            solid, piece = box(size).solid(inner @ Placement.at(at)), f"{kind}_{item.name}"
            bodies.append(self.body(solid, site, material=material, piece=piece, kind=kind, where="sump"))

        if item.baffle:
            baffle, gap = item.baffle, item.baffle.gap
            x = high if self.flow == "left_to_right" else low - baffle.thickness
            add((baffle.thickness, depth, baffle.height - gap), (x, 0.0, gap), "baffle", self.material)
        if item.media:
            media = item.media
            size = (high - low - 0.002, depth - 0.002, media.top - media.bottom)
            add(size, (low + 0.001, 0.001, media.bottom), "media", media.material)
        return bodies


def _inside(inner: Placement, span: tuple[float, float], depth: float, height: float) -> dict[str, Any]:
    """Return what a vessel has of a box of an upright sump, between two places along it."""
    low, high = span
    corners = inner.apply([[low, 0.0, 0.0], [high, 0.0, 0.0], [high, depth, 0.0], [low, depth, 0.0]])
    floor = float(corners[0, 2])
    return {
        "plan": tuple((float(x), float(y)) for x, y, _ in corners),
        "floor": floor,
        "rim": floor + height,
        "interior": box((high - low, depth, height)).solid(inner @ Placement.at((low, 0, 0))),
    }
