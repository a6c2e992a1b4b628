"""A model set up to be drawn: coloured, softly lit surfaces, clear panes, water, and lines. Pure arrays.

The same stage serves every view and the window. What is hidden throws no shadow. Nothing is judged here.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from layout3d.draw.ground import ground_shadow
from layout3d.draw.light import GRID, blockers_of, daylight
from layout3d.draw.pieces import WATER_NAME, Lines, Piece, WaterBody, inside_plan, lines_of, surface_of
from layout3d.draw.scan_skin import ScanSkin, scan_skins
from layout3d.draw.skin import Skin, pane_skin, sharp_edges, smooth_skin
from layout3d.draw.stage_form import DRAWN, Drawn
from layout3d.draw.style import LAMPLIGHT, WATER, Colour, Finish, finish_of
from layout3d.draw.surface import colours
from layout3d.draw.waters import lines_on_things, water_outline, water_piece, waters_of
from layout3d.errors import UnknownName, nearest
from layout3d.keep import code_of, kept, key_of
from layout3d.model.model import Model
from layout3d.parts.base import Body

__all__ = ["Stage", "chosen", "set_stage"]

Points = NDArray[np.float32]

_WET_BAND = 0.004  # m over which things turn wet at the waterline


@dataclass(frozen=True, slots=True, kw_only=True)
class Stage:
    """All that is drawn, in the scene's axes. ``bounds`` (2, 3) of the bodies shown, [m]."""

    pieces: tuple[Piece, ...]
    lines: tuple[Lines, ...]
    bounds: NDArray[np.float64]
    bodies: tuple[Body, ...]
    waters: tuple[WaterBody, ...]

    @property
    def parts(self) -> tuple[str, ...]:
        """Return the names of the parts shown, in the model's order, water last."""
        return tuple(dict.fromkeys(piece.part for piece in self.pieces if piece.part))


def chosen(
    model: Model, *, hide: Iterable[str] = (), show: Iterable[str] = ()
) -> tuple[tuple[Body, ...], bool]:
    """Return the bodies to draw, and whether water is.

    Parameters
    ----------
    hide, show : bodies, parts, groups or 'water'. With ``show`` only these; ``hide`` takes away from that.

    Raises
    ------
    UnknownName : a name that nothing in the model bears.
    """
    hidden, shown = tuple(hide), tuple(show)
    known = {WATER_NAME}.union(*({b.name, b.part, b.group} for b in model.bodies))
    for name in (*hidden, *shown):
        if name not in known:
            raise UnknownName(
                f"nothing to show or hide is called {name!r}", expected=nearest(name, known, most=20)
            )
    bodies = model.bodies_of(*shown) if shown else model.bodies
    away = {body.name for body in model.bodies_of(*hidden)} if hidden else set()
    water = (not shown or WATER_NAME in shown) and WATER_NAME not in hidden and model.waterline > 0.0
    return tuple(body for body in bodies if body.name not in away), water


def set_stage(
    model: Model,
    *,
    hide: Iterable[str] = (),
    show: Iterable[str] = (),
    colour_by: Mapping[str, Colour] | None = None,
) -> Stage:
    """Return the model ready to draw.

    Parameters
    ----------
    hide, show : as ``chosen`` takes them
    colour_by : body -> the colour it is painted in, in place of its own finish

    Raises
    ------
    UnknownName : a name that nothing in the model bears, or nothing is left to draw.
    """
    bodies, water = chosen(model, hide=hide, show=show)
    if not bodies:
        raise UnknownName("nothing is left to draw", expected="at least one body shown")
    bounds = np.array(
        [
            np.min([body.solid.bounds[0] for body in bodies], axis=0),
            np.max([body.solid.bounds[1] for body in bodies], axis=0),
        ]
    )
    waters = waters_of(model, bodies) if water else ()
    plan, level = np.array(model.tank.plan), model.waterline if water else -np.inf
    scans = scan_skins(model)
    told = {name: (skin.points, skin.faces, skin.colours) for name, skin in scans.items()}
    key = key_of("stage", code_of(), bodies, plan, level, waters, colour_by, told)
    pieces, lines = kept(
        key, DRAWN, lambda: _drawn(bodies, bounds, plan, level, waters, colour_by or {}, scans)
    )
    return Stage(pieces=pieces, lines=lines, bounds=bounds, bodies=bodies, waters=waters)


