"""Light from some ways on surfaces past all that throws shadow, kept so that what moves costs little.

What throws shadow is thrown as points onto one grid for each way, and a point of a surface is lit from there
unless something lies in front of it: much cheaper than rays.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

from layout3d.draw.pieces import of_late, of_the_same
from layout3d.wanted import go_on

__all__ = ["Floats", "Light", "Mesh", "Surface", "along", "areas", "light_from", "surface_points", "thinned"]

Floats = NDArray[np.float32]
Surface: TypeAlias = tuple[Floats, Floats]  # points and normals, (n, 3) each
Mesh: TypeAlias = tuple[Floats, NDArray[np.int32]]  # vertices (n, 3) and faces (m, 3)
Light: TypeAlias = Callable[[Floats, Floats, Floats], Floats]
"""Of points and normals (3, n), and how unblocked these are (n,): the light on them, (n,)."""

MOST_POINTS = 900_000
CHUNK = 16_384  # points: what is made of each stays in the processor's cache
TOGETHER = 100_000  # points times ways that are thrown at once
LIFT = 1.2  # cells, from a surface to where its light is looked for
PARTS = 2**20  # of a light of 1


def surface_points(vertices: Floats, faces: NDArray[np.int32], spacing: float) -> Floats:
    """Spread points over a surface, about one for each ``spacing`` squared, the same each time.

    Parameters
    ----------
    vertices : (n, 3) float, [m];  faces : (m, 3) int
    spacing : [m], above 0

    Returns
    -------
    (k, 3) float, [m]; k is 0 where there are no faces.
    """
    if not len(faces):
        return np.zeros((0, 3), dtype=np.float32)
    a, b, c = (vertices[faces[:, i]] for i in range(3))
    total = np.cumsum(areas(a, b, c))
    count = int(min(max(total[-1] / spacing**2, 1.0), MOST_POINTS))
    at = (np.arange(count) + 0.5) * (total[-1] / count)
    face = np.minimum(np.searchsorted(total, at), len(faces) - 1)
    u, v = (share[:, None] for share in _spread(count))
    points = a[face] + u * (b[face] - a[face]) + v * (c[face] - a[face])
    return np.asarray(points, dtype=np.float32)


def areas(a: NDArray[Any], b: NDArray[Any], c: NDArray[Any]) -> NDArray[np.float64]:
    """Return the areas of triangles with corners at rows of these, (m, 3) [m]: (m,), [m²]."""
    one, other = (b - a).T, (c - a).T
    # column by column: several times as quick as the library's own product of rows of three
    across = (one[i - 2] * other[i - 1] - one[i - 1] * other[i - 2] for i in range(3))
    return np.asarray(np.sqrt(sum(side * side for side in across)).astype(np.float64) / 2.0)


def _spread(count: int) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return how far along its first and its second side each point lies in a triangle, (``count``,).

    The plane's low-discrepancy sequence of the plastic number: no clumps, no random draw.
    """
    k = np.arange(count)
    u, v = (0.5 + k * step for step in (0.7548776662466927, 0.5698402909980532))
    u -= np.floor(u)
    v -= np.floor(v)
    fold = u + v > 1.0
    return np.where(fold, 1.0 - u, u), np.where(fold, 1.0 - v, v)


def thinned(points: Floats, cell: float) -> Floats:
    """Keep one point of each little cube of side ``cell`` that has any, (k, 3)."""
    if not len(points):
        return points
    low = points.min(axis=0)
    cubes = ((points - low) / np.float32(cell)).astype(np.int64)
    span = cubes.max(axis=0) + 1
    # cube and number of each point in one figure, so that one quick sort finds the first point of each cube
    order = ((cubes[:, 0] * span[1] + cubes[:, 1]) * span[2] + cubes[:, 2]) * len(points)
    order += np.arange(len(points))
    order.sort()
    cube, number = np.divmod(order, len(points))
    first = number[np.flatnonzero(np.diff(cube, prepend=-1))]
    return np.asarray(points[np.sort(first)], dtype=np.float32)


def spread_over(vertices: Floats, faces: NDArray[np.int32], cell: float) -> Floats:
    """Return points over a surface, close enough to throw shadow on a grid of ``cell``."""
    return thinned(surface_points(vertices, faces, 0.7 * cell), 0.6 * cell)


