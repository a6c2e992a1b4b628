"""What every part kind shares: its common fields, and the frozen data it is built into.

A part is what the scene file says (fields, SI). Built, it becomes bodies (closed solids in place), ports
(where runs join on), joins (contacts that are meant), anchors (named points) and keep-clear spaces. Axes
are the tank's: x right, y from the front glass to the back glass, z up, origin at the inside front left
bottom corner, [m].
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any, ClassVar, Generic, Protocol, TypeVar

from layout3d.errors import SceneMistake
from layout3d.fields import Name
from layout3d.fields import field as scene_field
from layout3d.fields_composite import Listing, Position, PositionType, Turn, TurnType
from layout3d.parts.vessel import Vessel
from layout3d.solid.placement import Vector, vector

if TYPE_CHECKING:
    from layout3d.catalog import Catalog
    from layout3d.fittings.port import FittingPort
    from layout3d.parts.tank_data import TankData
    from layout3d.solid.face import Face
    from layout3d.solid.mesh_file import Repair
    from layout3d.solid.shape import Placement, Shape, Solid

__all__ = [
    "GROUPS",
    "LOOSE",
    "Body",
    "Built",
    "Join",
    "KeepClear",
    "Part",
    "PlacedPart",
    "Port",
    "Rough",
    "Site",
    "Space",
    "Vector",
    "vector",
]

PartT = TypeVar("PartT", bound="Part", covariant=True)
DataT = TypeVar("DataT", covariant=True)

GROUPS = (
    "glass",
    "background",
    "plumbing",
    "wood",
    "rock",
    "substrate",
    "equipment",
    "plant",
    "sump",
    "stand",
)
"""Groups that pictures and the window show and hide together."""

LOOSE = ("wood", "rock", "equipment", "plant")
"""Groups that are set in by hand, piece by piece, and moved about: what hangs on the others is kept apart."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Rough:
    """What bodies were before they were hollowed for plumbing, and what was cut out of it for that."""

    solid: Solid
    works: tuple[Solid, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Body:
    """One closed solid in place. ``name`` is 'part' or 'part.piece', and unique in the model.

    ``density`` is that of the material itself, [kg/m³]; ``porosity`` is the part of the solid's volume that
    water fills, [-]. ``kind`` names the piece ('panel', 'brace', 'pipe', 'elbow_90', 'rock' …), ``where``
    the space it is in: 'tank', 'sump' or 'room' (all else). ``uncut`` is the solid before it was cut to the
    tank's inside and around other bodies, None where it wasn't: the inside less those others is the same cut
    by either, but the uncut one has no faces that all but lie in theirs, which the geometry kernel can't tell
    apart. ``rough`` is what this body (a bed: uncut) and others were before they were hollowed, else None.
    """

    name: str
    part: str
    kind: str
    group: str
    solid: Solid
    material: str
    density: float
    porosity: float = 0.0
    where: str = "tank"
    uncut: Solid | None = None
    rough: Rough | None = None

    def before(self, other: Solid) -> Solid:
        """Return it as it was before it was cut, as far as another solid can tell: else it is as it is.

        Where nothing that it is hollowed for comes to the other, that is what stood before it was hollowed,
        too: that stays the same wherever pipes are led elsewhere.
        """
        if self.uncut is None:
            return self.solid
        rough = self.rough
        if rough is None or any(work.box_meets(other) for work in rough.works):
            return self.uncut
        return rough.solid

    @property
    def mass(self) -> float:
        """Return its dry mass, [kg]."""
        return self.solid.volume * (1.0 - self.porosity) * self.density


@dataclass(frozen=True, slots=True, kw_only=True)
class Port:
    """Where a run may join: ``at`` is the socket's face or the spigot's tip, ``direction`` points out.

    ``end`` is 'socket' (a pipe goes in), 'spigot' (it goes into a fitting), 'barb' (a tube goes over), or
    'open'. ``size`` is the catalogue name of the pipe or tube that mates; of a bulkhead, whose socket takes
    any pipe of its size, that size alone ('3/4 in', 'd25'). A pipe that goes in stops ``depth`` behind the
    face, [m]. ``bore`` is the least inside diameter, [m].
    """

    name: str
    at: Vector
    direction: Vector
    end: str
    size: str
    bore: float
    body: str
    depth: float = 0.0

    @classmethod
    def placed(cls, port: FittingPort, placement: Placement, *, name: str, size: str, body: str) -> Port:
        """Return a fitting's port where the fitting stands."""
        return cls(
            name=name,
            at=vector(placement.apply(port.at)),
            direction=vector(placement.direction(port.direction)),
            end="socket" if port.end == "socket" else "open",
            size=size,
            bore=port.bore,
            body=body,
            depth=port.socket_bottom,
        )


@dataclass(frozen=True, slots=True)
class Join:
    """Two bodies that are meant to touch or share space, by full body name or whole part name.

    ``how``: 'socket' (cemented pipe), 'barb', 'hole' (a bulkhead in the glass), 'seal' (silicone, gasket),
    'embedded' (foamed in, buried in a bed), 'rests', 'held' (clip, suction cup), 'glued'.
    """

    a: str
    b: str
    how: str


@dataclass(frozen=True, slots=True, kw_only=True)
class KeepClear:
    """A space that has to stay free for a cable, a hose or a hand; belongs to ``part``."""

    name: str
    part: str
    solid: Solid
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Space:
    """A box that positions may refer to by name with ``in:`` (the tank's inside, a sump compartment), [m].

    ``water`` is the height of the water that stands in it, None where none does or where it is the tank's.
    """

    name: str
    low: Vector
    high: Vector
    water: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Built(Generic[PartT, DataT]):
    """A part built into frozen pieces. ``data`` is what only this kind has (TankData, RunData …) or None.

    ``scan`` tells what was mended in the mesh file that the part was read from, None where it wasn't.
    """

    part: PartT
    data: DataT
    bodies: tuple[Body, ...] = ()
    ports: tuple[Port, ...] = ()
    joins: tuple[Join, ...] = ()
    keep_clear: tuple[KeepClear, ...] = ()
    anchors: Mapping[str, Vector] = field(default_factory=dict)
    spaces: tuple[Space, ...] = ()
    notes: tuple[str, ...] = ()
    scan: Repair | None = None


class Site(Protocol):
    """What a part may ask while it is built. Asking for another part builds that one first."""

    catalog: Catalog

    @property
    def folder(self) -> Path:
        """Return the folder of the scene's file."""

    @property
    def waterline(self) -> float:
        """Return the height of the water over the tank's inside floor, [m]."""

    def length(self, metres: float, *, enough: bool = False) -> str:
        """Write a length for a message in the scene's units; ``enough`` rounds it up, never down."""

    def built(self, name: str, asked_by: Part, where: str = "") -> Built[Part, object]:
        """Return another part, built; a circle of parts that ask for each other is a mistake.

        ``where`` is the asking part's field, for the mistake's place; so it is below.
        """

    def tank(self) -> Built[Part, TankData]:
        """Return the tank, whatever its kind."""

    def of_kind(self, *kinds: str) -> tuple[Part, ...]:
        """Return the scene's parts of these kinds, unbuilt, in the file's order."""

    def others(self, part: Part) -> tuple[Part, ...]:
        """Return all parts but this one, unbuilt, in the file's order."""

    def port(self, name: str, asked_by: Part, where: str = "") -> Port:
        """Return a port by its full name; an unknown one is a mistake of the asking part."""

    def point(self, position: Position, asked_by: Part) -> Vector:
        """Return where a position lies."""

    def face(self, position: Position, asked_by: Part) -> Face:
        """Return the face on which a position with ``on`` lies."""

    def placement(self, part: Part, whole: Shape | Solid, *, stands: bool = True) -> Placement:
        """Return the placement of a part by its ``at`` and ``turn``, ``whole`` being all of it before that.

        With ``ground:`` its lowest point, as turned, is what stands there; its base point if not ``stands``.
        With ``face_of:`` it is turned with its front off the face.
        """

    def ground(self, x: float, y: float) -> float:
        """Return the height of the substrate (or the tank's floor) at this point, [m]."""


@dataclass(frozen=True, kw_only=True)
class Part:
    """Base of all part kinds: a frozen dataclass whose fields are declared with ``fields.field``.

    A kind sets the class attributes and says how to ``build`` itself. Where it stands in the file is told by
    paths alone: what hangs on a part stays as it is while lines above it come and go.
    """

    kind: ClassVar[str] = ""
    group: ClassVar[str] = ""
    dimensions: ClassVar[Mapping[str, Callable[[Any], float]]] = {}
    """Figures computed from the fields alone, open to arithmetic as ``part.dimension``, SI lengths."""
    points: ClassVar[Mapping[str, str]] = {}
    """Names of its ports, anchors and spaces, with what each is; NAME stands for one of the scene's own."""

    name: str = ""

    def build(self, site: Site) -> Built[Part, object]:
        """Build the part."""
        raise NotImplementedError(f"{type(self).__name__}.build")

    def mistake(self, where: str, found: str, *, expected: str = "", remedy: str = "") -> SceneMistake:
        """Return (not raise) a mistake that stands at a field of the part, or below it: 'holes.drain'."""
        path = f"parts.{self.name}.{where}".rstrip(".")
        return SceneMistake(found, expected=expected, remedy=remedy, path=path)

    def whereabouts(self, site: Site, solid: Solid) -> str:
        """Return 'tank', 'sump' or 'room', by the middle of a solid's bounding box."""
        return self.space_at(site, vector(solid.bounds.mean(axis=0)))

    def space_at(self, site: Site, at: Vector) -> str:
        """Return 'tank', 'sump' or 'room' of a point."""
        vessels: list[tuple[str, object]] = [("tank", site.tank().data)]
        vessels += [("sump", site.built(sump.name, self).data) for sump in site.of_kind("sump")]
        for where, vessel in vessels:
            assert isinstance(vessel, Vessel), "tanks and sumps build into vessels (Part.whereabouts)"
            if vessel.holds(at) and at[2] <= vessel.rim:
                return where
        return "room"

    def body(
        self,
        shape: Shape | Solid,
        site: Site,
        *,
        material: str,
        piece: str = "",
        kind: str = "",
        group: str = "",
        placement: Placement | None = None,
        porosity: float | None = None,
        filled: float = 1.0,
        where: str = "tank",
    ) -> Body:
        """Return a body of this part, of a catalogue material, at ``placement``.

        ``filled`` is the share of the solid that is material, the rest closed air: it lowers the density and
        leaves what the body displaces alone.
        """
        from layout3d.solid.shape import Placement, Shape

        entry = site.catalog.material(material)
        solid = (
            shape.solid(placement or Placement.identity())
            if isinstance(shape, Shape)
            else (shape.moved(placement) if placement else shape)
        )
        return Body(
            name=f"{self.name}.{piece}" if piece else self.name,
            part=self.name,
            kind=kind or self.kind,
            group=group or self.group,
            solid=solid,
            material=entry.name,
            density=filled * entry.density,
            porosity=(entry.porosity or 0.0) if porosity is None else porosity,
            where=where,
        )


@dataclass(frozen=True, kw_only=True)
class PlacedPart(Part):
    """A part that stands somewhere: adds ``at`` and ``turn``."""

    at: Position = scene_field(
        PositionType(),
        doc="where its base point is; `ground:` is how high its lowest point, as turned, stands over it",
    )
    turn: Turn = scene_field(TurnType(), Turn(), doc="how it is turned about its base point")
    fixed_to: tuple[str, ...] = scene_field(
        Listing(Name("a part, a body (part.piece), a panel (tank.back) or `room`")),
        (),
        doc="what it is glued, screwed, clipped or hung to; then nothing has to stand under it",
    )

    def fixings(self) -> tuple[Join, ...]:
        """Return the joins to what the part is fixed to."""
        return tuple(Join(self.name, name, "held") for name in self.fixed_to)
