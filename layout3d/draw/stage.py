"""A model set up to be drawn: coloured, softly lit surfaces, clear panes, water, and lines. Pure arrays.

The same stage serves every view and the window. What is hidden throws no shadow. Nothing is judged here.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import fields, replace
from functools import partial
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from layout3d.draw.ground import ground_shadow
from layout3d.draw.light import GRID, contact_shade, daylight, lamplight
from layout3d.draw.pieces import (
    DRAWN,
    Drawn,
    Lines,
    PageFacts,
    Piece,
    Stage,
    WaterBody,
    begin_looks,
    inside_plan,
    lines_of,
    of_the_same,
    surface_of,
)
from layout3d.draw.scan_skin import scan_skins
from layout3d.draw.scenery import Scenery, scenery_of, seen_whole
from layout3d.draw.skin import Skin, pane_skin, sharp_edges, smooth_skin
from layout3d.draw.style import LAMPLIGHT, WATER, Colour, Finish, finish_of
from layout3d.draw.surface import colours
from layout3d.draw.waters import lines_on_things, water_outline, water_piece
from layout3d.draw.wet import Drips, rivulets, wetness
from layout3d.keep import code_of, file_away, kept, key_of, remembered
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
STANDS_IN_BED = ("rock", "wood", "plant", "equipment", "background")
_WET_BAND = 0.004  # m over which things turn wet at the waterline


def set_stage(
    model: Model,
    *,
    hide: Iterable[str] = (),
    show: Iterable[str] = (),
    colour_by: Mapping[str, Colour] | None = None,
    filled: bool = False,
    anew: bool = False,
) -> Stage:
    """Return the model ready to draw.

    Parameters
    ----------
    hide, show : as ``chosen`` takes them
    filled : beds are drawn as ``seen_whole`` has them, where all that stands in them hides what it takes
    colour_by : body -> the colour it is painted in, in place of its own finish
    anew : as ``stage_of`` takes it

    Raises
    ------
    UnknownName : a name that nothing in the model bears, or nothing is left to draw.
    """
    scenery = scenery_of(model, hide=hide, show=show)
    if scenery.scanned:
        return stage_of(scenery, colour_by=colour_by, scans=scan_skins(model), anew=anew)
    return stage_of(seen_whole(scenery) if filled else scenery, colour_by=colour_by, anew=anew)


def stage_of(
    scenery: Scenery,
    *,
    colour_by: Mapping[str, Colour] | None = None,
    scans: Mapping[str, Skin] | None = None,
    anew: bool = False,
) -> Stage:
    """Return what there is to draw, ready to draw.

    Parameters
    ----------
    colour_by : as ``set_stage`` takes it
    scans : skins that are drawn in place of those of bodies, by their names
    anew : its surfaces are made, though they may be filed: the next stage then finds what each was made of
    """
    bodies, waters, plan, scans = scenery.bodies, scenery.waters, scenery.plan, scans or {}
    ends = [np.array([body.solid.bounds for body in bodies])[:, end] for end in (0, 1)]
    bounds = np.array([ends[0].min(axis=0), ends[1].max(axis=0)])
    level = scenery.waterline if waters else -np.inf
    told = {name: (skin.points, skin.faces, skin.colours) for name, skin in scans.items()}
    seen = tuple(replace(body, uncut=None, rough=None) for body in bodies)
    key = key_of("stage", code_of(), GRID, seen, plan, level, waters, scenery.drips, colour_by, told)

    def make() -> Drawn:
        return _drawn(bodies, bounds, plan, level, waters, scenery.drips, colour_by or {}, scans)

    if anew:
        file_away(key, DRAWN, make(), once=True)
    pieces, lines = kept(key, DRAWN, make)
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
    begin_looks()
    solid, clear, lines = [], [], []
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
            solid.append(_unlit(body, finish, plan, waterline, scan, running))
    lamps = [body for body in bodies if body.kind == "light"]
    solid = _in_contact(_lighted(solid, lamps, cell))
    pieces = [*solid, *clear, *(water_piece(one) for one in waters)]
    if waters:
        lines += [water_outline(one) for one in waters]
        lines += lines_on_things(bodies, plan, waterline)
    if drips is not None:
        walls = {body.name for body in bodies if body.kind == "slab"}
        faces = tuple((one.points, one.normals) for one in solid if one.body in walls)
        lines += remembered(
            "rivulets",
            *(drips, faces, waterline),
            make=lambda: rivulets(
                drips, [(a.astype(np.float64), b.astype(np.float64)) for a, b in faces], waterline
            ),
        )
    pieces.append(ground_shadow(pieces, bounds, "whole"))
    return tuple(pieces), tuple(lines)


def _unlit(
    body: Body,
    finish: Finish,
    plan: NDArray[np.float64],
    waterline: float,
    scan: Skin | None,
    drips: Drips | None,
) -> Piece:
    """Return an opaque body's surface without light; the last ones are kept.

    So a scene in which one thing moves has that one's made anew, and of other water its colour alone.
    """
    told = None if scan is None else (scan.points, scan.normals, scan.faces, scan.colours)
    dry = remembered(
        "dry surface",
        *(body, finish, told),
        make=lambda: _dry(body, finish, scan),
        size=lambda found: 4 * found[0].points.nbytes,
    )
    inputs = (body, finish, plan, waterline, told, drips)
    return remembered(
        "surface without light",
        *inputs,
        make=lambda: _wet(*dry, plan if body.where == "tank" else None, waterline, drips),
        size=lambda piece: piece.colours.nbytes,
    )


def _dry(body: Body, finish: Finish, scan: Skin | None) -> tuple[Piece, Points]:
    """Return an opaque body's surface, dry and without light, and its colours in 0 … 1, (n, 3)."""
    skin = scan
    if skin is None:
        hollows, made = finish.grain in ("stone", "wood"), finish.grain == "plain" or body.kind == "bedding"
        skin = smooth_skin(body.solid.shape, finish.crease, hollows=hollows, made=made)
    placement = body.solid.placement
    points, normals = placement.apply(skin.points), placement.direction(skin.normals)
    paint = painted(body, finish, skin, normals)
    return _piece(body, skin, points, normals, paint, finish), paint[:, :3].astype(np.float32)


