"""Volume by level as a table, straight between its points."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

import numpy as np

from layout3d.solid.shape import Points, Solid

__all__ = ["LevelTable", "flat_levels", "level_table"]

CLOSE = 1e-4  # how far the table may be from the true volume, as a share of it, [-]
LEAST_SHARE = 1e-3  # below this share of the whole, CLOSE is that of this share of it, [-]
FIRST_STEPS = 512
NARROWEST = 1e-7  # steps of less are not cut any more, [m]
MOST_MARKS = 256


@dataclass(frozen=True, slots=True, kw_only=True)
class LevelTable:
    """Volumes below levels. ``levels`` [m] rise; ``volumes`` [m³] rise or stay.

    Raises
    ------
    ValueError : fewer than two points, unequal lengths, or points that don't rise.
    """

    levels: tuple[float, ...]
    volumes: tuple[float, ...]

    def __post_init__(self) -> None:
        if len(self.levels) < 2 or len(self.levels) != len(self.volumes):
            raise ValueError(
                f"LevelTable takes 2 levels or more and as many volumes, got {len(self.levels)} "
                f"and {len(self.volumes)}"
            )
        if not (np.diff(self.levels) > 0).all() or not (np.diff(self.volumes) >= 0).all():
            raise ValueError("LevelTable: levels must rise and volumes must not fall")


def level_table(
    volume: Callable[[Points], Points], low: float, high: float, *, marks: Iterable[float] = ()
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
    volumes = volume(levels)
    least = LEAST_SHARE * float(volumes[-1])
    unsure = np.ones(len(levels) - 1, dtype=np.bool_)
    while unsure.any():
        a, b = levels[:-1][unsure], levels[1:][unsure]
        cuts = np.stack([a + (b - a) / 3.0, a + (b - a) * (2.0 / 3.0)], axis=1)
        found = volume(cuts.ravel()).reshape(-1, 2)
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
    kept = [0]
    for index in range(1, len(levels) - 1):
        last = kept[-1]
        slope = (volumes[index + 1] - volumes[last]) / (levels[index + 1] - levels[last])
        between = slice(last + 1, index + 1)
        line = volumes[last] + slope * (levels[between] - levels[last])
        if np.abs(volumes[between] - line).max() > scale:
            kept.append(index)
    kept.append(len(levels) - 1)
    return levels[kept], volumes[kept]


def flat_levels(solids: Iterable[Solid]) -> list[float]:
    """Return the heights of the level faces of solids, those of the largest first, at most 256."""
    areas: dict[float, float] = {}
    for solid in solids:
        corners = solid.vertices[solid.faces]
        z = corners[:, :, 2]
        flat = corners[(z[:, 0] == z[:, 1]) & (z[:, 0] == z[:, 2])]
        edges = flat[:, 1:, :2] - flat[:, :1, :2]
        area = np.abs(edges[:, 0, 0] * edges[:, 1, 1] - edges[:, 0, 1] * edges[:, 1, 0]) / 2.0
        heights, place = np.unique(flat[:, 0, 2], return_inverse=True)
        for height, size in zip(heights, np.bincount(place.ravel(), weights=area), strict=True):
            areas[float(height)] = areas.get(float(height), 0.0) + float(size)
    return sorted(areas, key=lambda height: -areas[height])[:MOST_MARKS]
