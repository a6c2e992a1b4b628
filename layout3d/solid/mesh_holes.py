"""Edges of a mesh, and the closing of its holes by triangles between the vertices of a rim."""

from __future__ import annotations

from dataclasses import dataclass

import manifold3d
import numpy as np
from numpy.typing import NDArray

from layout3d.errors import MeshRefused
from layout3d.solid.outline import loop_area
from layout3d.solid.shape import Points

__all__ = ["Hole", "Indices", "edges", "forward", "hole_patches", "open_edges"]

Indices = NDArray[np.int64]

PLANAR = 0.2  # a hole's rim may stray from a plane by this part of its own width, [-]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Hole:
    """A hole, or the ring between rims in one plane, with the triangles that close it, ``patch`` (k, 3).

    ``longest`` counts the edges of its longest rim; ``stray`` is how far its rims leave a plane, as a part of
    the hole's width.
    """

    longest: int
    stray: float
    patch: Indices


def hole_patches(vertices: Points, faces: Indices) -> list[Hole]:
    """Close every hole.

    Parameters
    ----------
    vertices : (n, 3) float
    faces : (m, 3) int, neighbours turned alike

    Returns
    -------
    The holes, each with the triangles that close it.

    Raises
    ------
    MeshRefused : a rim is not nearly flat, crosses itself, or does not close.
    """
    # along the rim of a hole the closing faces run against the faces that are there
    rims = _loops(open_edges(faces)[:, ::-1])
    return [_patch(vertices, group) for group in _grouped(vertices, rims)]


def edges(faces: Indices) -> tuple[Indices, int]:
    """Return the edges of a mesh, numbered.

    Returns
    -------
    The number of the edge of each face, (3 m,): all first edges, then all second, then all third; and how
    many edges there are.
    """
    begin, end = faces.T.ravel(), np.roll(faces, -1, axis=1).T.ravel()
    span = int(faces.max()) + 1
    _, edge = np.unique(np.minimum(begin, end) * span + np.maximum(begin, end), return_inverse=True)
    numbers: Indices = edge.ravel().astype(np.int64)
    return numbers, int(numbers.max()) + 1


def forward(faces: Indices) -> NDArray[np.bool_]:
    """Tell which of a face's edges run from the lower to the higher vertex, (3 m,), in the order of edges."""
    rising: NDArray[np.bool_] = (faces < np.roll(faces, -1, axis=1)).T.ravel()
    return rising


def open_edges(faces: Indices) -> Indices:
    """Return the edges with a face on one side only, in the direction of that face, (k, 2)."""
    if not len(faces):
        return np.zeros((0, 2), dtype=np.int64)
    edge, count = edges(faces)
    lone = np.bincount(edge, minlength=count)[edge] == 1
    ends = np.column_stack([faces.T.ravel(), np.roll(faces, -1, axis=1).T.ravel()])
    open_ones: Indices = ends[lone].astype(np.int64)
    return open_ones


def _loops(directed: Indices) -> list[Indices]:
    """Chain directed edges into closed loops that pass each vertex once."""
    onward: dict[int, list[int]] = {}
    for begin, end in directed.tolist():
        onward.setdefault(begin, []).append(end)
    loops: list[Indices] = []
    while onward:
        start = next(iter(onward))
        trail, place = [start], {start: 0}
        while trail:
            here = trail[-1]
            ends = onward.get(here)
            if not ends:
                raise MeshRefused("the rim of a hole does not close on itself")
            following = ends.pop()
            if not ends:
                del onward[here]
            if following in place:  # a loop is complete; what led up to it goes on
                begin = place[following]
                loops.append(np.array(trail[begin:], dtype=np.int64))
                for vertex in trail[begin + 1 :]:
                    del place[vertex]
                del trail[begin + 1 :]
                if begin == 0 and following not in onward:
                    break
            else:
                place[following] = len(trail)
                trail.append(following)
    return loops


def _plane(points: Points) -> tuple[Points, Points, Points]:
    """Area vector of a loop (as long as the area), its middle, and axes in its plane as rows (2, 3)."""
    middle = points.mean(axis=0)
    local = points - middle
    area = np.cross(local, np.roll(local, -1, axis=0)).sum(axis=0) / 2.0
    length = float(np.linalg.norm(area))
    if length == 0.0:
        return area, middle, np.zeros((2, 3))
    up = area / length
    right = np.cross(np.eye(3)[int(np.argmin(np.abs(up)))], up)
    right /= np.linalg.norm(right)
    return area, middle, np.stack([right, np.cross(up, right)])


