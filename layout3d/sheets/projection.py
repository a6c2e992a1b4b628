"""Which edges of solids are seen in a view, and which lie behind others: exact, by clipping against faces.

Orthographic. An edge is drawn where the surface has a crease, or turns away from the viewer (its outline).
Of natural surfaces, rough all over, only the outline and sharp creases are. Each edge is cut by every face
before it, in the picture's plane and in depth, as spans of its own length: no pixels, no sampling.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from layout3d.keep import Form, code_of, kept, key_of, remembered
from layout3d.parts.base import Body
from layout3d.plain import form_of
from layout3d.sheets.cover import BEHIND, Cover
from layout3d.solid.placement import Vector
from layout3d.solid.shape import Solid

__all__ = ["LINES", "VIEWS", "Flat", "Lines", "View", "project"]

Floats = NDArray[np.float64]

CREASE = math.radians(20.0)
"""Faces that meet at more make an edge. A pipe's polygon turns by 4 degrees a side."""
ROUGH_CREASE = math.radians(75.0)
"""The same on surfaces that are rough all over: where a rock comes out of the sand, or a slab ends."""
ROUGH = frozenset({"background", "substrate", "rock", "wood", "plant"})
CLEAR = frozenset({"glass"})
"""Groups that one sees through: a tank is drawn for what is in it."""
SPOTS = 40
"""Places of a body that are looked at for one that is seen."""
THIN = 1e-10
"""A face that seems smaller is seen edge-on, and hides nothing, [m²]."""


@dataclass(frozen=True)
class View:
    """A direction to look from: ``out`` points to the viewer, ``right`` to the right of the picture."""

    name: str
    right: Vector
    out: Vector

    @property
    def axes(self) -> Floats:
        """Return right, up and out as rows, (3, 3)."""
        right, out = (np.array(way) / np.linalg.norm(way) for way in (self.right, self.out))
        return np.array([right, np.cross(out, right), out])

    def flat(self, points: object) -> Floats:
        """Return points (n, 3) in the picture: right, up, towards the viewer, [m]."""
        flat: Floats = np.asarray(points, dtype=np.float64).reshape(-1, 3) @ self.axes.T
        return flat


VIEWS = {
    view.name: view
    for view in (
        View("plan", (1.0, 0.0, 0.0), (0.0, 0.0, 1.0)),
        View("front", (1.0, 0.0, 0.0), (0.0, -1.0, 0.0)),
        View("back", (-1.0, 0.0, 0.0), (0.0, 1.0, 0.0)),
        View("left", (0.0, -1.0, 0.0), (-1.0, 0.0, 0.0)),
        View("right", (0.0, 1.0, 0.0), (1.0, 0.0, 0.0)),
        View("isometric", (1.0, 1.0, 0.0), (1.0, -1.0, 1.0)),
    )
}
"""Views by name; the isometric one from the right, the front and above, as ISO 5456-3 turns it."""

Flat = NDArray[np.float64]
"""Segments in the picture, (n, 2, 2), [m]."""


@dataclass(frozen=True)
class Lines:
    """What is seen of one body in a view, and what of its outline is hidden: segments (n, 2, 2), [m].

    ``spot`` is a place in the picture where one looks at the body itself, well within what is seen of it;
    none where nothing of it is.
    """

    body: Body
    seen: Flat
    hidden: Flat
    spot: tuple[float, float] | None


def project(
    bodies: Sequence[Body], view: View, *, behind: float | None = None, see_through: Iterable[str] = ()
) -> list[Lines]:
    """Return each body's lines.

    Parameters
    ----------
    behind : only what lies farther from the viewer than this is there, [m] along ``view.out``: a cut
    see_through : groups that hide nothing, beside glass
    """
    clear = CLEAR | set(see_through)
    what = tuple((body.solid, body.group in ROUGH, body.group in clear) for body in bodies)
    key = key_of("lines of a view", code_of("sheets", "solid"), what, view, behind)
    found = kept(key, LINES, lambda: _projected(bodies, view, behind, clear))
    made = []
    for body, (seen, hidden, spot) in zip(bodies, found, strict=True):
        made.append(Lines(body, seen, hidden, (float(spot[0]), float(spot[1])) if len(spot) else None))
    return made


