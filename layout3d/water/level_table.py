"""Volume by level as a table that can be read both ways; straight between its points, never beyond them."""

from __future__ import annotations

import functools
from bisect import bisect_left
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from layout3d.errors import OutOfRange
from layout3d.keep import remembered
from layout3d.solid.shape import Points, Solid
from layout3d.units import show

__all__ = ["LevelTable", "flat_levels", "level_table", "together"]

CLOSE = 1e-4  # how far the table may be from the true volume, as a share of it, [-]
LEAST_SHARE = 1e-3  # below this share of the whole, CLOSE is that of this share of it, [-]
FIRST_STEPS = 512
NARROWEST = 1e-7  # steps of less are not cut any more, [m]
MOST_MARKS = 256
FEW = 8  # points of a run that are looked at one by one, [-]
ROUNDING = 1e-9  # how far past its ends, as a share of its range, a table still gives its end, [-]


@dataclass(frozen=True, slots=True, kw_only=True)
class LevelTable:
    """Volumes of one body of open water below its levels; straight between its points, nothing beyond them.

    ``levels`` z [m] rise; ``volumes`` [m³] are 0 or more and never fall; two or more of each.

    >>> box = LevelTable(levels=(0.0, 0.5), volumes=(0.0, 0.1))
    >>> box.volume(0.25), box.level(0.05)
    (0.05, 0.25)
    """

    levels: tuple[float, ...]
    volumes: tuple[float, ...]
    name: str = "water"

    def __post_init__(self) -> None:
        if len(self.levels) != len(self.volumes) or len(self.levels) < 2:
            raise OutOfRange(
                f"the table of {self.name} has {len(self.levels)} levels and {len(self.volumes)} volumes",
                expected="as many of each, two or more",
            )
        if not np.isfinite((*self.levels, *self.volumes)).all():
            raise OutOfRange(f"levels and volumes of {self.name} must be finite numbers")
        if not (np.diff(self.levels) > 0).all():
            raise OutOfRange(f"the levels of {self.name} must rise from sample to sample")
        if self.volumes[0] < 0.0 or not (np.diff(self.volumes) >= 0).all():
            raise OutOfRange(f"the volumes of {self.name} must be 0 or more and never fall")

    @property
    def bottom(self) -> float:
        """Lowest level of the table, [m]."""
        return self.levels[0]

    @property
    def top(self) -> float:
        """Highest level of the table, [m]."""
        return self.levels[-1]

    def volume(self, level: float) -> float:
        """Return the volume below a level, [m³]; OutOfRange beyond the table."""
        return _read(self.levels, self.volumes, level, f"a level in {self.name}", "length")

    def level(self, volume: float) -> float:
        """Return the lowest level below which there is this volume, [m]; OutOfRange beyond the table."""
        return _read(self.volumes, self.levels, volume, f"a volume in {self.name}", "volume")

    def area(self, level: float) -> float:
        """Return the open water surface at a level, [m²]: the slope of the piece below it."""
        self.volume(level)  # refuses a level beyond the table
        place = min(max(bisect_left(self.levels, level) - 1, 0), len(self.levels) - 2)
        rise = self.levels[place + 1] - self.levels[place]
        return (self.volumes[place + 1] - self.volumes[place]) / rise

    def up_to(self, top: float) -> LevelTable:
        """Return the table as far as ``top``, z [m]."""
        if top >= self.top:
            return self
        count = bisect_left(self.levels, top)
        return LevelTable(
            levels=(*self.levels[:count], top),
            volumes=(*self.volumes[:count], self.volume(top)),
            name=self.name,
        )


def together(tables: Sequence[LevelTable]) -> LevelTable:
    """Return the table of waters that stand at one level."""
    levels = sorted({level for table in tables for level in table.levels})
    volumes = [sum(t.volume(min(max(level, t.bottom), t.top)) for t in tables) for level in levels]
    return LevelTable(levels=tuple(levels), volumes=tuple(volumes), name=tables[-1].name)


def _read(given: tuple[float, ...], wanted: tuple[float, ...], value: float, what: str, kind: str) -> float:
    slack = ROUNDING * (given[-1] - given[0] + abs(given[0]))
    if not given[0] - slack <= value <= given[-1] + slack:
        raise OutOfRange(
            f"{what} of {show(value, kind)} is outside its table",
            expected=f"{show(given[0], kind)} to {show(given[-1], kind)}",
        )
    value = min(max(value, given[0]), given[-1])
    after = bisect_left(given, value)
    if given[after] == value:
        return wanted[after]
    before = after - 1
    share = (value - given[before]) / (given[after] - given[before])
    return wanted[before] * (1.0 - share) + wanted[after] * share


