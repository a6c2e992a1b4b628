"""Shapes of natural parts as the scene asks for them: generated from a seed, or read from a mesh file."""

from __future__ import annotations

import dataclasses
import os
import re
import stat
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, ClassVar, TypeVar

import numpy as np

from layout3d.errors import LayoutError, OutOfRange, Place, SceneMistake
from layout3d.fields import Choice, Flag, Length, Number, Quantity, Text, field
from layout3d.fields_composite import Listing, record
from layout3d.files import note_link
from layout3d.parts.base import Built, Part, PlacedPart, Site, vector
from layout3d.parts.forms.leaf import plant
from layout3d.parts.forms.mesh import Mesh
from layout3d.parts.forms.rock import rock
from layout3d.parts.forms.wood import driftwood
from layout3d.solid.primitives import heightfield
from layout3d.solid.settle import settled
from layout3d.solid.shape import Placement, Shape, Solid
from layout3d.solid.store import stored

if TYPE_CHECKING:
    from layout3d.solid.mesh_file import Repair

__all__ = [
    "FILE_UNITS",
    "FILE_UNIT_DOC",
    "UP_DOC",
    "Measured",
    "Outlines",
    "Scanned",
    "asked",
    "build_scanned",
    "grown",
    "imported_shape",
    "scan_notes",
    "scene_file",
]

Made = TypeVar("Made")
ScannedT = TypeVar("ScannedT", bound="Scanned")

FILE_UNIT_DOC = "or the unit of a mesh file that has its true size already"
UP_DOC = "which of the mesh file's axes points up; y in GLB, z in others if not given"
FILE_UNITS = {"mm": 0.001, "cm": 0.01, "m": 1.0, "in": 0.0254, "ft": 0.3048}


_PIECES = ("rock", "wood")
"""Kinds of which those before it in the file count, and those that don't come to rest themselves."""
_STAYS = ("background", "mat", "overflow_box")


_IN_FILE = Listing(Number(), least=3, most=3)


@dataclass(frozen=True, kw_only=True)
class Outlines:
    """Two pictures of a piece's outline, both of it upright and from far away."""

    front: str = field(Text(200), doc="a PNG of its outline as seen from the front, in the scene's folder")
    side: str = field(Text(200), doc="as seen from the right, its front to the left")


@dataclass(frozen=True, kw_only=True)
class Measured:
    """Two points of a mesh file, and how far apart they are on the piece itself."""

    one: tuple[float, ...] = field(_IN_FILE, doc="a point [x, y, z] in the file's own axes and units")
    other: tuple[float, ...] = field(_IN_FILE, doc="another")
    apart: float = field(Length(0.001, 5.0), doc="their distance, measured on the piece")


@dataclass(frozen=True, kw_only=True)
class Scanned(PlacedPart):
    """Base of the kinds that are grown from a seed, or read from a mesh or from outlines."""

    grown_by: ClassVar[str] = "size"
    """The field that says how large a grown one is."""

    mesh: str = field(Text(200), "", doc="or a mesh file (STL, OBJ, PLY, GLB) in the scene's folder")
    longest: float | None = field(Length(0.005, 5.0), None, doc="longest side that the mesh is scaled to")
    mass: float | None = field(
        Quantity("mass", above=0.0, most=2000.0), None, doc="or dry mass that it is scaled to"
    )
    file_unit: str = field(Choice(tuple(FILE_UNITS)), "", doc=FILE_UNIT_DOC)
    measured: Measured | None = field(
        record(Measured, "two points"), None, doc="or two of its points whose distance is known"
    )
    tolerance: float | None = field(
        Length(0.00001, 0.02),
        None,
        doc="how far the mesh may stray from the file to have fewer triangles; as it is if not given",
    )
    up: str = field(Choice(("y", "z")), "", doc=UP_DOC)
    outlines: Outlines | None = field(
        record(Outlines, "outlines"),
        None,
        doc="or two pictures of its outline, with `longest:`: the largest piece that shows both",
    )
    hull: bool = field(Flag(), False, doc="true: take the convex hull of a mesh that can't be closed")
    rest: bool = field(
        Flag(),
        False,
        doc="true: let go where `at` and `turn` put it, it comes to rest on glass, beds, mats, backgrounds, "
        "and on rock and wood that stays where it is put, or is let go before it in the file",
    )
    sink: float = field(Length(0.0, 0.5), 0.005, doc="how far into a bed, as it comes to rest there")

    def __post_init__(self) -> None:
        """Refuse one without a size."""
        ways = (self.grown_by, "mesh", "outlines")
        given = [way for way in ways if getattr(self, way)]
        if len(given) != 1:
            raise SceneMistake(
                "both " + " and ".join(given) if given else f"neither {self.grown_by} nor mesh nor outlines",
                expected=f"one of `{self.grown_by}:` of a grown piece, `mesh:` and `outlines:`",
                path=given[-1] if given else "",
            )
        of_mesh = self.mass or self.file_unit or self.hull or self.measured or self.tolerance
        if self.outlines and (not self.longest or of_mesh):
            raise SceneMistake(
                "outlines without `longest:`, or with what only a mesh has (`mass:`, `hull:` …)",
                expected="`longest:` alone, the longest side of the piece's box, as measured",
                path="outlines",
            )
        if self.rest and self.fixed_to:
            raise SceneMistake(
                "it is fixed, and to come to rest",
                expected="`rest: true` of a loose piece, or `fixed_to:`",
                path="rest",
            )