def _projected(
    bodies: Sequence[Body], view: View, behind: float | None, clear: Iterable[str]
) -> tuple[tuple[Flat, Flat, Floats], ...]:
    """Return what is seen and what is hidden of each body, and a spot of it, (2,), or (0,) for none."""
    edges, owner, rims = [np.zeros((0, 2, 3))], [np.zeros(0, dtype=np.int64)], [np.zeros(0, dtype=bool)]
    for number, body in enumerate(bodies):
        found, rim = _edges(body, view)
        edges.append(view.flat(found).reshape(-1, 2, 3))
        owner.append(np.full(len(found), number))
        rims.append(rim)
    segments, owners, on_rim = np.concatenate(edges), np.concatenate(owner), np.concatenate(rims)
    if behind is not None:
        segments, kept = _beyond(segments, behind)
        owners, on_rim = owners[kept], on_rim[kept]
    long = np.linalg.norm(segments[:, 1, :2] - segments[:, 0, :2], axis=1) > 1e-6
    segments, owners, on_rim = segments[long], owners[long], on_rim[long]
    own = [_towards(body.solid, view) for body in bodies]
    hiding = [faces for faces, body in zip(own, bodies, strict=True) if body.group not in clear]
    cover = Cover(np.concatenate([np.zeros((0, 3, 3)), *hiding]), behind=behind)
    spots = _spots(own, cover)
    (seen, of_seen), (hidden, of_hidden) = _parted(segments, cover)
    hidden, of_hidden = hidden[on_rim[of_hidden]], of_hidden[on_rim[of_hidden]]
    return tuple(
        (seen[owners[of_seen] == number], hidden[owners[of_hidden] == number], spots[number])
        for number in range(len(bodies))
    )


def _spots(own: Sequence[Floats], cover: Cover) -> list[Floats]:
    """Return of each body the place in the picture, (2,), amid what is seen of it; (0,) for none.

    ``own`` are each body's faces towards the viewer.
    """
    chance = np.random.default_rng(0)
    places, owner = [np.zeros((0, 3))], [np.zeros(0, dtype=np.int64)]
    for number, faces in enumerate(own):
        sides = faces[:, 1:] - faces[:, :1]
        areas = np.abs(sides[:, 0, 0] * sides[:, 1, 1] - sides[:, 0, 1] * sides[:, 1, 0])
        picked = faces[chance.choice(len(faces), SPOTS, p=areas / areas.sum())]
        points = np.einsum("ij,ijk->ik", chance.dirichlet((1.0, 1.0, 1.0), SPOTS), picked)
        if cover.behind is not None:
            points = points[points[:, 2] < cover.behind]
        places.append(points)
        owner.append(np.full(len(points), number))
    points, of = np.concatenate(places), np.concatenate(owner)
    # a short step to the right, a hair before the face it lies on: what hides the step hides the point
    before = points + np.array((0.0, 0.0, BEHIND))
    spans, index = cover.spans(np.stack([before, before + np.array((1e-6, 0.0, 0.0))], axis=1))
    covered = np.zeros(len(points), dtype=bool)
    covered[index[(spans[:, 0] <= 0.5) & (spans[:, 1] >= 0.5)]] = True
    made = []
    for number in range(len(own)):
        mine = of == number
        seen, away = points[mine & ~covered, :2], points[mine & covered, :2]
        if not len(seen):
            made.append(np.zeros(0))
            continue
        # amid: near to others that are seen, far from those that are not
        near = np.linalg.norm(seen - seen.mean(axis=0), axis=1)
        off = np.linalg.norm(seen[:, None] - away[None], axis=2).min(axis=1) if len(away) else 0.0
        made.append(seen[np.argmin(near - off)])
    return made


LINES: Form[tuple[tuple[Flat, Flat, Floats], ...]] = form_of(
    "lines of a view",
    size=lambda found: sum(seen.nbytes + hidden.nbytes + spot.nbytes for seen, hidden, spot in found),
)


def _edges(body: Body, view: View) -> tuple[Floats, NDArray[np.bool_]]:
    """Return a body's edges to draw, (n, 2, 3), in the scene's axes, [m], and which are on its rim."""
    solid = body.solid
    shared = remembered(
        "edges of a solid",
        solid,
        make=lambda: _shared(solid),
        size=lambda found: sum(row.nbytes for row in found),
    )
    pairs, normals = shared
    ahead = normals @ np.array(view.out) / np.linalg.norm(view.out)
    turned = np.einsum("ij,ij->i", normals[pairs[:, 2]], normals[pairs[:, 3]])
    rough = body.group in ROUGH
    crease = turned < math.cos(ROUGH_CREASE if rough else CREASE)
    outline = (ahead[pairs[:, 2]] > 1e-9) != (ahead[pairs[:, 3]] > 1e-9)
    drawn = pairs[crease | outline, :2]
    rim = _on_rim(body.solid, view, drawn)
    kept = rim | crease[crease | outline] if rough else np.ones(len(drawn), dtype=bool)
    return np.asarray(body.solid.vertices[drawn[kept]]), rim[kept]


