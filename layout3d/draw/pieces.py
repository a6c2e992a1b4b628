"""A stage and its surfaces, lines and bodies of water, as plain arrays; how they are made and kept."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, TypeAlias, TypeVar

import numpy as np
from numpy.typing import NDArray

from layout3d.draw.style import Colour
from layout3d.keep import Form, key_of, recalled
from layout3d.model.spot import CameraSpot
from layout3d.plain import form_of
from layout3d.solid.placement import Vector

if TYPE_CHECKING:
    from layout3d.parts.base import Body

__all__ = [
    "DRAWN",
    "PAGE_KINDS",
    "STAGE",
    "WATER_NAME",
    "Drawn",
    "Extent",
    "Lines",
    "PageFacts",
    "Piece",
    "Stage",
    "WaterBody",
    "begin_looks",
    "inside_plan",
    "lines_of",
    "of_late",
    "of_the_same",
    "surface_of",
]

Points = NDArray[np.float32]
Floats = NDArray[np.float64]
Value = TypeVar("Value")

WATER_NAME = "water"


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """A surface to draw: ``points`` and ``normals`` (n, 3), ``faces`` (m, 3), ``colours`` (n, 4) 0 … 255.

    ``one_sided`` ones are drawn only where they face the viewer: a pane is then one layer, not two, and the
    far side of a closed solid costs nothing. ``rough`` is how strong its fine grain is,
    ``grain`` that grain's longest wave, and ``origin`` what it counts from, [m], so that it moves along.
    """

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
    one_sided: bool = True
    rough: float = 0.0
    grain: float = 0.0
    origin: Vector = (0.0, 0.0, 0.0)


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
class WaterBody:
    """Water standing over a ``plan`` (k, 2), wound counter-clockwise, ``floor`` to ``level``, [m].

    ``name`` is that of its overflow box, or of its sump and compartment ('sump.return'); '' the tank's own.

    ``without`` are plans in it that have a water of their own, such as an overflow box's, with its panes;
    over the ``rim`` of that one, [m], both are one water.
    """

    name: str = ""
    plan: Floats
    floor: float
    level: float
    without: tuple[Floats, ...] = ()
    rim: float = math.inf

    def rings(self, inset: float = 0.0) -> list[Floats]:
        """Return where it stands as closed rings, ``inset`` from their walls: holes wound clockwise."""
        import manifold3d

        plan = manifold3d.CrossSection([self.plan], manifold3d.FillRule.Positive)
        for other in self.without:
            plan -= manifold3d.CrossSection([other], manifold3d.FillRule.Positive)
        if inset:
            plan = plan.offset(-inset, manifold3d.JoinType.Miter)
        return [np.asarray(ring, dtype=np.float64) for ring in plan.to_polygons()]


@dataclass(frozen=True, slots=True)
class Extent:
    """Where a body that is drawn is: the ``low`` and ``high`` corner of its box, [m].

    ``top`` is how high it has to be on the page: what a lamp hangs on may run off it. ``overhead`` tells
    what hangs over the tank.
    """

    name: str
    part: str
    low: Vector
    high: Vector
    top: float
    overhead: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class PageFacts:
    """What a page tells of a scene beside its surfaces; ``extents`` tell where each body shown is."""

    extents: tuple[Extent, ...]
    waters: tuple[WaterBody, ...]
    title: str
    style: str
    waterline: float
    cameras: Mapping[str, CameraSpot]


PAGE_KINDS = (Extent, WaterBody, CameraSpot)


@dataclass(frozen=True, slots=True, kw_only=True)
class Stage(PageFacts):
    """All that is drawn, in the scene's axes, and what its page tells of the scene.

    ``bodies`` are those shown, which only a cut needs: None where the stage was kept without them.
    ``made_of`` is what its surfaces and lines are kept under, and differs wherever what they were made from
    does.
    """

    pieces: tuple[Piece, ...]
    lines: tuple[Lines, ...]
    made_of: str
    bodies: tuple[Body, ...] | None

    @property
    def bounds(self) -> Floats:
        """Return the lowest and highest corner of all bodies shown, (2, 3), [m]."""
        low, high = ([getattr(extent, end) for extent in self.extents] for end in ("low", "high"))
        return np.array([np.min(low, axis=0), np.max(high, axis=0)])

    @property
    def parts(self) -> tuple[str, ...]:
        """Return the names of the parts shown, in the model's order, water last."""
        return tuple(dict.fromkeys(piece.part for piece in self.pieces if piece.part))