def _wet(
    dry: Piece, paint: Points, plan: NDArray[np.float64] | None, waterline: float, drips: Drips | None
) -> Piece:
    """Return a surface as dark as it is where it is wet; ``plan`` is that of the water over it, if any."""
    points = dry.points.astype(np.float64)
    below = waterline - points[:, 2]
    if drips is None and (plan is None or below.max(initial=-np.inf) < -_WET_BAND):
        return dry
    surface = paint.astype(np.float64)
    if plan is not None:
        under = np.clip(below / _WET_BAND + 0.5, 0.0, 1.0) * inside_plan(points[:, :2], plan)
        deep = np.clip(below / WATER.deep_at, 0.0, 1.0) * WATER.deep_share
        surface += (np.array(WATER.wet) - surface) * (under * (WATER.wet_share + deep))[:, None]
    if drips is not None:
        normals, running = dry.normals.astype(np.float64), drips
        wet = of_the_same(
            "wet", (dry.points, dry.normals), drips, make=lambda: wetness(running, points, normals, -np.inf)
        )
        surface *= 1.0 - WATER.darkened * (wet * (below < 0.0))[:, None]
    colours = dry.colours.copy()
    colours[:, :3] = np.round(np.clip(surface, 0.0, 1.0) * 255.0)
    return replace(dry, colours=colours)


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
    def make() -> Piece:
        skin = pane_skin(body.solid.shape)
        placement = body.solid.placement
        points, normals = placement.apply(skin.points), placement.direction(skin.normals)
        return _piece(body, skin, points, normals, painted(body, finish, skin, normals), finish)

    return remembered("pane", body, finish, make=make)


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


def _lighted(solid: list[Piece], lamps: list[Body], cell: float) -> list[Piece]:
    surfaces = [(one.points, one.normals) for one in solid]
    # lamps throw no shadow, they give light
    own = {body.name for body in lamps}
    throwers = [(one.points, one.faces) for one in solid if one.body not in own]
    shining = np.array([_lamp_points(body) for body in lamps], dtype=np.float32).reshape(-1, 3)
    light = daylight(surfaces, throwers, cell=cell, whose="whole")
    warm = lamplight(surfaces, throwers, shining, cell=cell, whose="whole")

    def shown(colours: NDArray[np.uint8], sky: Points, thrown: Points) -> NDArray[np.uint8]:
        colour = colours.astype(np.float64)
        colour[:, :3] *= _tone(sky + LAMP_SHARE * thrown)[:, None]
        colour[:, :3] *= 1.0 + thrown[:, None] * (np.array(LAMPLIGHT) - min(LAMPLIGHT))
        return np.round(np.clip(colour, 0.0, 255.0)).astype(np.uint8)

    each = list(zip((piece.colours for piece in solid), light, warm, strict=True))
    return [
        replace(piece, colours=of_the_same("lighted", rows, make=partial(shown, *rows)))
        for piece, rows in zip(solid, each, strict=True)
    ]


def _in_contact(solid: list[Piece]) -> list[Piece]:
    """Return surfaces with the shade where beds and what stands in them meet."""
    beds = [one for one in solid if one.group == "substrate"]
    stand = [one for one in solid if one.group in STANDS_IN_BED]
    return [
        _shaded(one, stand if one.group == "substrate" else beds if one.group in STANDS_IN_BED else [])
        for one in solid
    ]


def _shaded(piece: Piece, others: list[Piece]) -> Piece:
    go_on()
    light = contact_shade((piece.points, piece.normals), [(one.points, one.faces) for one in others])
    if light.min(initial=1.0) == 1.0:
        return piece

    def shaded() -> NDArray[np.uint8]:
        colours = piece.colours.copy()
        colours[:, :3] = np.round(colours[:, :3] * light[:, None])
        return colours

    return replace(piece, colours=of_the_same("shaded", (piece.colours, light), make=shaded))


def _tone(light: Points) -> NDArray[np.float64]:
    """Turn light into what colours are multiplied by: never black, flattening towards the bright end."""
    return np.asarray(0.36 + 0.88 * np.power(np.clip(light, 0.0, 1.6), 0.8), dtype=np.float64)
