"""A stage cut open at a plane: what lies on the viewer's side taken away, the cut faces filled."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from layout3d.draw.camera import direction_of
from layout3d.draw.ground import ground_shadow
from layout3d.draw.pieces import WATER_NAME, Lines, Piece, Stage, WaterBody, lines_of, surface_of
from layout3d.draw.style import PAGE, cut_colour, cut_colours, finish_of
from layout3d.draw.waters import water_outline, water_piece
from layout3d.errors import OutOfRange, UnknownName
from layout3d.parts.base import Body, Vector
from layout3d.solid.boolean import section
from layout3d.units import show

__all__ = ["Cut", "clip_piece", "cut_stage", "cut_words", "drawn_water", "plane_of"]

Floats = NDArray[np.float64]
Cut = tuple[Literal["x", "y", "z"], float]

_AXES = ("x", "y", "z")
# what lies in front where cut faces share a place: pipes show in the background they are buried in
_IN_FRONT = (
    "substrate",
    "background",
    "stand",
    "wood",
    "rock",
    "plant",
    "sump",
    "glass",
    "equipment",
    "plumbing",
)
_LIFT = 0.0002  # m of cut faces towards the viewer, clear of what is cut
_HATCH: dict[str, float] = {"background": 45.0, "rock": -45.0, "wood": 20.0, "stand": 70.0, "substrate": 0.0}


@dataclass(frozen=True, slots=True)
class _Plane:
    axis: int
    at: float
    sign: float  # towards the viewer

    @property
    def normal(self) -> Floats:
        return np.asarray(np.eye(3)[self.axis] * self.sign)

    @property
    def origin(self) -> Floats:
        return np.asarray(np.eye(3)[self.axis] * self.at)

    @property
    def own(self) -> list[int]:
        """The plane's own two axes, turning left as seen from the viewer's side."""
        axes = [(self.axis + 1) % 3, (self.axis + 2) % 3]
        return axes if self.sign > 0.0 else axes[::-1]

    def ahead(self, points: NDArray[np.floating]) -> Floats:
        """Return how far points lie on the viewer's side, (n,), [m]."""
        return np.asarray((points[..., self.axis] - self.at) * self.sign, dtype=np.float64)

    def behind(self, along: Floats) -> Floats:
        """Return coordinates along the plane's axis, those on the viewer's side put onto the plane, (n,)."""
        return np.asarray(np.minimum(along * self.sign, self.at * self.sign) * self.sign)

    def back(self, flat: Floats, lift: float) -> Floats:
        """Return points in the plane's own axes back in the scene, lifted towards the viewer, (n, 3)."""
        points = np.full((len(flat), 3), self.at + self.sign * lift)
        points[:, self.own] = flat
        return points


def plane_of(cut: Cut, seen_from: str | Vector) -> _Plane:
    """Return the plane of a cut as a view sees it, or a camera that stands at a point, [m].

    Raises
    ------
    UnknownName : not an axis.
    OutOfRange : not a finite place, or the view looks along the plane.
    """
    axis, at = cut
    if axis not in _AXES:
        raise UnknownName(f"a cut can't be square to {axis!r}", expected="one of: x, y, z")
    if not np.isfinite(at):
        raise OutOfRange(f"a cut at {axis} = {at} has no place", expected="a finite length")
    index = _AXES.index(axis)
    if not isinstance(seen_from, str):
        ahead = seen_from[index] - at
        if abs(ahead) < 1e-6:
            raise OutOfRange(
                f"the camera stands in the plane of the cut, {axis} = {show(at, 'length')}",
                expected="a cut beside the camera",
            )
        return _Plane(index, float(at), float(np.sign(ahead)))
    view = seen_from
    towards = direction_of(view)[index]
    if abs(towards) < 1e-6:
        views = {"x": "left or right", "y": "front or back", "z": "plan"}[axis]
        raise OutOfRange(
            f"the {view} view looks along a cut square to {axis}: neither side of it is the viewer's",
            expected=f"three_quarter, {views}",
        )
    return _Plane(index, float(at), float(np.sign(towards)))


def cut_words(cut: Cut) -> str:
    """Name the side that a cut's place is measured from."""
    return {"x": "from the left glass", "y": "from the front glass", "z": "above the floor"}[cut[0]]


