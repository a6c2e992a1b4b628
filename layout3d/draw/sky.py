"""Light from some ways on surfaces past all that throws shadow, kept so that what moves costs little.

What throws shadow is thrown as points onto one grid for each way, and a point of a surface is lit from there
unless something lies in front of it: much cheaper than rays.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

from layout3d.draw.pieces import of_the_same
from layout3d.keep import remembered
from layout3d.wanted import go_on

__all__ = ["Floats", "Light", "Mesh", "Surface", "along", "areas", "light_from", "surface_points", "thinned"]

Floats = NDArray[np.float32]
Surface: TypeAlias = tuple[Floats, Floats]  # points and normals, (n, 3) each
Mesh: TypeAlias = tuple[Floats, NDArray[np.int32]]  # vertices (n, 3) and faces (m, 3)
Light: TypeAlias = Callable[[Floats, Floats, Floats], Floats]
"""Of points and normals (3, n), and how unblocked these are (n,): the light on them, (n,)."""

MOST_POINTS = 900_000
CHUNK = 16_384  # points: what is made of each stays in the processor's cache
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
    """Return the light from some ways on surfaces, added up, (n,) each."""

    def make() -> _Lights:
        return _Lights([_Way(towards, light, np.float32(cell)) for towards, light in ways])

    held = 60 * sum(len(points) for points, _ in surfaces) + 1_000_000 * len(ways)
    seen = make() if whose is None else remembered(what, whose, cell, make=make, size=lambda _: held)
    return [own.astype(np.float32) / np.float32(PARTS) for own in seen.light_on(surfaces, throwers)]


@dataclass(frozen=True, slots=True, eq=False)
class _Patch:
    """What lies nearest to the sky in cells (w, t), from cell ``u``, ``v`` on: minus infinity for nothing."""

    u: int
    v: int
    nearest: Floats

    def widened(self, u: int, v: int, wide: int, tall: int) -> Floats:
        """Return the same over more cells."""
        if (u, v, wide, tall) == (self.u, self.v, *self.nearest.shape):
            return self.nearest
        found = np.full((wide, tall), -np.inf, dtype=np.float32)
        _inside(found, u, v, self)[...] = self.nearest
        return found


@dataclass(frozen=True, slots=True, eq=False)
class _Lit:
    """A surface as it was given, ``raised`` off itself, its normals, (3, n), and the light on it, (n,)."""

    given: Surface
    raised: Floats
    facing: Floats
    light: NDArray[np.int32]

    @property
    def middle_and_half(self) -> tuple[Floats, Floats]:
        low, high = self.raised.min(axis=1), self.raised.max(axis=1)
        return (low + high) / 2.0, (high - low) / 2.0


class _Lights:
    """The light from some ways on surfaces past what throws shadow, and what it was the last time.

    One thing that moves changes few cells of each way's grid: of all else only what is seen through these is
    looked at again. Light is counted in whole parts, so that what changes is taken out to the last of them.
    """

    def __init__(self, ways: list[_Way]) -> None:
        self.ways = ways
        self.thrown: dict[tuple[int, int], tuple[Mesh, list[_Patch]]] = {}
        self.lit: dict[tuple[int, int], _Lit] = {}
        self.nearest = [_Patch(0, 0, np.full((1, 1), -np.inf, dtype=np.float32))] * len(ways)

    def light_on(self, surfaces: Sequence[Surface], throwers: Sequence[Mesh]) -> list[NDArray[np.int32]]:
        cell = self.ways[0].cell
        thrown = {}
        for mesh in throwers:
            key = id(mesh[0]), id(mesh[1])  # what is held here keeps its address
            thrown[key] = self.thrown.get(key) or (mesh, self._patches(mesh))
        lit, new = {}, {}
        for given in surfaces:
            key = id(given[0]), id(given[1])
            if key in self.lit:
                lit[key] = replace(self.lit[key], light=self.lit[key].light.copy())
            else:
                lit[key] = new[key] = _raised(given, cell)
        known = [one for key, one in lit.items() if key not in new]
        boxes = [np.array(ends) for ends in zip(*(one.middle_and_half for one in known), strict=True)]
        nearest = self.nearest
        if thrown.keys() != self.thrown.keys():
            nearest = [
                _together([patches[number] for _, patches in thrown.values()])
                for number in range(len(self.ways))
            ]
        for way, before, now in zip(self.ways, self.nearest, nearest, strict=True):
            go_on()
            if known and before is not now:
                way.change(known, boxes, before, now)
            if any(len(one.light) for one in new.values()):
                way.shine(list(new.values()), now)
        self.thrown, self.lit, self.nearest = thrown, lit, nearest
        return [lit[id(points), id(normals)].light for points, normals in surfaces]

    def _patches(self, mesh: Mesh) -> list[_Patch]:
        cell = float(self.ways[0].cell)

        def make() -> list[_Patch]:
            rows = np.ascontiguousarray(spread_over(*mesh, cell).T)
            return [way.patch(rows) for way in self.ways]

        # another's light from these ways may be stopped by the same
        ways = tuple(tuple(way.towards.tolist()) for way in self.ways)
        return of_the_same("thrown", mesh, cell, ways, make=make, size=100_000)


def _raised(given: Surface, cell: np.float32) -> _Lit:
    points, normals = given
    # a cell and a bit off the surface, so that it does not shade itself
    raised = points + normals * np.float32(LIFT * cell)
    rows, facing = (np.ascontiguousarray(each.T, dtype=np.float32) for each in (raised, normals))
    return _Lit(given, rows, facing, np.zeros(len(points), dtype=np.int32))


def _together(patches: list[_Patch]) -> _Patch:
    """Return the nearest of all patches, within a rim of empty cells."""
    some = [each for each in patches if each.nearest.size]
    if not some:
        return _Patch(0, 0, np.full((1, 1), -np.inf, dtype=np.float32))
    u, v, wide, tall = _frame(some)
    found = np.full((wide + 2, tall + 2), -np.inf, dtype=np.float32)
    for each in some:
        place = _inside(found, u - 1, v - 1, each)
        np.maximum(place, each.nearest, out=place)
    return _Patch(u - 1, v - 1, found)


def _frame(patches: Sequence[_Patch]) -> tuple[int, int, int, int]:
    """Return the first cell of all patches, and how many they span."""
    rows = np.array([(each.u, each.v, *each.nearest.shape) for each in patches])
    low, high = rows[:, :2].min(axis=0), (rows[:, :2] + rows[:, 2:]).max(axis=0)
    return int(low[0]), int(low[1]), *(high - low).tolist()


def _inside(whole: NDArray[Any], u: int, v: int, patch: _Patch) -> NDArray[Any]:
    """Return the cells of an array that begins at ``u``, ``v`` which a patch covers."""
    wide, tall = patch.nearest.shape
    return whole[patch.u - u : patch.u - u + wide, patch.v - v : patch.v - v + tall]


class _Way:
    """A direction ``towards`` which light comes from, and a grid of cells square to it, counted from 0, 0."""

    def __init__(self, towards: Floats, light: Light, cell: np.float32) -> None:
        helper = np.eye(3, dtype=np.float32)[int(np.argmin(np.abs(towards)))]
        right = np.cross(helper, towards)
        self.right = (right / np.linalg.norm(right)).astype(np.float32)
        self.over = np.cross(towards, self.right).astype(np.float32)
        self.towards, self.cell, self.light = towards, cell, light

    def patch(self, rows: Floats) -> _Patch:
        """Return what of points (3, k) lies nearest to the sky in each cell."""
        if not rows.shape[1]:
            return _Patch(0, 0, np.zeros((0, 0), dtype=np.float32))
        u, v = (self._cells(way, rows) for way in (self.right, self.over))
        u0, v0 = int(u.min()), int(v.min())
        u -= u0
        v -= v0
        tall = int(v.max()) + 1
        u *= tall
        u += v
        nearest = np.full((int(u.max()) // tall + 1) * tall, -np.inf, dtype=np.float32)
        # by what numpy counts with: others take it several times as long
        np.maximum.at(nearest, u.astype(np.intp), along(self.towards, rows))
        return _Patch(u0, v0, nearest.reshape(-1, tall))

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
            one.light[...] += own

    def change(self, lit: Sequence[_Lit], boxes: list[Floats], before: _Patch, now: _Patch) -> None:
        """Give surfaces what light from here they get now in place of before."""
        u, v, wide, tall = _frame((before, now))
        old, new = (each.widened(u, v, wide, tall) for each in (before, now))
        other = old != new
        columns, rows = np.flatnonzero(other.any(axis=1)), np.flatnonzero(other.any(axis=0))
        if not len(columns):
            return
        top = np.maximum(old, new)[other].max()
        first, last = np.array([columns[0] + u, rows[0] + v]), np.array([columns[-1] + u, rows[-1] + v])
        other = other[columns[0] : columns[-1] + 1, rows[0] : rows[-1] + 1]
        # surfaces of which something may lie behind these cells
        middles, halves = boxes
        seen = middles @ self.towards - halves @ np.abs(self.towards) <= top
        for way, begin, end in zip((self.right, self.over), first, last, strict=True):
            at, reach = middles @ way, halves @ np.abs(way)
            seen &= ((at - reach) / self.cell <= end + 2) & ((at + reach) / self.cell >= begin - 1)
        for one in itertools.compress(lit, seen):
            some = self._behind(one.raised, other, first, last)
            if len(some):
                raised, facing = one.raised[:, some], one.facing[:, some]
                one.light[some] += self._parts(raised, facing, now) - self._parts(raised, facing, before)

    def _behind(self, raised: Floats, other: NDArray[np.bool_], first: Any, last: Any) -> NDArray[np.intp]:
        """Return which points lie in cells that are others than before."""
        u = self._cells(self.right, raised)
        some = np.flatnonzero((u >= first[0]) & (u <= last[0]))
        v = self._cells(self.over, raised[:, some])
        within = (v >= first[1]) & (v <= last[1])
        some, v = some[within], v[within]
        return np.asarray(some[other[u[some] - first[0], v - first[1]]])

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
