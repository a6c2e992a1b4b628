"""The scene as frozen data: what the file says, read and evaluated, nothing built yet."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path

from layout3d.catalog import Catalog
from layout3d.errors import Place
from layout3d.fields import Choice, Name, Node, Number, Quantity, Text
from layout3d.fields import field as scene_field
from layout3d.fields_composite import Entries, Listing, Position, PositionType, record
from layout3d.parts.base import Part
from layout3d.scene import arithmetic
from layout3d.scene.shop import ShopFields

__all__ = ["Acceptance", "CameraFields", "Clearance", "Conditions", "Scene", "Sections", "Swim"]


@dataclass(frozen=True, kw_only=True)
class Clearance:
    """A distance that two parts have to keep."""

    between: tuple[str, ...] = scene_field(
        Listing(Name("a part, a body (part.piece) or a group"), least=2, most=2), doc="the two parts"
    )
    at_least: float = scene_field(Quantity("length", least=0.0, most=10.0), doc="the distance to keep")
    why: str = scene_field(Text(), "", doc="shown with the finding")


@dataclass(frozen=True, kw_only=True)
class Acceptance:
    """A finding that the builder has looked at and accepts: it is told as a note."""

    rule: str = scene_field(Name("a rule"), doc="the rule's name")
    parts: tuple[str, ...] = scene_field(
        Listing(Name("a part or body"), least=1, most=20), doc="the parts of the finding"
    )
    why: str = scene_field(Text(), doc="the reason, shown with the note")


@dataclass(frozen=True, kw_only=True)
class Conditions:
    """Water and air of the room and the tank; used for densities, loads and evaporation."""

    water_temperature: float = scene_field(
        Quantity("temperature", least=273.15, most=313.15), 297.15, doc="water, default 24 °C"
    )
    air_temperature: float = scene_field(
        Quantity("temperature", least=263.15, most=323.15), 295.15, doc="room air, default 22 °C"
    )
    humidity: float = scene_field(
        Number(least=0.0, most=1.0), 0.5, doc="relative humidity of the room air; 50 % is 0.5"
    )
    air_speed: float = scene_field(
        Quantity("speed", least=0.0, most=5.0), 0.1, doc="over the open water, default 0.1 m/s"
    )


@dataclass(frozen=True, kw_only=True)
class Swim:
    """Fish to leave room for."""

    sizes: tuple[float, ...] = scene_field(
        Listing(Quantity("length", least=0.005, most=1.0), least=1, most=8),
        (0.03, 0.06),
        doc="depth of their bodies, back to belly, fins laid; default 30 mm and 60 mm",
    )


@dataclass(frozen=True, kw_only=True)
class Head:
    """The top of the file beside its parts; the reader knows the keys from here."""

    format: str = scene_field(Choice(("1",)), doc="version of the file format")
    units: str = scene_field(Choice(("mm", "in")), doc="what a bare number of length means")
    title: str = scene_field(Text(120), "", doc="shown on reports and pictures")
    waterline: float = scene_field(
        Quantity("length", least=0.0, most=5.0), doc="height of the water over the tank's inside floor"
    )
    style: str = scene_field(
        Choice(("metric", "inch")), "", doc="units of reports; by default those of `units`"
    )
    room: str = scene_field(Text(120), "", doc="where it stands; a remark")
    date: str = scene_field(Text(40), "", doc="of the design, as sheets show it")


@dataclass(frozen=True, slots=True)
class PartRead:
    """A part with all that it was read from: its node, and what the names in it stood for."""

    part: Part
    node: Node
    asked: Mapping[str, arithmetic.Quantity]


@dataclass(frozen=True, slots=True)
class Reading:
    """How a file was read: all of it, parts by their names, and what holds for all of these."""

    root: Node | None = None
    settings: tuple[float, str, Catalog] | None = None  # what a bare length is [m], units of messages
    parts: Mapping[str, PartRead] = field(default_factory=dict)


@dataclass(frozen=True, kw_only=True)
class CameraFields:
    """A spot that pictures and sheets are drawn from."""

    at: Position = scene_field(PositionType(), doc="where the camera stands")
    target: Position = scene_field(PositionType(), doc="what lies in the middle of its pictures")
    angle: float = scene_field(
        Quantity("angle", least=math.radians(2.0), most=math.radians(120.0)),
        math.radians(35.0),
        doc="of its lens, over the shorter side of the picture",
    )


@dataclass(frozen=True, kw_only=True)
class Sections:
    """The sections of the file that are read by fields alone; reader, schema and page of fields go by it."""

    clearances: tuple[Clearance, ...] = scene_field(
        Listing(record(Clearance, "a clearance")), (), doc="distances that parts have to keep"
    )
    accept: tuple[Acceptance, ...] = scene_field(
        Listing(record(Acceptance, "an acceptance")),
        (),
        doc="findings that are known and accepted, with the reason",
    )
    conditions: Conditions = scene_field(
        record(Conditions, "conditions"),
        Conditions(),
        doc="water and air, where they differ from the defaults",
    )
    shop: ShopFields = scene_field(
        record(ShopFields, "a shop"),
        ShopFields(),
        doc="stock lengths, packs, prices, and what is built before what",
    )
    swim: Swim = scene_field(record(Swim, "fish"), Swim(), doc="fish that room is measured for")
    cameras: Mapping[str, CameraFields] = scene_field(
        Entries(record(CameraFields, "a camera"), "a camera"),
        {},
        doc="spots that pictures and sheets are drawn from, by name",
    )


@dataclass(frozen=True, kw_only=True)
class Scene(Sections):
    """A whole scene file, evaluated. Lengths [m]; ``folder`` is where meshes are looked for."""

    file: str
    folder: Path
    title: str
    units: str
    style: str
    waterline: float
    values: Mapping[str, float]
    parts: tuple[Part, ...]
    catalog: Catalog
    date: str = ""
    read: Reading = field(default_factory=Reading, repr=False, compare=False)
    """For who reads the file again after a change, or tells where in it something stands."""

    def part(self, name: str) -> Part | None:
        """Return a part by name, or None."""
        return self._by_name.get(name)

    def place_of(self, path: str) -> Place:
        """Return where what a path names stands in the file, as far as it leads: 'parts.rock.at.left'."""
        return Place(self.file) if self.read.root is None else self.read.root.below(path).place

    @cached_property
    def _by_name(self) -> Mapping[str, Part]:
        return {part.name: part for part in self.parts}