def light_from(
    ways: list[tuple[Floats, Light]],
    surfaces: Sequence[Surface],
    throwers: Sequence[Mesh],
    cell: float,
    what: str,
    whose: str | None,
) -> list[Floats]:
    """Return the light from some ways on surfaces, added up, (n,) each; the very same as long as it is."""

    def make() -> _Lights:
        return _Lights([_Way(towards, light, np.float32(cell)) for towards, light in ways])

    seen = make() if whose is None else of_late(what, whose, cell, make=make)
    return [
        of_the_same("light", (own,), make=partial(np.divide, own, PARTS, dtype=np.float32))
        for own in seen.light_on(surfaces, throwers)
    ]


@dataclass(frozen=True, slots=True, eq=False)
class _Patch:
    """What lies nearest to the sky in cells (w, t), from cell ``u``, ``v`` on: minus infinity for nothing."""

    u: int
    v: int
    nearest: Floats

    @property
    def frame(self) -> tuple[int, int, int, int]:
        """Return its first cell, and the one behind its last."""
        wide, tall = self.nearest.shape
        return self.u, self.v, self.u + wide, self.v + tall

    def within(self, u: int, v: int, u_end: int, v_end: int) -> Floats:
        """Return what there is in some cells of it."""
        return self.nearest[u - self.u : u_end - self.u, v - self.v : v_end - self.v]

    def widened(self, u: int, v: int, u_end: int, v_end: int) -> _Patch:
        """Return the same over these cells too, in an array of its own."""
        first, end = (min(u, self.u), min(v, self.v)), (max(u_end, self.frame[2]), max(v_end, self.frame[3]))
        found = _Patch(*first, np.full(np.subtract(end, first), -np.inf, dtype=np.float32))
        found.within(*self.frame)[...] = self.nearest
        return found


NOTHING = _Patch(0, 0, np.full((1, 1), -np.inf, dtype=np.float32))


@dataclass(slots=True, eq=False)
class _Lit:
    """A surface as it was given, ``raised`` off itself, its normals, (3, n), and the light on it, (n,).

    ``low`` and ``high`` are the corners of its box; ``new`` tells that its light is no other's.
    """

    given: Surface
    raised: Floats
    facing: Floats
    low: Floats
    high: Floats
    light: NDArray[np.int32]
    new: bool

    def add(self, some: Any, parts: NDArray[np.int32]) -> None:
        """Add to the light on some points."""
        if not parts.any():
            return
        if not self.new:
            self.light, self.new = self.light.copy(), True
        self.light[some] += parts