def _on_rim(solid: Solid, view: View, edges: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Tell which edges lie on the rim of all that is seen of a solid, not on a fold within."""
    import shapely

    from layout3d.solid.boolean import flat_outline

    right, _, out = view.axes
    rings = flat_outline(solid, right=right, out=out)
    middles = view.flat(solid.vertices[edges].mean(axis=1))[:, :2]
    # each ring as its own segments: the nearest of many short ones is found at once
    parts = [np.stack([ring, np.roll(ring, -1, axis=0)], axis=1) for ring in rings if len(ring) > 2]
    tree = shapely.STRtree(shapely.linestrings(np.concatenate(parts)))
    found = tree.query(shapely.points(middles), predicate="dwithin", distance=2e-6)[0]
    on = np.zeros(len(edges), dtype=bool)
    on[found] = True
    return on


def _shared(solid: Solid) -> tuple[NDArray[np.int64], Floats]:
    """Return edges with both their faces, (n, 4): vertices and faces; and the faces' normals, (m, 3)."""
    faces = solid.faces.astype(np.int64)
    corners = solid.vertices[faces]
    normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    length = np.linalg.norm(normals, axis=1, keepdims=True)
    normals = normals / np.where(length > 0, length, 1.0)
    ends = np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]])
    face = np.tile(np.arange(len(faces)), 3)
    low, high = ends.min(axis=1), ends.max(axis=1)
    order = np.lexsort((face, high, low))
    low, high, face = low[order], high[order], face[order]
    same = (low[:-1] == low[1:]) & (high[:-1] == high[1:])
    first = np.flatnonzero(same)
    # an edge that four faces share is rare, and gives three pairs: at worst a line more
    return np.column_stack([low[first], high[first], face[first], face[first + 1]]), normals


def _towards(solid: Solid, view: View) -> Floats:
    """Return the faces that look to the viewer, (n, 3, 3) in the picture, anticlockwise."""
    points = view.flat(solid.vertices)[solid.faces]
    a, b, c = points[:, 0, :2], points[:, 1, :2], points[:, 2, :2]
    doubled = (b[:, 0] - a[:, 0]) * (c[:, 1] - a[:, 1]) - (b[:, 1] - a[:, 1]) * (c[:, 0] - a[:, 0])
    return np.asarray(points[doubled > 2 * THIN])


def _beyond(segments: Floats, behind: float) -> tuple[Floats, NDArray[np.int64]]:
    """Return what of segments lies behind a plane, and which ones they are."""
    ahead = segments[:, :, 2] - behind
    kept = np.flatnonzero((ahead < 0.0).any(axis=1))
    left, ahead = segments[kept].copy(), ahead[kept]
    for end in (0, 1):
        over = ahead[:, end] > 0.0
        share = (ahead[over, end] / (ahead[over, end] - ahead[over, 1 - end]))[:, None]
        left[over, end] += (left[over, 1 - end] - left[over, end]) * share
    return left, kept


def _parted(
    segments: Floats, cover: Cover
) -> tuple[tuple[Flat, NDArray[np.int64]], tuple[Flat, NDArray[np.int64]]]:
    """Part segments into what is seen and what faces hide, each with the segment that it is of."""
    hidden, index = _joined(*cover.spans(segments))
    seen, seen_index = _gaps(hidden, index, len(segments))
    return (_points(segments, seen, seen_index), seen_index), (_points(segments, hidden, index), index)


def _joined(spans: Floats, owner: NDArray[np.int64]) -> tuple[Floats, NDArray[np.int64]]:
    """Join spans of each segment that meet; sorted by segment and place."""
    if not len(spans):
        return spans, owner
    order = np.lexsort((spans[:, 0], owner))
    owner = owner[order]
    keyed = spans[order] + 2.0 * owner[:, None]  # each segment's spans by themselves, in one row
    reach = np.maximum.accumulate(keyed[:, 1])
    first = np.concatenate([[True], keyed[1:, 0] > reach[:-1] + 1e-7])
    begin = np.flatnonzero(first)
    ends = reach[np.concatenate([begin[1:] - 1, [len(reach) - 1]])]
    joined = np.column_stack([keyed[begin, 0], ends]) - 2.0 * owner[begin, None]
    return np.clip(joined, 0.0, 1.0), owner[begin]


def _gaps(spans: Floats, owner: NDArray[np.int64], count: int) -> tuple[Floats, NDArray[np.int64]]:
    """Return what the spans leave of each of ``count`` segments."""
    every = np.arange(count)
    begin = np.concatenate([np.zeros(count), spans[:, 1]])
    end = np.concatenate([spans[:, 0], np.ones(count)])
    owner_begin, owner_end = np.concatenate([every, owner]), np.concatenate([owner, every])
    begin = begin[np.lexsort((begin, owner_begin))]
    order = np.lexsort((end, owner_end))
    gaps, index = np.column_stack([begin, end[order]]), owner_end[order]
    wide = gaps[:, 1] - gaps[:, 0] > 1e-9
    return gaps[wide], index[wide]


def _points(segments: Floats, spans: Floats, index: NDArray[np.int64]) -> Flat:
    """Return the ends of spans of segments, (n, 2, 2), in the picture."""
    start, way = segments[index, 0, :2], segments[index, 1, :2] - segments[index, 0, :2]
    return np.stack([start + spans[:, [0]] * way, start + spans[:, [1]] * way], axis=1)