def _grouped(vertices: Points, rims: list[Indices]) -> list[list[Indices]]:
    """Put a rim that lies inside another in its plane and faces the other way with that one: a ring."""
    if not rims:
        return []
    planes = [_plane(vertices[rim]) for rim in rims]
    areas, middles = np.array([plane[0] for plane in planes]), np.array([plane[1] for plane in planes])
    sizes = np.linalg.norm(areas, axis=1)
    reach = np.array([float(np.linalg.norm(np.ptp(vertices[rim], axis=0))) for rim in rims])
    may_hold = np.zeros(len(rims), dtype=np.bool_)
    groups: dict[int, list[Indices]] = {}
    for i in np.argsort(-sizes, kind="stable").tolist():
        home = i
        around = np.flatnonzero(may_hold)
        away = middles[i] - middles[around]
        around = around[
            (areas[around] @ areas[i] <= -0.98 * sizes[around] * sizes[i])
            & (np.abs((away * areas[around]).sum(axis=1)) <= PLANAR * np.sqrt(sizes[i]) * sizes[around])
            & (np.linalg.norm(away, axis=1) <= reach[around])
        ]
        for j in around.tolist():
            _, centre, axes = planes[j]
            outline = (vertices[rims[j]] - centre) @ axes.T
            if _in_outline((vertices[rims[i]] - centre) @ axes.T, outline):
                home = j
        groups.setdefault(home, []).append(rims[i])
        may_hold[i] = home == i and sizes[i] > 0.0 and len(rims[i]) > 3
    return list(groups.values())


def _in_outline(points: Points, outline: Points) -> bool:
    """Tell whether all points lie inside an outline, by its crossings with a line along y."""
    a, b = outline, np.roll(outline, -1, axis=0)
    x, y = points[:, :1], points[:, 1:]
    crosses = (a[:, 0] <= x) != (b[:, 0] <= x)
    with np.errstate(divide="ignore", invalid="ignore"):
        height = a[:, 1] + (b[:, 1] - a[:, 1]) * (x - a[:, 0]) / (b[:, 0] - a[:, 0])
    return bool(((crosses & (height > y)).sum(axis=1) % 2 == 1).all())


def _patch(vertices: Points, group: list[Indices]) -> Hole:
    """Close one hole, or the ring between rims in one plane."""
    rim = group[0]
    if len(group) == 1 and len(rim) == 3:
        return Hole(longest=3, stray=0.0, patch=rim[None, :])
    area, middle, axes = _plane(vertices[rim])
    around = np.concatenate(group)
    local = vertices[around] - middle
    size = float(np.linalg.norm(area))
    width = float(np.linalg.norm(np.ptp(vertices[rim], axis=0)))
    stray = float(np.abs(local @ area).max()) / size / width if size > 0.0 else 1.0
    if len(rim) > 4 and stray > PLANAR:
        raise MeshRefused(
            f"a hole of {len(rim):,} edges is not flat enough to close: "
            f"its rim strays {100 * stray:.0f} % of its width from a plane",
            expected=f"at most {100 * PLANAR:.0f} %",
            remedy="close the scan by hand, or let its convex hull be used",
        )
    flat = local @ axes.T
    loops = np.split(flat, np.cumsum([len(loop) for loop in group])[:-1])
    expected = sum(loop_area(loop) for loop in loops)
    section = manifold3d.CrossSection(
        [np.ascontiguousarray(loop) for loop in loops], manifold3d.FillRule.EvenOdd
    )
    if len(rim) > 4 and abs(section.area() - expected) > 0.01 * abs(expected) + 1e-300:
        raise MeshRefused(
            f"the rim of a hole of {len(rim):,} edges crosses itself",
            remedy="close the scan by hand, or let its convex hull be used",
        )
    triangles = np.asarray(
        manifold3d.triangulate([np.ascontiguousarray(loop) for loop in loops]), dtype=np.int64
    )
    return Hole(longest=max(map(len, group)), stray=stray, patch=around[triangles])