def build_scanned(
    part: ScannedT, site: Site, material: str, field: str, grow: Callable[[], Shape]
) -> Built[ScannedT, None]:
    """Build one from its mesh, or by ``grow``, whose figures the scene's ``field`` answers for."""
    scan = None
    notes: tuple[str, ...] = ()
    if part.outlines:
        shape, scan, notes = _outlined(part, site, part.outlines)
    elif part.mesh:
        entry = site.catalog.material(material)
        shape, scan = imported_shape(
            part,
            site,
            part.mesh,
            longest=part.longest,
            file_unit=part.file_unit,
            up=part.up,
            density=entry.density * (1 - (entry.porosity or 0.0)),
            mass=part.mass,
            measured=part.measured,
            hull=part.hull,
            tolerance=part.tolerance or 0.0,
        )
        notes = scan_notes(part.name, scan, part.up)
    else:
        shape = asked(part, field, grow, site)
    solid = shape.solid(site.placement(part, shape))
    if part.rest:
        solid = _at_rest(part, site, solid)
    return Built(
        part=part,
        data=None,
        bodies=(part.body(solid, site, material=material),),
        joins=part.fixings(),
        scan=scan,
        notes=notes,
    )


def _outlined(part: Scanned, site: Site, given: Outlines) -> tuple[Shape, Repair, tuple[str, ...]]:
    """Return the largest piece with two outlines, what it is, and that in words."""
    from layout3d.parts.forms.outlines import EXPECTED, from_outlines, read_outline
    from layout3d.solid.mesh_file import Repair

    seen = []
    for view, name in (("front", given.front), ("side", given.side)):
        path = scene_file(part, site, f"outlines.{view}", name)
        try:
            seen.append(read_outline(path))
        except SceneMistake as error:
            raise part.mistake(
                f"outlines.{view}", error.found, expected=error.expected, remedy=error.remedy
            ) from error
    assert part.longest is not None, "outlines are refused without it (Scanned)"
    try:
        shape, apart = from_outlines(seen[0], seen[1], longest=part.longest)
    except ValueError as error:
        raise part.mistake("outlines", str(error), expected=EXPECTED) from error
    files = f"{given.front} and {given.side}"
    faces = len(shape.faces)
    scan = Repair(file=files, faces_read=faces, faces_kept=faces, steps=(), scale=part.longest, outlined=True)
    told = f"{part.name}: {files}: the largest piece with these outlines; the real one has at most its volume"
    if apart:
        told += f"; {100 * apart:.2g} % of it lay apart and was dropped"
    return shape, scan, (told,)


def _at_rest(part: Scanned, site: Site, solid: Solid) -> Solid:
    """Return the solid of a part where it comes to rest.

    Raises
    ------
    SceneMistake : nothing is under it.
    """
    pieces = site.of_kind(*_PIECES)
    mine = next(number for number, piece in enumerate(pieces) if piece.name == part.name)
    before = [
        piece
        for number, piece in enumerate(pieces)
        if number < mine or (number > mine and not getattr(piece, "rest", False))
    ]
    parts = [site.tank().part, *site.of_kind(*_STAYS), *before]
    still = [
        body.solid
        for other in parts
        for body in site.built(other.name, part, "rest").bodies
        if body.kind != "foliage"
    ]
    for bed in site.of_kind("substrate"):
        x, y, z = bed.grid(site)  # type: ignore[attr-defined] # the kind has it
        whole = height_shape(x.tobytes(), y.tobytes(), z.tobytes(), 0.0)
        still.append(whole.solid(Placement.at((0.0, 0.0, -part.sink))))
    try:
        return settled(solid, still)
    except OutOfRange as error:
        raise part.mistake("rest", error.found, expected=error.expected) from error


_FIGURE = r"-?[0-9][0-9.]*(?:e-?[0-9]+)?"
_METRES = re.compile(rf"({_FIGURE})(?: to ({_FIGURE}))? m\b")


def asked(part: Part, field: str, make: Callable[[], Made], site: Site) -> Made:
    """Make something of the scene's figures; a figure outside the maker's limits is the scene's mistake.

    The metres of the maker's message are told in the scene's units.
    """
    try:
        return make()
    except ValueError as error:
        if hasattr(error, "found"):
            raise
        told = _METRES.sub(
            lambda found: " to ".join(site.length(float(figure)) for figure in found.groups() if figure),
            str(error),
        )
        raise part.mistake(field, told, expected="figures within these limits") from error


