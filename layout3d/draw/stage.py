"""A model set up to be drawn: coloured, softly lit surfaces, clear panes, water, and lines. Pure arrays.

The same stage serves every view and the window. What is hidden throws no shadow. Nothing is judged here.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from layout3d.draw.light import GRID, daylight, surface_points, thinned
from layout3d.draw.skin import Skin, pane_skin, sharp_edges, smooth_skin
from layout3d.draw.style import WATER, Colour, Finish, finish_of
from layout3d.draw.surface import colours
from layout3d.errors import UnknownName, nearest
from layout3d.model.model import Model
from layout3d.parts.base import Body
from layout3d.solid.boolean import section

__all__ = ["Lines", "Piece", "Stage", "chosen", "ground_shadow", "set_stage"]

Points = NDArray[np.float32]

WATER_NAME = "water"
WATER_INSET = 0.0004  # m from the glass, so that water and pane are not drawn in one place
_SHEET = (150, 110)  # corners of the ground sheet
_WET_BAND = 0.004  # m over which things turn wet at the waterline


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """A surface to draw: ``points`` and ``normals`` (n, 3), ``faces`` (m, 3), ``colours`` (n, 4) 0 … 255."""

    body: str
    part: str
    group: str
    points: Points
    normals: Points
    faces: NDArray[np.int32]
    colours: NDArray[np.uint8]
    shine: float = 0.0
    gloss: float = 10.0
    clear: bool = False
    lighted: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Lines:
    """Line segments to draw, (k, 2, 3), [m]; ``width`` in pixels of a page 1600 wide."""

    body: str
    part: str
    group: str
    segments: Points
    colour: Colour
    width: float
    opacity: float = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Stage:
    """All that is drawn, in the scene's axes. ``bounds`` (2, 3) of the bodies shown, [m]."""

    pieces: tuple[Piece, ...]
    lines: tuple[Lines, ...]
    bounds: NDArray[np.float64]
    bodies: tuple[Body, ...]
    waterline: float

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


