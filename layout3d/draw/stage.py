"""A model set up to be drawn: coloured, softly lit surfaces, clear panes, water, and lines. Pure arrays.

The same stage serves every view and the window. What is hidden throws no shadow. Nothing is judged here.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import fields, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from layout3d.draw.ground import ground_shadow
from layout3d.draw.light import (
    GRID,
    blockers_of,
    contact_shade,
    daylight,
    lamplight,
    spread_over,
    surface_points,
)
from layout3d.draw.pieces import (
    DRAWN,
    Drawn,
    Lines,
    PageFacts,
    Piece,
    Stage,
    WaterBody,
    inside_plan,
    lines_of,
    surface_of,
)
from layout3d.draw.scan_skin import scan_skins
from layout3d.draw.scenery import Scenery, scenery_of, seen_whole
from layout3d.draw.skin import Skin, pane_skin, sharp_edges, smooth_skin
from layout3d.draw.style import LAMPLIGHT, WATER, Colour, Finish, finish_of
from layout3d.draw.surface import colours
from layout3d.draw.waters import lines_on_things, water_outline, water_piece
from layout3d.draw.wet import Drips, rivulets, wetness
from layout3d.keep import code_of, kept, key_of, remembered
from layout3d.parts.base import Body
from layout3d.solid.placement import vector
from layout3d.wanted import go_on

if TYPE_CHECKING:
    from layout3d.model.model import Model

__all__ = ["painted", "set_stage", "stage_of"]

Points = NDArray[np.float32]

ROUGH = {"stone": (0.30, 0.014), "sand": (0.20, 0.005), "wood": (0.16, 0.010)}
"""By sort of grain, how far its fine grain lightens and darkens, and its longest wave, [m]."""
LAMP_SHARE = 0.55  # of what a lamp throws, beside the daylight
CONTACT_PITCH = 0.009  # of points over what stands in a bed, [m]
STANDS_IN_BED = ("rock", "wood", "plant", "equipment", "background")
_WET_BAND = 0.004  # m over which things turn wet at the waterline


def set_stage(
    model: Model,
    *,
    hide: Iterable[str] = (),
    show: Iterable[str] = (),
    colour_by: Mapping[str, Colour] | None = None,
    filled: bool = False,
) -> Stage:
    """Return the model ready to draw.

    Parameters
    ----------
    hide, show : as ``chosen`` takes them
    filled : beds are drawn as ``seen_whole`` has them, where all that stands in them hides what it takes
    colour_by : body -> the colour it is painted in, in place of its own finish

    Raises
    ------
    UnknownName : a name that nothing in the model bears, or nothing is left to draw.
    """
    scenery = scenery_of(model, hide=hide, show=show)
    if scenery.scanned:
        return stage_of(scenery, colour_by=colour_by, scans=scan_skins(model))
    return stage_of(seen_whole(scenery) if filled else scenery, colour_by=colour_by)


def stage_of(
    scenery: Scenery,
    *,
    colour_by: Mapping[str, Colour] | None = None,
    scans: Mapping[str, Skin] | None = None,
) -> Stage:
    """Return what there is to draw, ready to draw.

    Parameters
    ----------
    colour_by : as ``set_stage`` takes it
    scans : skins that are drawn in place of those of bodies, by their names
    """
    bodies, waters, plan, scans = scenery.bodies, scenery.waters, scenery.plan, scans or {}
    ends = [np.array([body.solid.bounds for body in bodies])[:, end] for end in (0, 1)]
    bounds = np.array([ends[0].min(axis=0), ends[1].max(axis=0)])
    level = scenery.waterline if waters else -np.inf
    told = {name: (skin.points, skin.faces, skin.colours) for name, skin in scans.items()}
    seen = tuple(replace(body, uncut=None, rough=None) for body in bodies)
    key = key_of("stage", code_of(), GRID, seen, plan, level, waters, scenery.drips, colour_by, told)
    pieces, lines = kept(
        key,
        DRAWN,
        lambda: _drawn(bodies, bounds, plan, level, waters, scenery.drips, colour_by or {}, scans),
    )
    page = {field.name: getattr(scenery, field.name) for field in fields(PageFacts)}
    return Stage(pieces=pieces, lines=lines, made_of=key.hex(), bodies=bodies, **page)


def _drawn(
    bodies: tuple[Body, ...],
    bounds: NDArray[np.float64],
    plan: NDArray[np.float64],
    waterline: float,
    waters: Sequence[WaterBody],
    drips: Drips | None,
    colour_by: Mapping[str, Colour],
    scans: Mapping[str, Skin],
) -> Drawn:
    """Return all surfaces and lines; ``waterline`` is minus infinity and ``drips`` None for no water."""
    solid, clear, lines, spread = [], [], [], []
    cell = float((bounds[1] - bounds[0]).max()) / GRID
    for body in bodies:
        go_on()
        finish = finish_of(body)
        if body.name in colour_by:
            paint = colour_by[body.name]
            finish = replace(finish, colour=paint, second=paint, grain="plain", opacity=1.0)
        if finish.opacity < 1.0:
            clear.append(_pane(body, finish))
            if finish.outline is not None:
                lines.append(_outline(body, finish.outline))
        else:
            scan = None if body.name in colour_by else scans.get(body.name)
            running = drips if body.kind == "slab" and body.name not in colour_by else None
            piece, over = _unlit(body, finish, plan, waterline, scan, running, cell)
            solid.append(piece)
            if body.kind != "light":  # lamps throw no shadow, they give light
                spread.append(over)
    lamps = {body.name for body in bodies if body.kind == "light"}
    blockers = blockers_of(spread, cell)
    shining = np.array([point for body in bodies if body.name in lamps for point in _lamp_points(body)])
    solid = _in_contact(_lighted(solid, blockers, cell, shining.reshape(-1, 3)))
    pieces = [*solid, *clear, *(water_piece(one) for one in waters)]
    if waters:
        lines += [water_outline(one) for one in waters]
        lines += lines_on_things(bodies, plan, waterline)
    if drips is not None:
        walls = {body.name for body in bodies if body.kind == "slab"}
        faces = [
            (one.points.astype(np.float64), one.normals.astype(np.float64))
            for one in solid
            if one.body in walls
        ]
        lines += rivulets(drips, faces, waterline)
    pieces.append(ground_shadow(pieces, bounds))
    return tuple(pieces), tuple(lines)


def _unlit(
    body: Body,
    finish: Finish,
    plan: NDArray[np.float64],
    waterline: float,
    scan: Skin | None,
    drips: Drips | None,
    cell: float,
) -> tuple[Piece, Points]:
    """Return an opaque body's surface without light, and what it throws shadow by; the last ones are kept.

    So a scene in which one thing moves has that one's made anew, and light and shade alone of all others.
    """
    told = None if scan is None else (scan.points, scan.normals, scan.faces, scan.colours)

    def make() -> tuple[Piece, Points]:
        piece = _opaque(body, finish, plan, waterline, scan, drips)
        surface = (piece.points, piece.faces, cell)
        thrown = remembered(
            "thrown by", *surface, make=lambda: spread_over(*surface), size=lambda found: found.nbytes
        )
        return piece, thrown

    def size(found: tuple[Piece, Points]) -> int:
        piece, spread = found
        rows = (piece.points, piece.normals, piece.faces, piece.colours, spread)
        return sum(row.nbytes for row in rows)

    inputs = (body, finish, plan, waterline, told, drips, cell)
    return remembered("surface without light", *inputs, make=make, size=size)


def _opaque(
    body: Body,
    finish: Finish,
    plan: NDArray[np.float64],
    waterline: float,
    scan: Skin | None,
    drips: Drips | None,
) -> Piece:
    skin = scan
    if skin is None:
        hollows, made = finish.grain in ("stone", "wood"), finish.grain == "plain" or body.kind == "bedding"
        skin = smooth_skin(body.solid.shape, finish.crease, hollows=hollows, made=made)
    placement = body.solid.placement
    points, normals = placement.apply(skin.points), placement.direction(skin.normals)
    surface = painted(body, finish, skin, normals)[:, :3]
    if body.where == "tank":
        under = np.clip((waterline - points[:, 2]) / _WET_BAND + 0.5, 0.0, 1.0) * inside_plan(
            points[:, :2], plan
        )
        deep = np.clip((waterline - points[:, 2]) / WATER.deep_at, 0.0, 1.0) * WATER.deep_share
        surface += (np.array(WATER.wet) - surface) * (under * (WATER.wet_share + deep))[:, None]
    if drips is not None:
        surface *= 1.0 - WATER.darkened * wetness(drips, points, normals, waterline)[:, None]
    return _piece(body, skin, points, normals, np.column_stack([surface, np.ones(len(points))]), finish)


def painted(body: Body, finish: Finish, skin: Skin, normals: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return colour and opacity of a body's points, dry and without light, (n, 4) in 0 … 1.

    ``normals`` (n, 3) are the skin's, in the scene's axes.
    """
    if skin.colours is not None:
        return np.column_stack([skin.colours, np.ones(len(skin.colours))])
    if finish.opacity < 1.0:
        narrow = skin.narrow[:, None]
        colour = np.where(narrow, np.array(finish.edge_colour or finish.colour), np.array(finish.colour))
        return np.column_stack([colour, np.where(skin.narrow, finish.edge_opacity, finish.opacity)])
    up = normals[:, 2]
    # by part, so that the pieces of one part match
    colour = colours(finish, body.part, skin.points, skin.normals, skin.hollow, up)
    if body.kind == "light":
        # the face that shines; the hull's own light is put on everything alike
        colour[up < -0.9] = LAMPLIGHT
    return np.column_stack([colour, np.ones(len(colour))])


