"""A model ready to be put on the window's screen: in its own look or coloured by a figure, cut or whole."""

from __future__ import annotations

import importlib
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field, fields, replace
from typing import TYPE_CHECKING

import numpy as np

from layout3d.checks.measure import Joins
from layout3d.draw.pieces import WATER_NAME
from layout3d.errors import LayoutError
from layout3d.flow.running import running
from layout3d.model.beds import Ground
from layout3d.model.model import Model
from layout3d.model.spot import CameraSpot
from layout3d.parts.base import Vector
from layout3d.solid.distance import gap, near_pairs
from layout3d.solid.placement import Placement
from layout3d.units import show
from layout3d.wanted import go_on
from layout3d.water.cavity import tank_cavity
from layout3d.water.gauge import cavity_table

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from layout3d.draw.cut import Cut
    from layout3d.draw.flow_colours import ColourKey
    from layout3d.draw.pieces import Lines, Piece, Stage, WaterBody

__all__ = [
    "COLOURS",
    "Heights",
    "Looks",
    "Thing",
    "coloured",
    "completed",
    "get_ready",
    "looks_of",
    "shortened",
]

COLOURS = {
    "": "own colours",
    "velocity": "by speed of water",
    "head": "by grade line",
    "clearance": "by clearance",
    "height": "by height over water",
}
"""What things may be coloured by, and the words for it."""
WIDE = {"metric": 0.1, "inch": 0.1016}  # a clearance from which it is wide enough for its last colour, [m]
CLEARED = ("rock", "wood", "equipment", "plumbing")  # groups that have a clearance from what is beside them
SOFT = ("substrate", "plant")  # groups that nothing has to keep clear of
ARRAYS = ("points", "normals", "faces", "colours")  # of a piece
LATER = ("scipy.sparse", "scipy.spatial.transform", "scipy.optimize")  # that only some scenes need
CELLS = 60  # of the ground's grid, along the tank's longer side


@dataclass(frozen=True, slots=True, kw_only=True)
class Thing:
    """A body as the window needs to know it.

    ``shape`` names its shape by content, and ``stands`` where that stands; ``box`` is (low, high), [m],
    ``ports`` and ``anchors`` where those are, by name.
    """

    name: str
    part: str
    group: str
    kind: str
    shape: str
    stands: Placement
    box: tuple[tuple[float, ...], tuple[float, ...]]
    ports: Mapping[str, Vector] = field(default_factory=dict)
    anchors: Mapping[str, Vector] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Heights:
    """The ground in the tank over its floor, [m], at places ``x`` (n,) and ``y`` (m,): (n, m).

    ``plan`` are the corners of the tank's inside, (k, 2) [m], one after the other around it; it is convex.
    """

    x: NDArray[np.float64]
    y: NDArray[np.float64]
    heights: NDArray[np.float64]
    plan: NDArray[np.float64]

    def at(self, x: float, y: float) -> float:
        """Return the height at the nearest place, [m]."""
        return float(self.heights[np.abs(self.x - x).argmin(), np.abs(self.y - y).argmin()])


@dataclass(frozen=True, slots=True, kw_only=True)
class Looks:
    """Answer: what is to be drawn, and what is in the scene.

    ``light`` are coarser surfaces for some of the pieces, by their place among these, for as long as
    something moves. ``cut`` tells where these looks are cut open, and ``view`` from which side; ``colour``
    what they are coloured by, ``key`` what the colours mean, ``trouble`` why there are none.
    ``as_before`` tells of pieces without some of their arrays, by their place, which place they had in looks
    before.
    """

    version: int
    pieces: tuple[Piece, ...]
    lines: tuple[Lines, ...]
    light: Mapping[int, Piece]
    things: tuple[Thing, ...]
    waters: tuple[WaterBody, ...]
    ground: Heights
    cameras: Mapping[str, CameraSpot]
    cut: Cut | None = None
    view: str = "three_quarter"
    colour: str = ""
    key: ColourKey | None = None
    trouble: str = ""
    as_before: Mapping[int, int] = field(default_factory=dict)

    def bodies_of(self, parts: Collection[str]) -> set[str]:
        """Return the names of what is drawn of some parts, the water among them."""
        return {thing.name for thing in self.things if thing.part in parts} | ({WATER_NAME} & set(parts))