def surface_of(
    of: Body | str, points: Any, normals: Any, faces: NDArray[np.int32], colours: Floats, **look: Any
) -> Piece:
    """Return a surface of a body, of the water, or of nothing ('').

    Parameters
    ----------
    points, normals : (n, 3) float;  faces : (m, 3) int
    colours : red, green, blue and opacity of each point, (n, 4) in 0 … 1, or one of all, (4,)
    look : the other fields of ``Piece``
    """
    shares = np.broadcast_to(np.asarray(colours), (len(points), 4))
    return Piece(
        **_owner(of),
        points=np.asarray(points, dtype=np.float32),
        normals=np.broadcast_to(np.asarray(normals, dtype=np.float32), (len(points), 3)).copy(),
        faces=faces,
        colours=np.round(np.clip(shares, 0.0, 1.0) * 255.0).astype(np.uint8),
        **look,
    )


def lines_of(of: Body | str, segments: Floats, colour: Colour, width: float, opacity: float = 1.0) -> Lines:
    """Return segments (k, 2, 3), [m], as the lines of a body or of the water."""
    drawn = segments.astype(np.float32)
    return Lines(**_owner(of), segments=drawn, colour=colour, width=width, opacity=opacity)


def _owner(of: Body | str) -> dict[str, Any]:
    if isinstance(of, str):
        return dict.fromkeys(("body", "part", "group"), of)
    return {"body": of.name, "part": of.part, "group": of.group}


def inside_plan(points: Floats, plan: Floats) -> Floats:
    """Return 1 for points inside a convex plan wound counter-clockwise, 0 outside, (n,)."""
    ahead = np.roll(plan, -1, axis=0) - plan
    across = [
        edge[0] * (points[:, 1] - corner[1]) - edge[1] * (points[:, 0] - corner[0])
        for corner, edge in zip(plan, ahead, strict=True)
    ]
    return np.asarray((np.min(across, axis=0) >= -1e-9).astype(np.float64))


# -- keeping ------------------------------------------------------------------------------------------------


_LATELY: dict[bytes, tuple[Any, int]] = {}  # by key: a result, and in which looks it was last asked for
_looks = 0
LAST_LOOKS = 2  # before these, whose results are held


def begin_looks() -> None:
    """Let go of what was asked for neither in the looks that end now nor in those before.

    It is much, and what else is kept in memory would go for it.
    """
    global _looks
    _looks += 1
    for key in [key for key, (_, last) in _LATELY.items() if last <= _looks - LAST_LOOKS - 1]:
        del _LATELY[key]


def of_late(what: str, *inputs: object, make: Callable[[], Value]) -> Value:
    """Return a result that is held as long as it is asked for in each looks; nobody may change it."""
    key = key_of(what, *inputs)
    result = _LATELY[key][0] if key in _LATELY else make()
    _LATELY[key] = result, _looks
    return result


def of_the_same(
    what: str, arrays: tuple[NDArray[Any], ...], *more: object, make: Callable[[], Value]
) -> Value:
    """Return a result that is held as ``of_late``, by its name, ``more``, and the very ``arrays`` it is of.

    For what is made sooner than large arrays are told by content. What is held keeps its address.
    """
    return of_late(what, *map(id, arrays), *more, make=lambda: (arrays, make()))[1]


Drawn: TypeAlias = tuple[tuple[Piece, ...], tuple[Lines, ...]]
_DRAWN = form_of(
    "stage",
    Piece,
    Lines,
    size=lambda drawn: sum(
        array.nbytes
        for one in (*drawn[0], *drawn[1])
        for array in (
            [one.segments] if isinstance(one, Lines) else [one.points, one.normals, one.faces, one.colours]
        )
    ),
)
_STAGE = form_of("stage and its page", Stage, *PAGE_KINDS, size=lambda stage: 1000 * len(stage.extents))


def _sound(content: bytes) -> Drawn:
    drawn: Drawn = _DRAWN.unpack(content)
    if any(len(p.faces) and not 0 <= p.faces.min() <= p.faces.max() < len(p.points) for p in drawn[0]):
        raise ValueError("not a stage: a corner that is none")
    return drawn


def _with_surfaces(content: bytes) -> Stage:
    stage: Stage = _STAGE.unpack(content)
    drawn = recalled(bytes.fromhex(stage.made_of), DRAWN)
    if drawn is None:
        raise ValueError("a stage without its surfaces")
    return replace(stage, pieces=drawn[0], lines=drawn[1])


DRAWN: Form[Drawn] = replace(_DRAWN, unpack=_sound)
STAGE: Form[Stage] = replace(
    _STAGE,
    # surfaces and lines are kept once, under what they are made of
    pack=lambda stage: _STAGE.pack(replace(stage, pieces=(), lines=(), bodies=None)),
    unpack=_with_surfaces,
)