def _pane(body: Body, finish: Finish) -> Piece:
    skin = pane_skin(body.solid.shape)
    placement = body.solid.placement
    points, normals = placement.apply(skin.points), placement.direction(skin.normals)
    return _piece(body, skin, points, normals, painted(body, finish, skin, normals), finish)


def _piece(
    body: Body,
    skin: Skin,
    points: NDArray[np.float64],
    normals: NDArray[np.float64],
    paint: NDArray[np.float64],
    finish: Finish,
) -> Piece:
    clear = finish.opacity < 1.0
    rough, grain = ROUGH.get(finish.grain, (0.0, 0.0))
    look = {"shine": finish.shine, "gloss": finish.gloss, "clear": clear}
    look |= {"rough": rough * finish.contrast, "grain": grain}
    origin = vector(body.solid.placement.offset)
    return surface_of(body, points, normals, skin.faces, paint, origin=origin, **look)


def _outline(body: Body, colour: Colour) -> Lines:
    edges = sharp_edges(body.solid.shape)
    placed = body.solid.placement.apply(edges.reshape(-1, 3)).reshape(-1, 2, 3)
    return lines_of(body, placed, colour, 1.3, 0.85)


def _lamp_points(body: Body) -> NDArray[np.float64]:
    """Return points along the middle of a lamp's lower face, (3, 3), [m]."""
    low, high = body.solid.bounds
    shares = np.full((3, 3), 0.5)
    shares[:, int(np.argmax((high - low)[:2]))] = (0.2, 0.5, 0.8)
    shares[:, 2] = 0.0
    return np.asarray(low + (high - low) * shares)


