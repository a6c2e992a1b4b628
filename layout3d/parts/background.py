"""The sculpted background: slabs on one or more panels, with relief on a grid, corners fitted.

Pipe channels, slits and cut-outs are taken out of them.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from layout3d.errors import LayoutError, SceneMistake, nearest
from layout3d.fields import CatalogName, Choice, Count, Length, Name, Text, field
from layout3d.fields_composite import Listing, record
from layout3d.keep import FIGURES, code_of, kept, key_of
from layout3d.parts.background_data import BackgroundData, Slab
from layout3d.parts.base import Body, Built, Join, Part, Rough, Site
from layout3d.parts.forms.height_image import from_image, read_height_image
from layout3d.parts.forms.relief import RELIEF_FORMS, panel_grid, relief
from layout3d.parts.run_data import RunData
from layout3d.parts.shapes.grooves import SEAM, Groove, bulkhead_bore, by_corners, fixed_in, grooves, waterway
from layout3d.parts.shapes.natural import (
    FILE_UNIT_DOC,
    FILE_UNITS,
    UP_DOC,
    asked,
    height_shape,
    imported_shape,
    scan_notes,
    scene_file,
)
from layout3d.parts.tank_data import Panel, TankData
from layout3d.parts.vessel import Vessel
from layout3d.solid.boolean import components, cropped, difference, intersection, trim
from layout3d.solid.distance import meet
from layout3d.solid.placement import Array
from layout3d.solid.primitives import box, cylinder
from layout3d.solid.shape import Placement, Shape, Solid

if TYPE_CHECKING:
    from layout3d.solid.mesh_file import Repair

__all__ = ["Background", "Channel", "CutOut", "Relief"]

ON_WALL = 1e-9  # nearer to a wall than this is on it, [m]
CRUMB = 0.001  # a piece below this share of the largest falls out when the slab is cut, [-]

_LENGTH = Length(0.0, 10.0)


@dataclass(frozen=True, kw_only=True)
class Relief:
    """What stands out of the slab towards the viewer."""

    form: str = field(
        Choice((*RELIEF_FORMS, "flat")), "strata", doc="how a grown relief looks; flat for none"
    )
    depth: float = field(Length(0.0, 1.0), 0.05, doc="from the slab to its foremost point")
    seed: int = field(Count(0, 10**9), 0, doc="another number, another relief")
    pitch: float = field(Length(0.002, 0.1), 0.010, doc="of the grid it is drawn on")
    image: str = field(Text(200), "", doc="or a grey height image (8 or 16 bit) in the scene's folder")


@dataclass(frozen=True, kw_only=True)
class Channel:
    """A channel cut into the slab from behind, along a run."""

    follow: str = field(Name("a run"), doc="the run that lies in it")
    gap: float = field(Length(0.0, 0.1), 0.003, doc="around pipe and fittings")
    open: str = field(
        Choice(("back", "none")), "back", doc="back: the pipe is laid in from behind; none: a closed bore"
    )


@dataclass(frozen=True, kw_only=True)
class CutOut:
    """A slit or an opening, cut from the front."""

    panel: str = field(Name("a panel"), doc="the panel whose slab is cut")
    along: float = field(_LENGTH, doc="its middle along the panel, from the left as seen from inside")
    up: float = field(_LENGTH, doc="its middle over the tank's floor")
    width: float = field(Length(0.001, 5.0), doc="along the panel")
    height: float | None = field(Length(0.001, 5.0), None, doc="up the panel; a round hole if not given")
    stop: float | None = field(
        _LENGTH,
        None,
        doc="the cut comes from the front and stops this far short of the glass; right through if not given",
    )


@dataclass(frozen=True, kw_only=True)
class Background(Part):
    """A background on one or more panels, bedded on foam or standing off the glass."""

    kind = "background"
    group = "background"

    panels: tuple[str, ...] = field(Listing(Name("a panel"), least=1, most=24), doc="the panels it stands on")
    thickness: float = field(Length(0.003, 0.5), doc="of the slab behind its relief")
    relief: Relief = field(record(Relief, "a relief"), Relief(), doc="what stands out of the slab")
    mesh: str = field(
        Text(200), "", doc="or a mesh of the whole slab, one panel only, stretched to no side: see `longest`"
    )
    longest: float | None = field(Length(0.05, 10.0), None, doc="longest side that the mesh is scaled to")
    file_unit: str = field(Choice(tuple(FILE_UNITS)), "", doc=FILE_UNIT_DOC)
    up: str = field(Choice(("y", "z")), "", doc=UP_DOC)
    gap: float = field(Length(0.0, 0.2), 0.0, doc="from the glass to the slab")
    bedding: str = field(
        CatalogName("material"),
        "",
        doc="what fills the gap, such as expanding polyurethane foam; open if not given",
    )
    bottom: float = field(_LENGTH, 0.0, doc="its lower edge over the tank's floor")
    top: float | None = field(
        _LENGTH, None, doc="its upper edge over the floor; up to the brace if not given"
    )
    splits: tuple[float, ...] = field(
        Listing(_LENGTH, most=20), (), doc="where the slab on the first panel is sawn into pieces, along it"
    )
    joint: float = field(Length(0.0, 0.05), 0.002, doc="width of those saw cuts")
    embeds: tuple[str, ...] = field(
        Listing(Name("a run, a hole or another part"), most=200),
        (),
        doc="what it is foamed around, without a gap: runs, parts, or holes by their bare name; foam stops "
        "drip holes too, so give a bar a channel or a slit (`cut_outs`) instead",
    )
    channels: tuple[Channel, ...] = field(
        Listing(record(Channel, "a channel"), most=50), (), doc="channels along runs"
    )
    cut_outs: tuple[CutOut, ...] = field(
        Listing(record(CutOut, "a cut-out"), most=100), (), doc="slits and openings"
    )
    comes_out: tuple[str, ...] = field(
        Listing(Name("a piece of a run, such as run.pipe_2"), most=100),
        (),
        doc="pieces of hidden runs that leave the slab on purpose: these need no cover",
    )
    material: str = field(CatalogName("material"), "rigid polyurethane foam", doc="of the slab")

    def __post_init__(self) -> None:
        """Refuse contradictions."""
        if self.bedding and not self.gap:
            raise SceneMistake("bedding without a gap", expected="`gap:` above 0", path="bedding")
        if self.top is not None and self.top <= self.bottom:
            raise SceneMistake("its top is not above its bottom", expected="top above bottom", path="top")
        if len(set(self.panels)) != len(self.panels):
            raise SceneMistake("a panel stands twice", expected="each panel once", path="panels")
        for number, cut in enumerate(self.cut_outs, start=1):
            if cut.panel not in self.panels:
                raise SceneMistake(
                    f"no slab stands on panel {cut.panel!r}",
                    expected=nearest(cut.panel, self.panels),
                    path=f"cut_outs[{number}].panel",
                )
        if self.mesh and len(self.panels) != 1:
            raise SceneMistake("a mesh on several panels", expected="one panel", path="mesh")
        if "bottom" in self.panels:
            raise SceneMistake("a background on the bottom", expected="walls", path="panels")

    def build(self, site: Site) -> Built[Background, BackgroundData]:
        """Build slabs, bedding and what is cut out of them."""
        tank = site.tank()
        panels = tank.data.flat_panels
        for number, name in enumerate(self.panels, start=1):
            if name not in panels:
                bent = name in tank.data.panels
                raise self.mistake(
                    f"panels[{number}]",
                    f"{name} is bent: a slab lies on a flat pane" if bent else f"no panel is called {name!r}",
                    expected=nearest(name, panels),
                )
        taken = set(self.panels)  # the panels' own names may end in figures as well

        def free(pattern: str) -> str:
            name = next(name for name in map(pattern.format, itertools.count(1)) if name not in taken)
            taken.add(name)
            return name

        cutters, carved, channels, joins = _cutters(self, site)
        slabs_too = {other.name for other in site.of_kind("background")}
        walls = [body for name in self.embeds if name in slabs_too for body in site.built(name, self).bodies]
        slabs: list[Slab] = []
        bodies: list[Body] = []
        scan: Repair | None = None
        for index, name in enumerate(self.panels):
            panel = panels[name]
            if self.mesh:
                slab, solids, scan = _from_mesh(self, site, panel)
            else:
                slab, solids = _grown(self, site, panel)
            solids = [_within(self, solid, tank.data) for solid in solids]
            openings = [
                _opening(self, site, number, panel)
                for number, item in enumerate(self.cut_outs, start=1)
                if item.panel == name
            ]
            joints = _joints(self, site, panel) if index == 0 else []
            # a run may stand in front of the slab before it goes in: there it needs no groove
            reached = [groove for groove in channels if groove.reaches(slab)]
            before = [body.solid for body in bodies] + [gap for made in slabs for gap in _behind(made)]
            works = [*carved, *(groove.opened for groove in reached), *openings]
            around = [[*before, *cutters, *fixed_in(walls, solid.bounds)] for solid in solids]
            pieces, rough = _sawn(self, solids[0], [*around[0], *joints], works, panel)
            named = []
            for piece in pieces:
                label = name if len(pieces) == 1 else free(f"{name}_{{}}")
                made_of = self.body(piece, site, material=self.material, piece=label, kind="slab")
                named.append(replace(made_of, rough=rough))
            bodies += named
            for solid, beside in zip(solids[1:], around[1:], strict=True):
                left, rough = _cut(self, solid, beside, works)
                label = f"bedding_{name}" if f"bedding_{name}" not in taken else free(f"bedding_{name}_{{}}")
                bed = self.body(left, site, material=self.bedding, piece=label, kind="bedding")
                bodies.append(replace(bed, rough=rough))
            slabs.append(
                replace(
                    slab,
                    bodies=tuple(body.name for body in named),
                    openings=tuple(openings),
                    channels=tuple((groove.run, groove.opened) for groove in reached),
                )
            )
            joins.append(Join(self.name, panel.body, "glued"))
        joins.append(Join(self.name, self.name, "glued"))
        hides = (
            *(name for name in self.embeds if name not in slabs_too),
            *(channel.follow for channel in self.channels),
        )
        pieces_hidden = [
            b.name
            for name in dict.fromkeys(hides)
            if name not in tank.data.holes
            for b in site.built(name, self).bodies
        ]
        for number, name in enumerate(self.comes_out, start=1):
            if name not in pieces_hidden:
                raise self.mistake(
                    f"comes_out[{number}]",
                    f"{name!r} is no piece of what this background hides",
                    expected=nearest(name, pieces_hidden) if pieces_hidden else "a piece of an embedded run",
                )
        return Built(
            part=self,
            bodies=tuple(bodies),
            joins=tuple(joins),
            notes=scan_notes(self.name, scan, self.up),
            scan=scan,
            data=BackgroundData(slabs=tuple(slabs), hides=hides, comes_out=self.comes_out),
        )


def _top(part: Background, site: Site) -> float:
    """Return the slab's upper edge: as given, else up to the brace or the glass's top."""
    tank = site.tank()
    if part.top is not None:
        if part.top > tank.data.height:
            raise part.mistake(
                "top",
                f"its top is {site.length(part.top)} over the floor of a tank "
                f"{site.length(tank.data.height)} high",
                expected="a top within the tank",
            )
        return part.top
    braces: list[float] = [float(body.solid.bounds[0, 2]) for body in tank.bodies if body.kind == "brace"]
    return min([float(tank.data.height), *braces])


def _grown(part: Background, site: Site, panel: Panel) -> tuple[Slab, list[Solid]]:
    """Return the slab's figures and its solids: the slab, and the bedding if there is one."""
    top, wanted = _top(part, site), part.relief
    width, height = panel.length, top - part.bottom
    if height < 0.05:
        raise part.mistake(
            "bottom", f"a slab {site.length(height)} high", expected=f"{site.length(0.05)} or more"
        )
    size = {"width": width, "height": height}
    deep = {**size, "depth": wanted.depth, "pitch": wanted.pitch}
    if wanted.image:
        picture = _picture(part, site, wanted.image)
        u, v, out = asked(part, "relief", lambda: from_image(picture, **deep), site)
    elif wanted.form == "flat" or wanted.depth == 0:
        u, v = asked(part, "relief", lambda: panel_grid(**size, pitch=min(width, height) / 4), site)
        out = np.zeros((len(u), len(v)))
    else:
        # of the panel's name, so that two panels of one seed don't look alike
        seed = wanted.seed + sum(ord(sign) * (place + 1) for place, sign in enumerate(panel.name))
        grown = partial(relief, seed, form=wanted.form, **deep)

        def made() -> tuple[float, ...]:
            u, v, out = grown()
            return (len(u), *u.tolist(), *v.tolist(), *out.ravel().tolist())

        key = key_of("relief", code_of("parts"), seed, wanted.form, deep)
        row = np.array(asked(part, "relief", lambda: kept(key, FIGURES, made), site))
        count = int(row[0])
        u, rest = row[1 : count + 1], row[count + 1 :]
        v, out = np.split(rest, [len(rest) // (count + 1)])
        out = out.reshape(count, -1)
    v = v + part.bottom
    front = part.gap + part.thickness + out
    placement = panel.placement()
    grid = np.ascontiguousarray(front, dtype=np.float64)
    solids = [height_shape(u.tobytes(), v.tobytes(), grid.tobytes(), part.gap).solid(placement)]
    if part.bedding:
        bed = box((width, height, part.gap)).solid(placement @ Placement.at((0.0, part.bottom, 0.0)))
        solids.append(bed)
    return Slab(panel=panel, u=u, v=v, front=front, back=part.gap, bodies=()), solids


def _picture(part: Background, site: Site, name: str) -> NDArray[np.uint8] | NDArray[np.uint16]:
    try:
        return read_height_image(scene_file(part, site, "relief.image", name))
    except LayoutError as error:
        raise part.mistake(
            "relief.image", error.found, expected=error.expected, remedy=error.remedy
        ) from error


def _from_mesh(part: Background, site: Site, panel: Panel) -> tuple[Slab, list[Solid], Repair]:
    """Return a slab read from a mesh whose x runs along the panel, z up it, and y from front to glass."""
    shape, scan = imported_shape(
        part, site, part.mesh, longest=part.longest, file_unit=part.file_unit, up=part.up
    )
    low, high = shape.bounds
    # mesh x -> u, mesh z -> v, mesh -y -> w (towards the viewer)
    points = np.column_stack(
        [
            shape.vertices[:, 0] - low[0] + (panel.length - (high[0] - low[0])) / 2,
            shape.vertices[:, 2] - low[2] + part.bottom,
            high[1] - shape.vertices[:, 1] + part.gap,
        ]
    )
    placed = Shape.of(points, shape.faces)
    solid = placed.solid(panel.placement())
    u = np.linspace(points[:, 0].min(), points[:, 0].max(), 64)
    v = np.linspace(points[:, 1].min(), points[:, 1].max(), 64)
    front = _front_of(placed, u, v, part.gap)
    return Slab(panel=panel, u=u, v=v, front=front, back=part.gap, bodies=()), [solid], scan


def _front_of(shape: Shape, u: Array, v: Array, least: float) -> Array:
    """Return how far the surface stands out at each grid point, seen from the front; ``least`` beside it."""
    low, high = (float(w) for w in shape.bounds[:, 2])
    inset = 1e-6 * (u[-1] - u[0]), 1e-6 * (v[-1] - v[0])  # a ray along the outline itself may miss it
    front = np.full((len(u), len(v)), least)
    for i, across in enumerate(np.clip(u, u[0] + inset[0], u[-1] - inset[0])):
        for k, up in enumerate(np.clip(v, v[0] + inset[1], v[-1] - inset[1])):
            hits = shape.manifold.ray_cast((across, up, high + 0.01), (across, up, low - 0.01))
            if hits:
                front[i, k] = hits[0].position[2]
    return front


def _within(part: Background, solid: Solid, tank: TankData) -> Solid:
    """Return what of a solid is within the walls; a face that lies on a wall is left alone."""
    left: Solid | None = solid
    for panel in tank.flat_panels.values():
        if left is not None and float(panel.local(left.vertices)[:, 2].min()) < -ON_WALL:
            outward = -np.array(panel.inward)
            left = trim(left, normal=outward, offset=float(np.dot(outward, panel.origin)))
    if left is not None and float(tank.room(left.vertices).min()) < -ON_WALL:
        left = intersection(left, tank.interior)  # past a bent wall
    if left is None:
        raise part.mistake("", "a slab lies outside of the tank", expected="a slab with room of its own")
    return left


def _behind(slab: Slab) -> list[Solid]:
    """Return the gap between a slab and the glass, which no other slab may fill."""
    if slab.back <= 0:
        return []
    size = (float(slab.u[-1] - slab.u[0]), float(slab.v[-1] - slab.v[0]), slab.back)
    corner = (float(slab.u[0]), float(slab.v[0]), 0.0)
    return [box(size).solid(slab.panel.placement() @ Placement.at(corner))]


def _cut(
    part: Background, solid: Solid, cutters: list[Solid], works: list[Solid]
) -> tuple[Solid, Rough | None]:
    """Return what is left of a slab: plumbing, and what is cut for it, comes last, for it is moved about."""
    near, last = cropped(cutters, solid.bounds), _reaching(works, solid)
    left, rough = difference(solid, near, loose=last), difference(solid, near) if last else None
    if left is None:
        raise _nothing_left(part)
    return left, Rough(solid=rough, works=last) if rough is not None else None


def _sawn(
    part: Background, solid: Solid, cutters: list[Solid], works: list[Solid], panel: Panel
) -> tuple[list[Solid], Rough | None]:
    """Return the pieces of a slab, from left to right as seen from inside; crumbs are dropped.

    Each piece is hollowed by itself, by what of the works reaches it: a pipe that ends elsewhere is nothing
    to it.
    """
    near, last = cropped(cutters, solid.bounds), _reaching(works, solid)
    before = difference(solid, near)
    pieces = [
        piece
        for rough in (components(before) if before is not None else ())
        if (left := difference(rough, (), loose=_reaching(last, rough))) is not None
        for piece in components(left)
    ]
    if not pieces:
        raise _nothing_left(part)
    largest = max(piece.volume for piece in pieces)
    kept = [piece for piece in pieces if piece.volume > CRUMB * largest]
    whole = sum(piece.volume for piece in pieces)
    crumbs = sum(piece.volume for piece in kept) < (1.0 - 1e-9) * whole  # where nothing was hollowed
    hollowed = Rough(solid=before, works=last) if last and before is not None and not crumbs else None
    return sorted(kept, key=lambda piece: tuple(panel.local(piece.centroid)[0].round(4))), hollowed


def _reaching(works: list[Solid] | tuple[Solid, ...], solid: Solid) -> tuple[Solid, ...]:
    """Return what of plumbing, and of what is cut for it, comes to a slab, wherever else a pipe goes."""
    return tuple(by_corners(work) for work in cropped(works, solid.bounds) if meet(solid, work))


def _nothing_left(part: Background) -> SceneMistake:
    return part.mistake("", "nothing is left of a slab", expected="a slab with room of its own")


def _joints(part: Background, site: Site, panel: Panel) -> list[Solid]:
    """Return the saw cuts between the pieces of the first panel's slab."""
    cuts = []
    for number, at in enumerate(part.splits, start=1):
        if not 0 < at < panel.length:
            raise part.mistake(
                f"splits[{number}]",
                f"a saw cut at {site.length(at)} on a panel {site.length(panel.length)} long",
                expected="a place on the panel",
            )
        width = max(part.joint, 1e-5)
        saw = box((width, panel.height + 0.02, 2.0))
        cuts.append(saw.solid(panel.placement() @ Placement.at((at - width / 2, -0.01, -0.5))))
    return cuts


def _opening(part: Background, site: Site, number: int, panel: Panel) -> Solid:
    cut = part.cut_outs[number - 1]
    if not (cut.along < panel.length and part.bottom < cut.up < _top(part, site)):
        raise part.mistake(
            f"cut_outs[{number}]",
            f"its middle, {site.length(cut.along)} along and {site.length(cut.up)} up, lies beside the slab "
            f"on {panel.name}",
            expected=f"at most {site.length(panel.length)} along, and {site.length(part.bottom)} to "
            f"{site.length(_top(part, site))} up",
        )
    reach, start = 2.0, -0.5 if cut.stop is None else cut.stop
    if cut.height is None:
        shape = cylinder(cut.width / 2, reach)
        return shape.solid(panel.placement() @ Placement.at((cut.along, cut.up, start)))
    size = (cut.width, cut.height, reach)
    # rounded, so that a side which stays where it is has the same figures
    corner = (round(cut.along - cut.width / 2, 12), round(cut.up - cut.height / 2, 12), start)
    return box(size).solid(panel.placement() @ Placement.at(corner))


def _cutters(part: Background, site: Site) -> tuple[list[Solid], list[Solid], list[Groove], list[Join]]:
    """Return what slabs are cut around beside walls: beads, braces, parts; plumbing; grooves; joins."""
    tank = site.tank()
    found_grooves: list[Groove] = []
    carved: list[Solid] = []
    cutters = [body.solid for body in tank.bodies if body.kind in ("silicone", "brace")]
    joins = [Join(part.name, body.name, "seal") for body in tank.bodies if body.kind in ("silicone", "brace")]
    holes = {name: f"{tank.part.name}.{name}" for name in tank.data.holes}
    for number, name in enumerate(part.embeds, start=1):
        if name in holes:
            found = [body for body in tank.bodies if body.name == holes[name]]
            carved += [*bulkhead_bore(tank, holes[name]), *(body.solid for body in found)]
        else:
            built = site.built(name, part, f"embeds[{number}]")
            found = list(built.bodies)
            if isinstance(built.data, Vessel):
                cutters.append(built.data.interior)  # foam goes around an overflow box, not into it
            if isinstance(built.data, BackgroundData):
                cutters += [gap for slab in built.data.slabs for gap in _behind(slab)]
            else:
                into = carved if isinstance(built.data, RunData) else cutters
                into += [*waterway(built), *(body.solid for body in found)]
        joins += [Join(part.name, body.name, "embedded") for body in found]
    for number, channel in enumerate(part.channels, start=1):
        where = f"channels[{number}].follow"
        built = site.built(channel.follow, part, where)
        if not isinstance(built.data, RunData):
            raise part.mistake(where, f"{channel.follow} is not a run", expected="the name of a run")
        found_grooves += grooves(
            built,
            built.data,
            [tank.data.flat_panels[name] for name in part.panels],
            gap=channel.gap,
            behind=part.gap - SEAM if channel.open == "back" else None,
        )
    return cutters, carved, found_grooves, joins