def set_stage(model: Model, *, hide: Iterable[str] = (), show: Iterable[str] = ()) -> Stage:
    """Return the model ready to draw.

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
    plan = np.array(model.tank.plan)
    solid, clear, lines = [], [], []
    for body in bodies:
        finish = finish_of(body)
        if finish.opacity < 1.0:
            clear.append(_pane(body, finish))
            if finish.outline is not None:
                lines.append(_outline(body, finish.outline))
        else:
            solid.append(_opaque(body, finish, plan, model.waterline if water else -np.inf))
    cell = float((bounds[1] - bounds[0]).max()) / GRID
    blockers = _blockers(solid, bodies, cell)
    solid = _lighted(solid, blockers, cell)
    pieces = [*solid, *clear]
    if water:
        pieces += [_water(plan, model.waterline)]
        lines += _waterlines(bodies, plan, model.waterline)
    pieces.append(ground_shadow(pieces, bounds))
    return Stage(
        pieces=tuple(pieces), lines=tuple(lines), bounds=bounds, bodies=bodies, waterline=model.waterline
    )


def _opaque(body: Body, finish: Finish, plan: NDArray[np.float64], waterline: float) -> Piece:
    skin = smooth_skin(body.solid.shape, finish.crease)
    placement = body.solid.placement
    points, normals = placement.apply(skin.points), placement.direction(skin.normals)
    # by part, so that the pieces of one part match
    surface = colours(finish, body.part, skin.points, skin.normals, skin.hollow, normals[:, 2])
    if body.where == "tank":
        under = np.clip((waterline - points[:, 2]) / _WET_BAND + 0.5, 0.0, 1.0) * _inside(points[:, :2], plan)
        surface += (np.array(WATER.wet) - surface) * (under * WATER.wet_share)[:, None]
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
    skin: Skin,
    points: NDArray[np.float64],
    normals: NDArray[np.float64],
    colour: NDArray[np.float64],
    opacity: NDArray[np.float64],
    finish: Finish,
) -> Piece:
    return Piece(
        body=body.name,
        part=body.part,
        group=body.group,
        points=points.astype(np.float32),
        normals=normals.astype(np.float32),
        faces=skin.faces,
        colours=_bytes(np.column_stack([colour, opacity])),
        shine=finish.shine,
        gloss=finish.gloss,
        clear=finish.opacity < 1.0,
    )


def _bytes(values: NDArray[np.float64]) -> NDArray[np.uint8]:
    return np.round(np.clip(values, 0.0, 1.0) * 255.0).astype(np.uint8)


def _outline(body: Body, colour: Colour) -> Lines:
    edges = sharp_edges(body.solid.shape)
    placed = body.solid.placement.apply(edges.reshape(-1, 3)).reshape(-1, 2, 3)
    return Lines(
        body=body.name,
        part=body.part,
        group=body.group,
        segments=placed.astype(np.float32),
        colour=colour,
        width=1.3,
        opacity=0.85,
    )


def _blockers(solid: list[Piece], bodies: tuple[Body, ...], cell: float) -> Points:
    """Return points over all opaque surfaces; lamps throw no shadow, they give light."""
    lamps = {body.name for body in bodies if body.kind == "light"}
    spread = [surface_points(p.points, p.faces, 0.7 * cell) for p in solid if p.body not in lamps]
    return thinned(np.concatenate(spread), 0.6 * cell) if spread else np.zeros((0, 3), dtype=np.float32)


def _lighted(solid: list[Piece], blockers: Points, cell: float) -> list[Piece]:
    if not solid:
        return solid
    light = daylight(
        np.concatenate([piece.points for piece in solid]),
        np.concatenate([piece.normals for piece in solid]),
        blockers,
        cell=cell,
    )
    done, begin = [], 0
    for piece in solid:
        own = light[begin : begin + len(piece.points)]
        begin += len(piece.points)
        colour = piece.colours.astype(np.float64)
        colour[:, :3] *= _tone(own)[:, None]
        done.append(replace(piece, colours=np.round(np.clip(colour, 0.0, 255.0)).astype(np.uint8)))
    return done


def _tone(light: Points) -> NDArray[np.float64]:
    """Turn light into what colours are multiplied by: never black, flattening towards the bright end."""
    return np.asarray(0.30 + 0.86 * np.power(np.clip(light, 0.0, 1.6), 0.8), dtype=np.float64)


def _inside(points: NDArray[np.float64], plan: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return 1 for points inside a convex plan wound counter-clockwise, 0 outside, (n,)."""
    ahead = np.roll(plan, -1, axis=0) - plan
    across = [
        edge[0] * (points[:, 1] - corner[1]) - edge[1] * (points[:, 0] - corner[0])
        for corner, edge in zip(plan, ahead, strict=True)
    ]
    return np.asarray((np.min(across, axis=0) >= -1e-9).astype(np.float64))


def _water(plan: NDArray[np.float64], level: float) -> Piece:
    """Return the water as an upright prism, its surface in a tone of its own.

    What stands in it is drawn over it, not cut out of it.
    """
    centre = plan.mean(axis=0)
    loop = plan + (centre - plan) / np.linalg.norm(centre - plan, axis=1, keepdims=True) * WATER_INSET
    count = len(loop)
    low = np.column_stack([loop, np.full(count, WATER_INSET)])
    high = np.column_stack([loop, np.full(count, level)])
    i, j = np.arange(count), np.roll(np.arange(count), -1)
    sides = np.stack([low[i], low[j], high[j], low[i], high[j], high[i]], axis=1).reshape(-1, 3)
    fan = np.stack([high[np.zeros(count - 2, int)], high[1:-1], high[2:]], axis=1).reshape(-1, 3)
    points = np.concatenate([sides, fan])
    edge = loop[j] - loop[i]
    outward = np.column_stack([edge[:, 1], -edge[:, 0], np.zeros(count)])
    outward /= np.linalg.norm(outward, axis=1, keepdims=True)
    normals = np.concatenate([np.repeat(outward, 6, axis=0), np.tile([0.0, 0.0, 1.0], (len(fan), 1))])
    colour = np.concatenate(
        [
            np.tile([*WATER.side, WATER.side_opacity], (len(sides), 1)),
            np.tile([*WATER.surface, WATER.surface_opacity], (len(fan), 1)),
        ]
    )
    return Piece(
        body=WATER_NAME,
        part=WATER_NAME,
        group=WATER_NAME,
        points=points.astype(np.float32),
        normals=normals.astype(np.float32),
        faces=np.arange(len(points), dtype=np.int32).reshape(-1, 3),
        colours=_bytes(colour),
        clear=True,
        lighted=False,
    )