def cut_stage(stage: Stage, cut: Cut, seen_from: str | Vector) -> Stage:
    """Return the stage without what lies on the viewer's side of a plane, its cut faces filled.

    Raises
    ------
    OutOfRange : the plane passes everything, or the view looks along it.
    """
    if stage.bodies is None:
        raise ValueError("a stage that was kept without its bodies can't be cut (cut.cut_stage)")
    plane = plane_of(cut, seen_from)
    low, high = stage.bounds[0, plane.axis], stage.bounds[1, plane.axis]
    if not low < plane.at < high:
        raise OutOfRange(
            f"a cut at {cut[0]} = {show(plane.at, 'length')} passes everything that is drawn",
            expected=f"a place between {show(low, 'length')} and {show(high, 'length')}",
        )
    pieces = [
        clipped for piece in stage.pieces if piece.body and (clipped := clip_piece(piece, plane)) is not None
    ]
    lines = [kept for item in stage.lines if (kept := _clip_lines(item, plane)) is not None]
    spacing = float((stage.bounds[1] - stage.bounds[0]).max()) / 130.0
    for body, rings in _faces_apart(stage.bodies, plane):
        pieces.append(_cap(body, rings, plane))
        lines += _cap_lines(body, rings, plane, spacing)
    pieces += [face for water in stage.waters if (face := _water_face(water, plane)) is not None]
    pieces.append(ground_shadow(pieces, stage.bounds, "cut open"))
    return replace(stage, pieces=tuple(pieces), lines=tuple(lines))


def drawn_water(
    water: WaterBody, cut: Cut | None = None, seen_from: str | Vector = ""
) -> list[Piece | Lines]:
    """Return what is drawn of water, whole or cut open as a stage is."""
    whole, line = water_piece(water), water_outline(water)
    if cut is None:
        return [whole, line]
    plane = plane_of(cut, seen_from)
    drawn = clip_piece(whole, plane), _clip_lines(line, plane), _water_face(water, plane)
    return [one for one in drawn if one is not None]


def _faces_apart(bodies: tuple[Body, ...], plane: _Plane) -> Iterator[tuple[Body, list[Floats]]]:
    """Yield each body's cut face as closed rings in the plane, less those of bodies in front of it.

    Rings run anticlockwise round material and clockwise round holes.
    """
    import manifold3d

    order = {group: place for place, group in enumerate(_IN_FRONT)}
    taken = manifold3d.CrossSection()
    for body in sorted(bodies, key=lambda body: -order.get(body.group, 0)):
        loops = section(body.solid, origin=plane.origin, normal=plane.normal)
        if not loops:
            continue
        flat = [loop[:-1, plane.own] for loop in loops]
        face = manifold3d.CrossSection(flat, manifold3d.FillRule.Positive)
        rings = [np.asarray(ring, dtype=np.float64) for ring in (face - taken).to_polygons()]
        if rings:
            yield body, rings
        if finish_of(body).opacity >= 1.0:
            taken += face


def clip_piece(piece: Piece, plane: _Plane) -> Piece | None:
    """Return what of a surface lies behind a plane; None where nothing does."""
    if not (plane.ahead(piece.points) > 0.0).any():
        return piece
    import pyvista as pv

    # as a grid, for clipping a surface would join points of one place that have normals of their own
    mesh: Any = pv.PolyData.from_regular_faces(piece.points, piece.faces).cast_to_unstructured_grid()  # type: ignore[arg-type] # any integer
    mesh.point_data["normals"], mesh.point_data["colours"] = piece.normals, piece.colours.astype(np.float32)
    kept = mesh.clip(normal=plane.normal, origin=plane.origin)
    if not kept.n_cells:
        return None
    kept = kept.extract_surface(algorithm=None).triangulate()
    return replace(
        piece,
        one_sided=piece.clear,  # of what is cut open the inside may be seen
        points=np.asarray(kept.points, dtype=np.float32),
        normals=np.asarray(kept.point_data["normals"]),
        colours=np.round(np.asarray(kept.point_data["colours"])).astype(np.uint8),
        faces=np.asarray(kept.regular_faces, dtype=np.int32),
    )


def _clip_lines(item: Lines, plane: _Plane) -> Lines | None:
    ahead = plane.ahead(item.segments)
    kept = (ahead <= 0.0).any(axis=1)
    segments, ahead = item.segments[kept].astype(np.float64), ahead[kept]
    if not len(segments):
        return None
    for end in (0, 1):
        over = ahead[:, end] > 0.0
        share = (ahead[over, end] / (ahead[over, end] - ahead[over, 1 - end]))[:, None]
        segments[over, end] += (segments[over, 1 - end] - segments[over, end]) * share
    return replace(item, segments=segments.astype(np.float32))


def _cap(body: Body, rings: list[Floats], plane: _Plane) -> Piece:
    """Return the filled cut face of one body."""
    import manifold3d

    faces = np.asarray(manifold3d.triangulate(rings), dtype=np.int32).reshape(-1, 3)
    points = plane.back(np.concatenate(rings), _LIFT)
    return surface_of(
        body, points, plane.normal, faces, np.array([*cut_colour(body), 1.0]), lighted=False, one_sided=False
    )


