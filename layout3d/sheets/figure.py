"""What a sheet shows, before it has a scale: lines of a view in metres, what is measured and labelled.

Kinds of sheets are found by looking through ``sheets.kinds``: adding a sheet is adding one file.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cache
from typing import Any

import numpy as np

from layout3d.model.model import Model
from layout3d.parts.base import Body
from layout3d.registry import found_in
from layout3d.sheets.projection import Flat, View, project
from layout3d.solid.boolean import section
from layout3d.solid.placement import Vector

__all__ = [
    "Cut",
    "Detail",
    "Face",
    "Figure",
    "Label",
    "Printed",
    "SheetKind",
    "Wish",
    "drawn_figure",
    "sheet_kind",
    "sheet_kinds",
    "with_more",
]

HIDDEN = frozenset({"plumbing", "equipment"})
"""Groups whose hidden outline is drawn dashed; of all else what is hidden is left out."""
SOFT = frozenset({"background", "substrate", "rock", "wood", "plant"})
"""Groups drawn with narrow lines, which nobody measures from."""
NOT_DRAWN = frozenset({"silicone"})


@dataclass(frozen=True, kw_only=True)
class Wish:
    """A dimension asked for, between two places of the tank's axes that differ in one of them, [m].

    ``side`` is where it stands: below, above, left or right of the view. A ``running`` one counts from an
    origin that it shares with all others of its side.
    """

    of: str
    start: Vector
    end: Vector
    side: str
    running: bool = False


@dataclass(frozen=True, kw_only=True)
class Printed:
    """A dimension as it is printed: what of, between which places, its value, [m], and its text."""

    of: str
    start: Vector
    end: Vector
    value: float
    text: str


@dataclass(frozen=True, kw_only=True)
class Label:
    """What points to a place, of the tank's axes or (two figures) of the view, [m].

    ``mark`` stands in a balloon: a mark of the cut list or a number of the parts list; ``text`` stands beside
    it, or alone. The leader may end at any of the ``others`` as well; on an ``edge`` it ends in an arrow,
    else in a dot. ISO 128-2:2022, leader lines.
    """

    text: str
    at: Vector | tuple[float, float]
    mark: str = ""
    others: tuple[tuple[float, float], ...] = ()
    edge: bool = False


@dataclass(frozen=True, kw_only=True)
class Detail:
    """A round piece of the view that may be drawn again, larger: middle, radius, [m], and what it shows.

    It is where its ``pieces`` have too little room on paper, or ``always``; then it gets its ``letter``.
    ``wishes`` are dimensions below or left of its circle.
    """

    at: Vector
    radius: float
    shows: str
    pieces: int = 1
    always: bool = False
    letter: str = ""
    wishes: tuple[Wish, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Face:
    """A cut face of one body, as a shapely polygon in the view, [m]."""

    body: Body
    shape: Any


@dataclass(frozen=True, kw_only=True)
class Figure:
    """A view's content. ``lines`` are (line kind, segments (n, 2, 2)) in the view, [m].

    ``levels`` are water that stands: words, low end, high end. ``table`` has a heading row first, and
    ``told`` are the dimensions in it. ``notes`` stand at the foot; one that takes long to find is found as it
    is set, '' for none. ``seen`` tells of the bodies that one sees a spot of each, in the view; ``of`` tells
    it from others of its kind.
    """

    view: View
    lines: tuple[tuple[str, Flat], ...]
    of: str = ""
    faces: tuple[Face, ...] = ()
    wishes: tuple[Wish, ...] = ()
    labels: tuple[Label, ...] = ()
    details: tuple[Detail, ...] = ()
    levels: tuple[tuple[str, Vector, Vector], ...] = ()
    table: tuple[tuple[str, ...], ...] = ()
    told: tuple[Printed, ...] = ()
    seen: Mapping[str, tuple[float, float]] = field(default_factory=dict)
    notes: tuple[str | Callable[[], str], ...] = ()


def drawn_figure(
    bodies: Iterable[Body], view: View, *, behind: float | None = None, see_through: Sequence[str] = ()
) -> Figure:
    """Return bodies as they are drawn in a view; with ``behind`` cut open there, [m] along ``view.out``."""
    shown = [body for body in bodies if body.kind not in NOT_DRAWN]
    found = project(shown, view, behind=behind, see_through=see_through)
    faces = tuple(_faces(shown, view, behind)) if behind is not None else ()
    lines: dict[str, list[Flat]] = {}
    for each in found:
        kind = "narrow" if each.body.group in SOFT else "outline"
        lines.setdefault(kind, []).append(each.seen)
        if each.body.group in HIDDEN:
            lines.setdefault("hidden", []).append(each.hidden)
    joined = tuple((kind, np.concatenate(parts)) for kind, parts in lines.items())
    seen = {each.body.name: each.spot for each in found if each.spot is not None}
    return Figure(view=view, lines=_clear_of(joined, faces), faces=faces, seen=seen)


def _faces(bodies: Sequence[Body], view: View, at: float) -> Iterable[Face]:
    """Yield the cut face of each body that the plane goes through."""
    import shapely

    out = np.array(view.axes[2])
    for body in bodies:
        heights = body.solid.vertices @ out
        low, high = float(heights.min()), float(heights.max())
        if not low < at < high:
            continue
        rings = [view.flat(loop)[:, :2] for loop in section(body.solid, origin=at * out, normal=out)]
        shape: Any = shapely.Polygon()
        for ring in rings:  # material anticlockwise, holes clockwise: each ring turns the inside over
            if len(ring) > 3:
                shape = shape.symmetric_difference(shapely.Polygon(ring).buffer(0))
        if not shape.is_empty:
            yield Face(body=body, shape=shape)


def _clear_of(lines: tuple[tuple[str, Flat], ...], faces: tuple[Face, ...]) -> tuple[tuple[str, Flat], ...]:
    """Return lines without what lies behind cut faces."""
    import shapely

    if not faces:
        return lines
    whole = shapely.union_all([face.shape.buffer(-1e-5) for face in faces])
    shapely.prepare(whole)
    made = []
    for kind, segments in lines:
        strings = shapely.linestrings(segments)
        covered = shapely.covers(whole, strings)
        crossing = ~covered & shapely.intersects(whole, strings)
        kept = [segments[~covered & ~crossing]]
        for part in shapely.get_parts(shapely.difference(strings[crossing], whole)):
            if part.geom_type == "LineString" and not part.is_empty:
                kept.append(np.asarray(part.coords)[:, :2].reshape(1, -1, 2)[:, [0, -1]])
        made.append((kind, np.concatenate(kept)))
    return tuple(made)


def with_more(figure: Figure, **more: Any) -> Figure:
    """Return a figure with more of some of its rows."""
    added: dict[str, Any] = {name: (*getattr(figure, name), *rows) for name, rows in more.items()}
    return replace(figure, **added)


Cut = tuple[str, float] | None
"""Where a sheet is cut open: an axis and a place along it, [m]; None where the sheet chooses."""
Drawer = Callable[[Model, Cut], Figure | tuple[Figure, ...] | None]


@dataclass(frozen=True)
class SheetKind:
    """One kind of sheet: its name, its place in the set, what it is called on paper, and what it shows.

    ``figure`` is given the model and the cut; it returns None where the model has nothing to show on it, such
    as pipework in a tank without any, and several where each is a sheet.
    One that is drawn ``by_name`` alone is no part of the whole set.
    """

    name: str
    place: int
    heading: str
    figure: Drawer
    by_name: bool = False


def sheet_kind(
    name: str, place: int, heading: str, *, by_name: bool = False
) -> Callable[[Drawer], SheetKind]:
    """Make a kind of sheet of the function that says what it shows."""
    return lambda figure: SheetKind(name, place, heading, figure, by_name)


@cache
def sheet_kinds() -> dict[str, SheetKind]:
    """Return all kinds of sheets by name, in the order of a set."""
    import layout3d.sheets.kinds as package

    found = found_in(package, SheetKind, lambda kind: kind.name)
    return dict(sorted(found.items(), key=lambda item: item[1].place))