def looks_of(
    model: Model,
    version: int = 0,
    *,
    cut: Cut | None = None,
    view: str = "three_quarter",
    colour: str = "",
    over: tuple[float, float] | None = None,
) -> Looks:
    """Return a model ready to be put on the screen.

    Parameters
    ----------
    cut, view : where it is cut open and from which side that is looked at, as ``cut_stage`` takes them
    colour : one of ``COLOURS``; what can't be coloured keeps its own, and the looks tell why
    over : figures that the key of the colours has to span as well, SI
    """
    from layout3d.draw.cut import cut_stage
    from layout3d.draw.stage import set_stage
    from layout3d.view.coarse import coarse

    trouble, key = "", None
    try:
        stage, key = coloured(model, colour, over)
    except LayoutError as error:
        stage, trouble = set_stage(model, filled=True), error.found
    if cut is not None:
        stage = cut_stage(stage, cut, view)
    return Looks(
        version=version,
        pieces=stage.pieces,
        lines=stage.lines,
        light=coarse(stage.pieces),
        things=things_of(model),
        waters=stage.waters,
        ground=_ground(model),
        cameras=dict(model.cameras),
        cut=cut,
        view=view,
        colour=colour,
        key=key,
        trouble=trouble,
    )


def get_ready(model: Model) -> None:
    """Load what a change may need, and make what looks are made of, though these were read as a whole."""
    from layout3d.draw.stage import set_stage
    from layout3d.view.coarse import coarse

    for name in LATER:
        importlib.import_module(name)
        go_on()
    coarse(set_stage(model, filled=True, anew=True).pieces)
    cavity_table(tank_cavity(model), model.tank_name, anew=True)


def shortened(looks: Looks, before: Looks | None) -> Looks:
    """Return looks without the arrays that looks before have too: few change but for their light."""
    if before is None:
        return looks
    places: dict[str, list[int]] = {}
    for place, piece in enumerate(before.pieces):
        places.setdefault(piece.body, []).append(place)
    found, pieces, light = dict[int, int](), list(looks.pieces), dict(looks.light)
    for place, piece in enumerate(looks.pieces):
        if places.get(piece.body):
            old = found[place] = places[piece.body].pop(0)
            pieces[place] = _less(piece, before.pieces[old])
            if place in light and old in before.light:
                light[place] = _less(light[place], before.light[old])
    return replace(looks, pieces=tuple(pieces), light=light, as_before=found)


def completed(looks: Looks, before: Looks | None) -> Looks:
    """Return looks with what ``shortened`` left out of them: the very same surfaces, or arrays, as before."""
    if before is None:
        return looks
    pieces, light = list(looks.pieces), dict(looks.light)
    for place, old in looks.as_before.items():
        pieces[place] = _whole(pieces[place], before.pieces[old])
        if place in light and old in before.light:
            light[place] = _whole(light[place], before.light[old])
    return replace(looks, pieces=tuple(pieces), light=light, as_before={})


def _less(one: Piece, before: Piece) -> Piece:
    """Return a surface without those of its arrays that are the same as before: these get no columns."""
    pairs = {name: (getattr(one, name), getattr(before, name)) for name in ARRAYS}
    return replace(
        one, **{name: a[:0, :0] for name, (a, b) in pairs.items() if a is b or np.array_equal(a, b)}
    )


def _whole(one: Piece, before: Piece) -> Piece:
    """Return a surface with what ``_less`` left out of it; the one before where that is all the same."""
    taken = {name: getattr(before, name) for name in ARRAYS if not getattr(one, name).shape[1]}
    others = (each.name for each in fields(one) if each.name not in taken)
    same = len(taken) == len(ARRAYS) and all(getattr(one, name) == getattr(before, name) for name in others)
    return before if same else replace(one, **taken)


def things_of(model: Model) -> tuple[Thing, ...]:
    """Return the bodies as the window needs to know them; ports and anchors stand with a part's first."""
    ports = {name: {port.name: port.at for port in built.ports} for name, built in model.built.items()}
    anchors = {name: dict(built.anchors) for name, built in model.built.items()}
    return tuple(
        Thing(
            name=body.name,
            part=body.part,
            group=body.group,
            kind=body.kind,
            shape=body.solid.shape.key,
            stands=body.solid.placement,
            box=(tuple(body.solid.bounds[0].tolist()), tuple(body.solid.bounds[1].tolist())),
            ports=ports.pop(body.part, {}),
            anchors=anchors.pop(body.part, {}),
        )
        for body in model.bodies
    )