class _Lights:
    """The light from some ways on surfaces past what throws shadow, and what it was the last time.

    One thing that moves changes few cells of each way's grid: of all else only what is seen through these is
    looked at again. Light is counted in whole parts, so that what changes is taken out to the last of them.
    """

    def __init__(self, ways: list[_Way]) -> None:
        self.ways = ways
        self.thrown: dict[tuple[int, int], tuple[Mesh, list[_Patch], NDArray[np.intp]]] = {}
        self.lit: dict[tuple[int, int], _Lit] = {}
        self.nearest = [NOTHING] * len(ways)

    def light_on(self, surfaces: Sequence[Surface], throwers: Sequence[Mesh]) -> list[NDArray[np.int32]]:
        thrown, lit, new = {}, {}, []
        for mesh in throwers:
            if len(mesh[1]):
                key = id(mesh[0]), id(mesh[1])  # what is held here keeps its address
                thrown[key] = self.thrown.get(key) or (mesh, *self._patches(mesh))
        for given in surfaces:
            key = id(given[0]), id(given[1])
            if key in self.lit:
                lit[key] = replace(self.lit[key], new=False)
            elif key not in lit and len(given[0]):
                lit[key] = _raised(given, self.ways[0].cell)
                new.append(lit[key])
        known = [one for key, one in lit.items() if key in self.lit]
        boxes = np.array([(one.low, one.high) for one in known]).reshape(-1, 2, 3)
        frames = np.array([each[2] for each in thrown.values()]).reshape(-1, len(self.ways), 4)
        other = thrown.keys() ^ self.thrown.keys()
        changed = np.array([(self.thrown if key in self.thrown else thrown)[key][2] for key in other])
        every, nearest = [each[1] for each in thrown.values()], []
        for number, (way, before) in enumerate(zip(self.ways, self.nearest, strict=True)):
            go_on()
            now = before
            if len(changed):
                own = changed[:, number]
                cells = (*own[:, :2].min(axis=0).tolist(), *own[:, 2:].max(axis=0).tolist())
                near = np.flatnonzero(_meet(frames[:, number], cells))
                now = _renewed(before, cells, [every[each][number] for each in near])
                if known:
                    was = before if before.frame == now.frame else before.widened(*now.frame)
                    way.change(known, boxes, was, now, cells)
            if new:
                way.shine(new, now)
            nearest.append(now)
        self.thrown, self.lit, self.nearest = thrown, lit, nearest
        nothing = np.zeros(0, dtype=np.int32)
        return [lit[key].light if (key := (id(a), id(b))) in lit else nothing for a, b in surfaces]

    def _patches(self, mesh: Mesh) -> tuple[list[_Patch], NDArray[np.intp]]:
        """Return what a mesh throws shadow by, way by way, and the frames of that."""
        cell = float(self.ways[0].cell)

        def make() -> tuple[list[_Patch], NDArray[np.intp]]:
            rows = np.ascontiguousarray(spread_over(*mesh, cell).T)
            together = max(1, TOGETHER // max(rows.shape[1], 1))
            some = (self.ways[at : at + together] for at in range(0, len(self.ways), together))
            patches = [patch for ways in some for patch in _thrown(ways, rows)]
            return patches, np.array([each.frame for each in patches])

        # another's light from these ways may be stopped by the same
        ways = tuple(tuple(way.towards.tolist()) for way in self.ways)
        return of_the_same("thrown", mesh, cell, ways, make=make)


def _raised(given: Surface, cell: np.float32) -> _Lit:
    points, normals = given
    # a cell and a bit off the surface, so that it does not shade itself
    raised = points + normals * np.float32(LIFT * cell)
    rows, facing = (np.ascontiguousarray(each.T, dtype=np.float32) for each in (raised, normals))
    ends = rows.min(axis=1), rows.max(axis=1)
    return _Lit(given, rows, facing, *ends, np.zeros(len(points), dtype=np.int32), new=True)


def _thrown(ways: list[_Way], rows: Floats) -> list[_Patch]:
    """Return what of points (3, k) lies nearest to the sky in each cell, for some ways at once."""
    go_on()

    def along_each(which: str) -> Floats:
        return along(np.stack([getattr(way, which) for way in ways]).T[:, :, None], rows)

    u, v = (np.floor(along_each(which) / ways[0].cell).astype(np.int32) for which in ("right", "over"))
    first = np.stack([u.min(axis=1), v.min(axis=1)])
    wide, tall = np.stack([u.max(axis=1), v.max(axis=1)]) - first + 1
    ends = np.cumsum(wide.astype(np.intp) * tall)
    # by what numpy counts with: others take it several times as long
    place = (ends - wide.astype(np.intp) * tall)[:, None] + (u - first[0][:, None]) * tall[:, None]
    place += v - first[1][:, None]
    nearest = np.full(int(ends[-1]), -np.inf, dtype=np.float32)
    np.maximum.at(nearest, place.ravel(), along_each("towards").ravel())
    grids = zip(np.split(nearest, ends[:-1]), tall.tolist(), first.T.tolist(), strict=True)
    return [_Patch(u0, v0, grid.reshape(-1, high)) for grid, high, (u0, v0) in grids]


def _renewed(before: _Patch, cells: tuple[int, int, int, int], patches: list[_Patch]) -> _Patch:
    """Return what lies nearest where in these cells there are these patches, and a rim where nothing lies."""
    u, v, u_end, v_end = cells
    now = before.widened(u - 1, v - 1, u_end + 1, v_end + 1)
    now.within(*cells)[...] = -np.inf
    for each in patches:
        both = *np.maximum(each.frame[:2], cells[:2]), *np.minimum(each.frame[2:], cells[2:])
        place = now.within(*both)
        np.maximum(place, each.within(*both), out=place)
    return now


def _meet(frames: NDArray[np.intp], cells: tuple[int, int, int, int]) -> NDArray[np.bool_]:
    """Tell which frames (n, 4) have any of some cells."""
    u, v, u_end, v_end = cells
    return np.asarray(
        (frames[:, 0] < u_end) & (frames[:, 1] < v_end) & (frames[:, 2] > u) & (frames[:, 3] > v)
    )


class _Way:
    """A direction ``towards`` which light comes from, and a grid of cells square to it, counted from 0, 0."""

    def __init__(self, towards: Floats, light: Light, cell: np.float32) -> None:
        helper = np.eye(3, dtype=np.float32)[int(np.argmin(np.abs(towards)))]
        right = np.cross(helper, towards)
        self.right = (right / np.linalg.norm(right)).astype(np.float32)
        self.over = np.cross(towards, self.right).astype(np.float32)
        self.towards, self.cell, self.light = towards, cell, light

    def shine(self, lit: Sequence[_Lit], now: _Patch) -> None:
        """Give surfaces their light from here."""
        # together, for many are small
        raised, facing = (
            np.concatenate(rows, axis=1) for rows in zip(*((o.raised, o.facing) for o in lit), strict=True)
        )
        starts = range(0, raised.shape[1], CHUNK)
        chunks = (slice(start, start + CHUNK) for start in starts)
        light = np.concatenate([self._parts(raised[:, some], facing[:, some], now) for some in chunks])
        ends = np.cumsum([len(one.light) for one in lit])[:-1]
        for one, own in zip(lit, np.split(light, ends), strict=True):
            one.light += own

    def change(
        self, lit: list[_Lit], boxes: Floats, before: _Patch, now: _Patch, cells: tuple[int, int, int, int]
    ) -> None:
        """Give surfaces what light from here they get now in place of before, where other cells are others.

        ``boxes`` (n, 2, 3) are those of the surfaces.
        """
        old, new = before.within(*cells), now.within(*cells)
        other = old != new
        if not other.any():
            return
        # surfaces of which something may lie behind these cells
        middles, halves = boxes.sum(axis=1) / 2.0, (boxes[:, 1] - boxes[:, 0]) / 2.0
        seen = middles @ self.towards - halves @ np.abs(self.towards) <= np.maximum(old, new)[other].max()
        for way, begin, end in zip((self.right, self.over), cells[:2], cells[2:], strict=True):
            at, reach = middles @ way, halves @ np.abs(way)
            seen &= ((at - reach) / self.cell <= end + 1) & ((at + reach) / self.cell >= begin - 1)
        for one in itertools.compress(lit, seen):
            some = self._behind(one.raised, other, cells)
            if len(some):
                raised, facing = one.raised[:, some], one.facing[:, some]
                one.add(some, self._parts(raised, facing, now) - self._parts(raised, facing, before))

    def _behind(
        self, raised: Floats, other: NDArray[np.bool_], cells: tuple[int, int, int, int]
    ) -> NDArray[np.intp]:
        """Return which points lie in cells that are others than before, of ``cells``."""
        u = self._cells(self.right, raised)
        some = np.flatnonzero((u >= cells[0]) & (u < cells[2]))
        v = self._cells(self.over, raised[:, some])
        within = (v >= cells[1]) & (v < cells[3])
        some, v = some[within], v[within]
        return np.asarray(some[other[u[some] - cells[0], v - cells[1]]])

    def _parts(self, raised: Floats, facing: Floats, patch: _Patch) -> NDArray[np.int32]:
        """Return the light on points, in parts: none behind something, all in the open, some between."""
        u, v = self._cells(self.right, raised), self._cells(self.over, raised)
        wide, tall = patch.nearest.shape
        u -= patch.u
        v -= patch.v
        np.clip(u, 0, wide - 1, out=u)  # outside of all is as on the rim, where nothing lies
        np.clip(v, 0, tall - 1, out=v)
        u *= tall
        u += v
        ahead = patch.nearest.ravel()[u]
        ahead -= along(self.towards, raised)
        ahead /= np.float32(2.0) * self.cell
        np.clip(ahead, 0.0, 1.0, out=ahead)
        np.subtract(np.float32(1.0), ahead, out=ahead)
        points = raised - facing * np.float32(LIFT * self.cell)
        light = self.light(points, facing, ahead)
        light *= np.float32(PARTS)
        return np.rint(light).astype(np.int32)

    def _cells(self, way: Floats, rows: Floats) -> NDArray[np.int32]:
        found = along(way, rows)
        found /= self.cell
        return np.floor(found, out=found).astype(np.int32)


def along(way: Floats, rows: Floats) -> Floats:
    """Return how far points lie along a way, (n,); ``rows`` (3, n).

    Not by the matrix product: on three rows its threads wait for each other longer than they work.
    """
    found = way[0] * rows[0]
    found += way[1] * rows[1]
    found += way[2] * rows[2]
    return np.asarray(found)