def _drawn(
    bodies: tuple[Body, ...],
    bounds: NDArray[np.float64],
    plan: NDArray[np.float64],
    waterline: float,
    waters: Sequence[WaterBody],
    colour_by: Mapping[str, Colour],
    scans: Mapping[str, ScanSkin],
) -> Drawn:
    """Return all surfaces and lines; ``waterline`` is minus infinity where no water is drawn."""
    solid, clear, lines = [], [], []
    for body in bodies:
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
            solid.append(_opaque(body, finish, plan, waterline, scan))
    cell = float((bounds[1] - bounds[0]).max()) / GRID
    # lamps throw no shadow, they give light
    lamps = {body.name for body in bodies if body.kind == "light"}
    blockers = blockers_of(((one.points, one.faces) for one in solid if one.body not in lamps), cell)
    solid = _lighted(solid, blockers, cell)
    pieces = [*solid, *clear, *(water_piece(one) for one in waters)]
    if waters:
        lines += [water_outline(one) for one in waters]
        lines += lines_on_things(bodies, plan, waterline)
    pieces.append(ground_shadow(pieces, bounds))
    return tuple(pieces), tuple(lines)


def _opaque(
    body: Body, finish: Finish, plan: NDArray[np.float64], waterline: float, scan: ScanSkin | None
) -> Piece:
    placement = body.solid.placement
    skin = smooth_skin(body.solid.shape, finish.crease) if scan is None else scan
    points, normals = placement.apply(skin.points), placement.direction(skin.normals)
    if isinstance(skin, Skin):  # by part, so that the pieces of one part match
        surface = colours(finish, body.part, skin.points, skin.normals, skin.hollow, normals[:, 2])
    else:
        surface = skin.colours.copy()
    if body.where == "tank":
        under = np.clip((waterline - points[:, 2]) / _WET_BAND + 0.5, 0.0, 1.0) * inside_plan(
            points[:, :2], plan
        )
        deep = np.clip((waterline - points[:, 2]) / WATER.deep_at, 0.0, 1.0) * WATER.deep_share
        surface += (np.array(WATER.wet) - surface) * (under * (WATER.wet_share + deep))[:, None]
    if body.kind == "light":
        # the face that shines; the hull's own light is put on everything alike
        surface[normals[:, 2] < -0.9] = LAMPLIGHT
    return _piece(body, skin, points, normals, surface, np.ones(len(points)), finish)


def _pane(body: Body, finish: Finish) -> Piece:
    skin = pane_skin(body.solid.shape)
    placement = body.solid.placement
    points, normals = placement.apply(skin.points), placement.direction(skin.normals)
    narrow = skin.narrow[:, None]
    colour = np.where(narrow, np.array(finish.edge_colour or finish.colour), np.array(finish.colour))
    opacity = np.where(skin.narrow, finish.edge_opacity, finish.opacity)
    return _piece(body, skin, points, normals, colour, opacity, finish)


def _piece(
    body: Body,
    skin: Skin | ScanSkin,
    points: NDArray[np.float64],
    normals: NDArray[np.float64],
    colour: NDArray[np.float64],
    opacity: NDArray[np.float64],
    finish: Finish,
) -> Piece:
    clear = finish.opacity < 1.0
    look = {"shine": finish.shine, "gloss": finish.gloss, "clear": clear}
    return surface_of(body, points, normals, skin.faces, np.column_stack([colour, opacity]), **look)


def _outline(body: Body, colour: Colour) -> Lines:
    edges = sharp_edges(body.solid.shape)
    placed = body.solid.placement.apply(edges.reshape(-1, 3)).reshape(-1, 2, 3)
    return lines_of(body, placed, colour, 1.3, 0.85)


def _lighted(solid: list[Piece], blockers: Points, cell: float) -> list[Piece]:
    if not solid:
        return solid
    light = daylight(
        np.concatenate([piece.points for piece in solid]),
        np.concatenate([piece.normals for piece in solid]),
        blockers,
        cell=cell,
    )
    done = []
    for piece, own in zip(
        solid, np.split(light, np.cumsum([len(one.points) for one in solid])[:-1]), strict=True
    ):
        colour = piece.colours.astype(np.float64)
        colour[:, :3] *= _tone(own)[:, None]
        done.append(replace(piece, colours=np.round(np.clip(colour, 0.0, 255.0)).astype(np.uint8)))
    return done


def _tone(light: Points) -> NDArray[np.float64]:
    """Turn light into what colours are multiplied by: never black, flattening towards the bright end."""
    return np.asarray(0.36 + 0.88 * np.power(np.clip(light, 0.0, 1.6), 0.8), dtype=np.float64)