def _waterlines(bodies: tuple[Body, ...], plan: NDArray[np.float64], level: float) -> list[Lines]:
    """Return the waterline on the glass, and where things stand through the surface."""
    high = np.column_stack([plan, np.full(len(plan), level)])
    found = [np.stack([high, np.roll(high, -1, axis=0)], axis=1)]
    for body in bodies:
        low, top = body.solid.bounds[:, 2]
        if body.where != "tank" or not low < level < top or finish_of(body).opacity < 1.0:
            continue
        for loop in section(body.solid, origin=(0.0, 0.0, level), normal=(0.0, 0.0, 1.0)):
            inside = _inside((loop[:-1, :2] + loop[1:, :2]) / 2.0, plan) > 0.0
            found.append(np.stack([loop[:-1], loop[1:]], axis=1)[inside])
    glass, things = found[0], np.concatenate([found[0][:0], *found[1:]])
    common = {"body": WATER_NAME, "part": WATER_NAME, "group": WATER_NAME, "colour": WATER.line}
    lines = [Lines(segments=glass.astype(np.float32), width=2.4, **common)]  # type: ignore[arg-type] # plain words
    if len(things):
        lines.append(
            Lines(segments=things.astype(np.float32), width=1.4, opacity=0.6, **common)  # type: ignore[arg-type]
        )
    return lines


def ground_shadow(pieces: Iterable[Piece], bounds: NDArray[np.float64]) -> Piece:
    """Return the shadow on the ground: a sheet that is clear where it is fully lit.

    Parameters
    ----------
    pieces : what throws it, panes and cut faces too
    bounds : (2, 3) of all that is shown, [m]; the sheet lies just below
    """
    size = bounds[1] - bounds[0]
    cell = 3.0 * float(size.max()) / GRID
    spread = [
        surface_points(piece.points, piece.faces, 0.7 * cell) for piece in pieces if piece.group != WATER_NAME
    ]
    blockers = thinned(np.concatenate(spread), 0.6 * cell)
    reach = 0.55 * float(size.max())
    low, high = bounds[0, :2] - reach, bounds[1, :2] + reach
    nx, ny = _SHEET
    x, y = np.linspace(low[0], high[0], nx), np.linspace(low[1], high[1], ny)
    grid = np.stack(np.meshgrid(x, y, indexing="ij"), axis=-1).reshape(-1, 2)
    points = np.column_stack([grid, np.full(len(grid), bounds[0, 2] - 0.0015)]).astype(np.float32)
    normals = np.tile(np.array([0.0, 0.0, 1.0], dtype=np.float32), (len(points), 1))
    light = daylight(points, normals, blockers, cell=cell).astype(np.float64)
    dark = _blurred(np.clip(1.0 - light / float(light.max()), 0.0, 1.0).reshape(nx, ny), 4).ravel()
    # to nothing at the rim of the sheet
    edge = np.minimum(grid - low, high - grid).min(axis=1) / reach
    dark *= np.clip(edge * 1.6, 0.0, 1.0)
    i = np.arange(nx - 1)[:, None] * ny + np.arange(ny - 1)[None, :]
    a, b, c, d = (v.ravel() for v in (i, i + ny, i + ny + 1, i + 1))
    faces = np.concatenate([np.stack([a, b, c], axis=1), np.stack([a, c, d], axis=1)]).astype(np.int32)
    colour = np.tile([0.20, 0.19, 0.17], (len(points), 1))
    return Piece(
        body="",
        part="",
        group="",
        points=points,
        normals=normals,
        faces=faces,
        colours=_bytes(np.column_stack([colour, 0.55 * dark])),
        clear=True,
        lighted=False,
    )


def _blurred(values: NDArray[np.float64], rounds: int) -> NDArray[np.float64]:
    """Soften a grid: the sky is a few dozen lamps, whose single shadows must not show far out."""
    for _ in range(rounds):
        for axis in (0, 1):
            padded = np.pad(values, [(2, 2) if k == axis else (0, 0) for k in (0, 1)], mode="edge")
            count = values.shape[axis]
            near = [np.take(padded, np.arange(k, k + count), axis=axis) for k in range(5)]
            values = np.mean(near, axis=0)
    return values