def _lighted(solid: list[Piece], blockers: Points, cell: float, lamps: NDArray[np.float64]) -> list[Piece]:
    if not solid:
        return solid
    points, normals = (
        np.concatenate([getattr(one, name) for one in solid]) for name in ("points", "normals")
    )
    inputs = (points, normals, blockers, lamps.astype(np.float32))

    def make() -> tuple[Points, Points]:
        return daylight(points, normals, blockers, cell=cell), lamplight(*inputs, cell=cell)

    # water and colours may be others on the same surfaces
    light, warm = remembered("light", *inputs, cell, make=make, size=lambda both: 2 * both[0].nbytes)
    ends = np.cumsum([len(one.points) for one in solid])[:-1]
    done = []
    for piece, own, thrown in zip(solid, np.split(light, ends), np.split(warm, ends), strict=True):
        colour = piece.colours.astype(np.float64)
        colour[:, :3] *= _tone(own + LAMP_SHARE * thrown)[:, None]
        colour[:, :3] *= 1.0 + thrown[:, None] * (np.array(LAMPLIGHT) - min(LAMPLIGHT))
        done.append(replace(piece, colours=np.round(np.clip(colour, 0.0, 255.0)).astype(np.uint8)))
    return done


def _in_contact(solid: list[Piece]) -> list[Piece]:
    """Return surfaces with the shade where beds and what stands in them meet."""
    beds = [number for number, one in enumerate(solid) if one.group == "substrate"]
    stand = [number for number, one in enumerate(solid) if one.group in STANDS_IN_BED]
    done = list(solid)
    for own, others in ((beds, stand), (stand, beds)):
        if not own or not others:
            continue
        points, normals = (
            np.concatenate([getattr(solid[number], name) for number in own]) for name in ("points", "normals")
        )
        shade = _contact(points, normals, [solid[number] for number in others])
        ends = np.cumsum([len(solid[number].points) for number in own])[:-1]
        for number, light in zip(own, np.split(shade, ends), strict=True):
            colour = solid[number].colours.copy()
            colour[:, :3] = np.round(colour[:, :3] * light[:, None])
            done[number] = replace(solid[number], colours=colour)
    return done


def _contact(points: Points, normals: Points, others: list[Piece]) -> Points:
    def make() -> Points:
        over = [surface_points(one.points, one.faces, CONTACT_PITCH) for one in others]
        return contact_shade(points, normals, np.concatenate(over))

    faces = tuple((one.points, one.faces) for one in others)
    return remembered("in contact", points, normals, faces, make=make, size=lambda shade: shade.nbytes)


def _tone(light: Points) -> NDArray[np.float64]:
    """Turn light into what colours are multiplied by: never black, flattening towards the bright end."""
    return np.asarray(0.36 + 0.88 * np.power(np.clip(light, 0.0, 1.6), 0.8), dtype=np.float64)