def level_table(
    volume: Callable[[Points], Points],
    low: float,
    high: float,
    *,
    marks: Iterable[float] = (),
) -> LevelTable:
    """Make a table of a volume that rises with the level, within 0.01 % of it.

    Parameters
    ----------
    volume : levels (k,) [m] -> volumes below them (k,) [m³]
    low, high : first and last level, [m]
    marks : levels where the surface's area jumps, if known: ``flat_levels``

    Notes
    -----
    Steps are cut in three until the volume at both inner points is within a quarter of 0.01 % of the straight
    line; below a thousandth of the whole volume the allowance is that of a thousandth.
    """
    inner = [mark for mark in marks if low < mark < high]
    levels = np.unique(np.concatenate([np.linspace(low, high, FIRST_STEPS + 1), inner]))
    unsure = np.ones(len(levels) - 1, dtype=np.bool_)
    volumes = np.zeros(0)
    while unsure.any():
        a, b = levels[:-1][unsure], levels[1:][unsure]
        cuts = np.stack([a + (b - a) / 3.0, a + (b - a) * (2.0 / 3.0)], axis=1)
        if len(volumes):
            found = volume(cuts.ravel()).reshape(-1, 2)
        else:  # all steps are cut once: asked for at one go
            told = volume(np.concatenate([levels, cuts.ravel()]))
            volumes, found = told[: len(levels)], told[len(levels) :].reshape(-1, 2)
            least = LEAST_SHARE * float(volumes[-1])
        start, rise = volumes[:-1][unsure], np.diff(volumes)[unsure]
        line = start[:, None] + rise[:, None] * np.array([1.0, 2.0]) / 3.0
        allowed = 0.25 * CLOSE * np.maximum(start, least)
        bent = (np.abs(found - line) > allowed[:, None]).any(axis=1) & (b - a > NARROWEST)
        new = np.concatenate([levels, cuts[bent].ravel()])
        order = np.argsort(new, kind="stable")
        fresh = np.isin(new[order], cuts[bent])
        starts = np.zeros(len(new), dtype=np.bool_)
        starts[: len(levels) - 1][unsure] = bent
        levels, volumes = new[order], np.concatenate([volumes, found[bent].ravel()])[order]
        unsure = (fresh | starts[order])[:-1]
    levels, volumes = _thinned(levels, np.maximum.accumulate(volumes))
    return LevelTable(levels=tuple(levels.tolist()), volumes=tuple(volumes.tolist()))


def _thinned(levels: Points, volumes: Points) -> tuple[Points, Points]:
    """Drop points on a straight run: a box needs two."""
    scale = 1e-12 * max(float(volumes[-1]), 1e-300)
    heights, rise = levels.tolist(), volumes.tolist()
    kept = [0]
    for index in range(1, len(levels) - 1):
        last = kept[-1]
        slope = (rise[index + 1] - rise[last]) / (heights[index + 1] - heights[last])
        if index - last <= FEW:  # sooner told one by one, and by the same arithmetic
            between = range(last + 1, index + 1)
            bent = any(
                abs(rise[k] - (rise[last] + slope * (heights[k] - heights[last]))) > scale for k in between
            )
        else:
            run = slice(last + 1, index + 1)
            line = volumes[last] + slope * (levels[run] - levels[last])
            bent = bool(np.abs(volumes[run] - line).max() > scale)
        if bent:
            kept.append(index)
    kept.append(len(levels) - 1)
    return levels[kept], volumes[kept]


def flat_levels(solids: Iterable[Solid]) -> list[float]:
    """Return the heights of the level faces of solids, those of the largest first, at most 256."""
    areas: dict[float, float] = {}
    for solid in (each.uncarved for each in solids):  # what is taken out has the faces that it leaves
        for height, area in remembered("level faces", solid, make=functools.partial(_level_faces, solid)):
            areas[height] = areas.get(height, 0.0) + area
    return sorted(areas, key=lambda height: -areas[height])[:MOST_MARKS]


def _level_faces(solid: Solid) -> tuple[tuple[float, float], ...]:
    """Return the heights of level faces, rising, and the area at each."""
    z = np.ascontiguousarray(solid.vertices[:, 2])
    a, b, c = (z[corner] for corner in solid.faces.T)
    flat = solid.vertices[solid.faces[(a == b) & (a == c)]]
    edges = flat[:, 1:, :2] - flat[:, :1, :2]
    area = np.abs(edges[:, 0, 0] * edges[:, 1, 1] - edges[:, 0, 1] * edges[:, 1, 0]) / 2.0
    heights, place = np.unique(flat[:, 0, 2], return_inverse=True)
    sizes = np.bincount(place.ravel(), weights=area, minlength=len(heights))
    return tuple(zip(heights.tolist(), sizes.tolist(), strict=True))