def grown(what: str, **figures: Any) -> Shape:
    """Return a generated rock, piece of wood, or piece of a plant; ``figures`` as its form takes them."""
    return _grown(what, tuple(sorted(figures.items())))


@stored
def _grown(what: str, figures: tuple[tuple[str, Any], ...]) -> Shape:
    makers: dict[str, Callable[..., Mesh]] = {
        "rock": rock,
        "wood": driftwood,
        "plant": lambda piece, **rest: plant(pieces=(piece,), **rest)[piece],
    }
    return Shape.of(*makers[what](**dict(figures)))


@stored
def height_shape(x: bytes, y: bytes, z: bytes, base: float) -> Shape:
    """Return the shape under a grid of heights, given as the bytes of float64 arrays."""
    across, along = np.frombuffer(x), np.frombuffer(y)
    return heightfield(across, along, np.frombuffer(z).reshape(len(across), len(along)), base)


def scene_file(part: Part, site: Site, field: str, name: str) -> Path:
    """Return a file named by the scene; it has to lie in the scene's own folder or below it."""
    folder = Path(os.path.realpath(site.folder))
    path = Path(os.path.realpath(folder / name))
    note_link(folder / name, path)
    note_link(site.folder.absolute(), folder)
    if not path.is_relative_to(folder):
        raise part.mistake(
            field,
            f"{name!r} lies outside the scene's folder",
            expected="a file in the scene's folder or below it",
            remedy="copy the file next to the scene",
        )
    try:
        found = stat.S_ISREG(path.stat().st_mode)
    except (OSError, ValueError) as fault:  # ValueError: a null character
        found = False
        if not isinstance(fault, FileNotFoundError):
            reason = getattr(fault, "strerror", None) or str(fault)
            raise part.mistake(
                field, f"{name[:80]!r} can't be read: {reason}", expected="a file in the scene's folder"
            ) from None
    if not found:
        told = f"{name!r} is no plain file" if path.exists() else f"there is no file {name!r}"
        raise part.mistake(field, told, expected="a file in the scene's folder")
    return path


SMALLEST, LARGEST = 0.005, 10.0  # longest side of a mesh at its own size, as of one that is scaled, [m]


def imported_shape(
    part: Part,
    site: Site,
    name: str,
    *,
    longest: float | None,
    file_unit: str,
    up: str,
    mass: float | None = None,
    density: float = 1.0,
    measured: Measured | None = None,
    hull: bool = False,
    tolerance: float = 0.0,
) -> tuple[Shape, Repair]:
    """Return a part's mesh, brought to size and stood on its lowest point, and what was mended in it.

    Raises
    ------
    SceneMistake : not just one of ``longest``, ``mass``, ``file_unit`` and ``measured``, a file outside the
        folder, no such file, a mesh that has no believable size of its own.
    MeshRefused : a mesh that can't be closed.
    """
    from layout3d.solid.mesh_file import load_mesh

    given = sum(bool(size) for size in (longest, mass, file_unit, measured))
    if given != 1:
        told = "none of" if not given else "more than one of"
        raise part.mistake(
            "mesh",
            f"a mesh with {told} `longest:`, `mass:`, `file_unit:` and `measured:`",
            expected="one of them: a size to scale the mesh to, or the unit of a mesh that has its true size",
        )
    path = scene_file(part, site, "mesh", name)
    volume = None if mass is None else mass / density
    unit = FILE_UNITS.get(file_unit, 1.0)
    apart = None if measured is None else (measured.one, measured.other, measured.apart)
    try:
        shape, repair = load_mesh(
            path,
            longest=longest,
            volume=volume,
            apart=apart,
            unit=unit,
            up=up,
            hull=hull,
            tolerance=tolerance,
        )
    except LayoutError as error:
        error.path, error.place = f"parts.{part.name}.mesh", Place()
        error.found = error.found.replace(str(path), name)  # as the scene calls it
        raise
    low, high = shape.bounds
    side = float((high - low).max())
    if (file_unit or measured) and not SMALLEST <= side <= LARGEST:
        raise part.mistake(
            "file_unit" if file_unit else "measured",
            f"{name}{f' in {file_unit}' if file_unit else ''} is {site.length(side)} long",
            expected=f"{site.length(SMALLEST)} to {site.length(LARGEST)}",
            remedy="name another unit, or scale the mesh by `longest:`",
        )
    base = np.array([(low[0] + high[0]) / 2, (low[1] + high[1]) / 2, low[2]])
    stood = Shape.of(Placement.at(-base).apply(shape.vertices), shape.faces)
    return stood, dataclasses.replace(repair, file=name, base=vector(base))


def scan_notes(part: str, repair: Repair | None, up: str) -> tuple[str, ...]:
    """Say what was mended, and what was taken for granted."""
    if repair is None:
        return ()
    assumed = "y up, as GLB has it" if repair.file.lower().endswith(".glb") else "z up assumed"
    return (f"{part}: {repair}" + ("" if up else f"; {assumed} (`up:` says otherwise)"),)