def _ground(model: Model) -> Heights:
    plan = np.array(model.tank.plan)
    low, high = plan.min(axis=0), plan.max(axis=0)
    cell = float((high - low).max()) / CELLS
    x, y = (np.linspace(a, b, max(2, int((b - a) / cell))) for a, b in zip(low, high, strict=True))
    across, deep = np.meshgrid(x, y, indexing="ij")
    heights = Ground(model).at(across.ravel(), deep.ravel()).reshape(across.shape)
    return Heights(x=x, y=y, heights=heights, plan=plan)


def coloured(
    model: Model, colour: str, over: tuple[float, float] | None = None, hide: tuple[str, ...] = ()
) -> tuple[Stage, ColourKey | None]:
    """Return a model ready to draw, coloured by a figure, and the key of that.

    Raises
    ------
    LayoutError : it can't be coloured so, and why.
    """
    from layout3d.draw.flow_colours import covers_of, flow_colours
    from layout3d.draw.stage import set_stage

    if colour in ("velocity", "head"):
        paint, key = flow_colours(model, running(model), colour, over)
        return set_stage(model, hide=(*hide, *covers_of(model)), colour_by=paint), key
    if colour == "clearance":
        return _by_clearance(model, hide)
    if colour == "height":
        return _by_height(model, over, hide)
    return set_stage(model, hide=hide, filled=not hide), None


def _by_clearance(model: Model, hide: tuple[str, ...]) -> tuple[Stage, ColourKey]:
    """Return pieces, equipment and pipework coloured by how near the nearest thing is not joined to them."""
    from layout3d.draw.flow_colours import ColourKey, ramp
    from layout3d.draw.stage import set_stage

    joins, nearest = Joins(model), dict[str, float]()
    far = WIDE["inch" if model.scene.style == "inch" else "metric"]
    bodies = [body for body in model.bodies if body.group not in SOFT]
    for i, j in near_pairs([body.solid for body in bodies], far):
        go_on()
        one, other = bodies[i], bodies[j]
        own = [body.name for body in (one, other) if body.group in CLEARED]
        if not own or one.part == other.part or joins.how(one, other):
            continue
        distance = gap(one.solid, other.solid).distance
        for name in own:
            nearest[name] = min(nearest.get(name, far), distance)
    paint = {
        body.name: ramp(1.0 - min(nearest.get(body.name, far) / far, 1.0))
        for body in bodies
        if body.group in CLEARED
    }
    marks = [(1.0 - share, _length(model, share * far)) for share in (0.0, 0.25, 0.5, 0.75)]
    key = ColourKey(
        title="clearance from what is not joined to it",
        marks=((0.0, f"≥ {_length(model, far)}"), *reversed(marks)),
        span=(0.0, far),
    )
    return set_stage(model, hide=hide, colour_by=paint, filled=not hide), key


def _by_height(
    model: Model, over: tuple[float, float] | None, hide: tuple[str, ...]
) -> tuple[Stage, ColourKey]:
    """Return what stands in the tank coloured by how high it is over the waterline, point by point."""
    from layout3d.draw.flow_colours import ColourKey, ramp, spanning
    from layout3d.draw.stage import set_stage

    stage = set_stage(model, hide=hide, filled=not hide)
    inside = {body.name for body in model.bodies if body.where == "tank" and body.group != "glass"}
    drawn = [piece for piece in stage.pieces if piece.body in inside and not piece.clear]
    levels = [piece.points[:, 2] - model.waterline for piece in drawn]
    if not levels:
        raise LayoutError("nothing stands in the tank to be coloured by its height")
    least, most = (float(end([end(each) for each in levels])) for end in (np.min, np.max))
    low, high = spanning(least, most, over)
    span = max(high - low, 1e-6)
    stops = np.array([ramp(share) for share in np.linspace(0.0, 1.0, 256)]) * 255.0

    def paint(piece: Piece) -> Piece:
        share = np.clip((piece.points[:, 2] - model.waterline - low) / span * 255.0, 0.0, 255.0).astype(int)
        colours = piece.colours.copy()
        colours[:, :3] = np.round(stops[share])
        return replace(piece, colours=colours)

    pieces = tuple(paint(one) if one.body in inside and not one.clear else one for one in stage.pieces)
    told = sorted({low, min(max(0.0, low), high), high})
    marks = tuple(((height - low) / span, _signed(model, height)) for height in told)
    key = ColourKey(title="height over the waterline", marks=marks, span=(low, high))
    return replace(stage, pieces=pieces), key


def _length(model: Model, value: float) -> str:
    return show(value, "length", system=model.scene.style)


def _signed(model: Model, value: float) -> str:
    return ("" if abs(value) < 1e-6 else "+" if value > 0 else "−") + _length(model, abs(value))