def _cap_lines(body: Body, rings: list[Floats], plane: _Plane, spacing: float) -> list[Lines]:
    """Return the outline of a cut face, and its hatching."""

    def placed(segments: Floats) -> Floats:
        return plane.back(segments.reshape(-1, 2), 1.5 * _LIFT).reshape(-1, 2, 3)

    red, green, blue = (0.42 * c for c in cut_colour(body))
    edges = np.concatenate([np.stack([ring, np.roll(ring, -1, axis=0)], axis=1) for ring in rings])
    lines = [lines_of(body, placed(edges), (red, green, blue), PAGE.cut_width)]
    if body.group in _HATCH:
        hatch = _hatched(rings, np.radians(_HATCH[body.group]), spacing, dashed=body.group == "substrate")
        lines.append(lines_of(body, placed(hatch), (red, green, blue), 1.1, 0.5))
    return lines


def _hatched(rings: list[Floats], angle: float, spacing: float, *, dashed: bool = False) -> Floats:
    """Return parallel segments inside closed rings (even-odd), or dashes in staggered rows, (k, 2, 2)."""
    along = np.array([np.cos(angle), np.sin(angle)])
    frame = np.column_stack([along, [-along[1], along[0]]])
    begin = np.concatenate(rings) @ frame
    end = np.concatenate([np.roll(ring, -1, axis=0) for ring in rings]) @ frame
    low, high = np.minimum(begin[:, 1], end[:, 1]), np.maximum(begin[:, 1], end[:, 1])
    found = [np.zeros((0, 2, 2))]
    for row in range(int(np.ceil(low.min() / spacing)), int(np.ceil(high.max() / spacing))):
        level = row * spacing
        hit = (low <= level) & (high > level)
        rise = end[hit, 1] - begin[hit, 1]
        u = np.sort(begin[hit, 0] + (end[hit, 0] - begin[hit, 0]) * (level - begin[hit, 1]) / rise)
        pairs = u[: len(u) // 2 * 2].reshape(-1, 2)
        if dashed:
            pairs = _dashes(pairs, 2.0 * spacing, (row % 2) * spacing)
        found.append(np.stack([pairs, np.full_like(pairs, level)], axis=2))
    return np.asarray(np.concatenate(found) @ frame.T)


def _dashes(spans: Floats, pitch: float, shift: float) -> Floats:
    """Return short dashes at every ``pitch`` that lie wholly within spans, (k, 2)."""
    half = 0.12 * pitch
    rows = [np.zeros((0, 2))]
    for begin, end in spans:
        first = np.ceil((begin + half - shift) / pitch)
        at = np.arange(first, (end - half - shift) / pitch) * pitch + shift
        rows.append(np.column_stack([at - half, at + half]))
    return np.concatenate(rows)


def _water_face(water: WaterBody, plane: _Plane) -> Piece | None:
    """Return the cut face of water; solids' own cut faces lie in front of it."""
    import manifold3d

    rings = water.rings()
    if plane.axis == 2:
        if not water.floor < plane.at < water.level:
            return None
        flat = np.concatenate(rings)
        points = np.column_stack([flat, np.full(len(flat), plane.at)])
        faces = np.asarray(manifold3d.triangulate(rings), dtype=np.int32).reshape(-1, 3)
    else:
        other = 1 - plane.axis
        plan = np.concatenate(rings)
        ahead = np.concatenate([np.roll(ring, -1, axis=0) for ring in rings])
        a, b = plan[:, plane.axis] - plane.at, ahead[:, plane.axis] - plane.at
        hit = (a <= 0.0) != (b <= 0.0)
        at = np.sort(plan[hit, other] + (ahead - plan)[hit, other] * (a[hit] / (a[hit] - b[hit])))
        spans = at[: len(at) // 2 * 2].reshape(-1, 2)  # in at one end, out at the other
        if not len(spans):
            return None
        points = np.zeros((4 * len(spans), 3))
        points[:, plane.axis] = plane.at
        points[:, other] = spans[:, [0, 1, 1, 0]].ravel()
        points[:, 2] = np.tile([water.floor, water.floor, water.level, water.level], len(spans))
        corner = 4 * np.arange(len(spans))[:, None]
        faces = np.concatenate([corner + np.array(three) for three in ([0, 1, 2], [0, 2, 3])]).astype(
            np.int32
        )
    colour = np.array([*cut_colours()["water"], 0.45])
    return surface_of(
        WATER_NAME, points, plane.normal, faces, colour, clear=True, lighted=False, one_sided=False
    )
