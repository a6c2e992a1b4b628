"""Volume and free surface of a solid below a level, by exact sums over its faces. No sampling."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable

import numpy as np
from numpy.typing import ArrayLike, NDArray

from layout3d.keep import FIGURES, code_of, file_away, key_of, recalled, remembered
from layout3d.solid.shape import Faces, Points, Solid, hung_together

__all__ = ["area_at", "middle_below", "surely_one_below", "volume_below", "volume_under"]

PAST = 1e-9  # of a solid's top: there a level has surely passed it, rounding or not, [m]
PAIRS_AT_ONCE = 2_000_000  # faces times levels held in memory at a time
LARGE = 500  # faces of a solid whose figures are filed
MOST_ROWS = 16  # sets of levels that a solid knows by itself: the same are asked again and again
MOST_TOLD = 4_096  # levels of a solid that are held; past that it begins anew


def volume_below(solid: Solid, levels: ArrayLike) -> Points:
    """Volume of the solid below each level.

    Parameters
    ----------
    solid : the solid, in the scene's axes, z up
    levels : (k,) float, [m], in any order; a single number counts as (1,)

    Returns
    -------
    (k,) float, [m³]; 0 below the solid, its whole volume above it.

    Notes
    -----
    By the divergence theorem with the field (0, 0, z - L) the cut itself adds nothing, so the volume is the
    sum over the faces of the integral of L - z over the part below L, times the face's share of the plan:
    a cubic in L with three pieces for each face.

    >>> from layout3d.solid.primitives import box
    >>> volume_below(box((2.0, 1.0, 1.0)).solid(), [0.0, 0.25, 9.0]).tolist()
    [0.0, 0.5, 2.0]
    """
    return _between(solid, levels, order=1)


def volume_under(solid: Solid, depth: Points) -> float:
    """Volume of a solid under a surface that is no level one.

    Parameters
    ----------
    solid : the solid, in the scene's axes, z up
    depth : how far each of its vertices lies below the surface, (n,), [m]; below 0 for those over it

    Returns
    -------
    [m³]; the surface counts as flat over each face.

    Notes
    -----
    As for :func:`volume_below`: to move all points of a plumb line up or down together leaves volumes alone,
    and makes any surface level.
    """
    if depth.max() <= 0.0:
        return 0.0
    if depth.min() >= 0.0:
        return solid.volume
    faces = solid.faces[(depth > 0.0)[solid.faces].any(axis=1)]
    corners = depth[faces]
    share = corners.sum(axis=1) / 3.0
    cut = corners.min(axis=1) < 0.0
    heights = np.sort(-corners[cut], axis=1)
    share[cut] = _share(heights, np.zeros(len(heights)), 1)
    return -float(_plan_areas(solid.vertices, faces) @ share)


def area_at(solid: Solid, levels: ArrayLike) -> Points:
    """Area of the solid's cut at each level: how fast :func:`volume_below` grows there.

    Where a flat face lies exactly at the level, the area just under it is given.

    Parameters
    ----------
    solid : the solid, in the scene's axes, z up
    levels : (k,) float, [m], in any order; a single number counts as (1,)

    Returns
    -------
    (k,) float, [m²]
    """
    return _between(solid, levels, order=0)


def middle_below(solid: Solid, level: float) -> Points:
    """Return the centre of what lies of a solid below a level, (3,), [m]; its own where nothing does.

    Notes
    -----
    As the centre of a whole solid: tetrahedra from a point to all faces. That point lies in the level, so the
    cut adds none. Of a face that the level cuts one corner lies alone: what lies there is a share of it.
    """
    if solid.bounds[1, 2] <= level:
        return solid.centroid
    origin = np.append(solid.bounds[:, :2].mean(axis=0), level)
    under = (solid.vertices[:, 2] < level)[solid.faces]
    count = under.sum(axis=1)
    cut = (count == 1) | (count == 2)
    alone = (under == (count == 1)[:, None])[cut].argmax(axis=1)
    turned = (alone[:, None] + np.arange(3)) % 3
    tips = solid.vertices[np.take_along_axis(solid.faces[cut], turned, axis=1)] - origin
    sides = tips[:, 1:] - tips[:, :1]
    tips[:, 1:] = tips[:, :1] - sides * (tips[:, :1, 2:] / sides[:, :, 2:])
    told = np.concatenate([solid.vertices[solid.faces[count > 1]] - origin, tips])
    sign = np.concatenate([np.ones(int((count > 1).sum())), np.where(count[cut] == 1, 1.0, -1.0)])
    a, b, c = told.transpose(1, 0, 2)
    sixfold = sign * np.einsum("ij,ij->i", a, np.cross(b, c))
    whole = float(sixfold.sum())
    return origin + sixfold @ (a + b + c) / (4.0 * whole) if whole > 0.0 else solid.centroid


def surely_one_below(solid: Solid, level: float) -> bool:
    """Tell whether what lies of a solid below a level, [m], surely hangs together; False where it may not.

    Notes
    -----
    What hangs together below the level has one outermost patch of the surface, which no other part shares:
    one that the level cuts round an area, or that closes round a volume. Patches that the level cuts the
    other way round (islands), and those inside out (hollows), bound no part by themselves. So where there is
    no more than one of the first sort there is no more than one part.
    """
    z = solid.vertices[:, 2]
    under = (z < level)[solid.faces]
    some = under.any(axis=1)
    faces, under = solid.faces[some], under[some]
    if not len(faces):
        return True
    ends = np.concatenate([faces[:, [k, k - 1]][under[:, k] & under[:, k - 1]] for k in range(3)])
    label = hung_together(len(z), *ends.T)  # the face beside each has the same edge the other way
    patch = label[np.take_along_axis(faces, under.argmax(axis=1)[:, None], axis=1)[:, 0]]
    heights = np.sort(z[faces], axis=1)
    cut = heights[:, 2] > level
    share = np.ones(len(faces))
    share[cut] = _share(heights[cut], np.full(int(cut.sum()), level), 0)
    area = np.bincount(patch, weights=-_plan_areas(solid.vertices, faces) * share, minlength=len(z))
    cut_through = np.bincount(patch, weights=cut, minlength=len(z)) > 0.0
    closed = ~cut_through[patch]
    corners = solid.vertices[faces[closed]] - solid.vertices[patch[closed]][:, None]
    volume = np.bincount(patch[closed], weights=np.linalg.det(corners), minlength=len(z))
    return int((cut_through & (area > 0.0)).sum() + (volume > 0.0).sum()) <= 1


def _plan_areas(vertices: Points, faces: Faces) -> Points:
    """Signed area of each face seen from above, (m,), [m²]; above 0 where it looks up."""
    x, y, _ = np.ascontiguousarray(vertices.T)
    a, b, c = np.ascontiguousarray(faces.T)
    areas: Points = ((x[b] - x[a]) * (y[c] - y[a]) - (y[b] - y[a]) * (x[c] - x[a])) / 2.0
    return areas


def _between(solid: Solid, levels: ArrayLike, *, order: int) -> Points:
    """Return ``_below`` at levels, each of which is told once; those above and below the solid are known.

    What is returned is held, and can't be written to.
    """
    wanted = np.atleast_1d(np.asarray(levels, dtype=np.float64)).ravel()
    own = vars(solid)
    if "_rows" not in own:
        own["_rows"] = remembered("rows by levels", solid, make=dict, size=lambda _: 8 * MOST_TOLD)
    rows: dict[tuple[int, bytes], Points] = own["_rows"]
    asked = (order, wanted.tobytes())
    found = rows.get(asked)
    if found is None:
        found = _found(solid, wanted, order)
        found.flags.writeable = False
        if len(rows) >= MOST_ROWS:
            rows.clear()
        rows[asked] = found
    return found


def _found(solid: Solid, wanted: Points, order: int) -> Points:
    if not len(wanted):
        return np.zeros(0)
    least, most = float(wanted.min()), float(wanted.max())
    if not (math.isfinite(least) and math.isfinite(most)):
        raise ValueError("volume_below: a level is not finite")
    carving = solid.carving
    if carving is not None:

        def left(fresh: Points) -> Points:
            found = _between(carving.base, fresh, order=order).copy()
            for part in carving.taken:
                found -= _between(part, fresh, order=order)
            return np.maximum(found, 0.0)

        return _told(solid, order).at(wanted, left)
    low, high = solid.bounds[:, 2].tolist()
    if most <= low:
        return np.zeros(len(wanted))
    if low < least and most <= high + PAST:
        return _told(solid, order).at(wanted, lambda fresh: _below(solid, fresh, order=order))
    over = wanted > high + PAST
    found = np.where(over, max(solid.volume, 0.0) if order and over.any() else 0.0, 0.0)
    within = (wanted > low) & ~over
    if within.any():
        tell = _told(solid, order)
        found[within] = tell.at(wanted[within], lambda fresh: _below(solid, fresh, order=order))
    return found


def _told(solid: Solid, order: int) -> _Told:
    # asked for a thousand times a change: a solid keeps what it was given before
    own: dict[int, _Told] = vars(solid).setdefault("_told", {})
    if order not in own:

        def make() -> _Told:
            # smaller ones are told sooner than read
            large = solid.carving is None and len(solid.faces) >= LARGE
            return _Told(key_of(f"below, order {order}", code_of("solid"), solid) if large else None)

        own[order] = remembered(f"below, order {order}", solid, make=make, size=lambda _: 16 * MOST_TOLD)
    return own[order]


class _Told:
    """Values of a function of one level: each is told once, whichever others are asked for with it.

    ``key`` is that of the function, under which they are filed; None where they aren't.
    """

    def __init__(self, key: bytes | None) -> None:
        self._key = key
        row = np.array((recalled(key, FIGURES) if key is not None else None) or ())
        self._known = row[: len(row) // 2], row[len(row) // 2 :]

    def at(self, levels: Points, tell: Callable[[Points], Points]) -> Points:
        """Return the values at levels (k,); ``tell`` computes them for rising levels, each by itself."""
        known, values = self._known
        place = np.searchsorted(known, levels)
        new = place == len(known)
        new[~new] = known[place[~new]] != levels[~new]
        if new.any():
            fresh = np.unique(levels[new])
            if len(known) + len(fresh) > MOST_TOLD:
                known, values = np.zeros(0), np.zeros(0)
                fresh = np.unique(levels)
            known, values = np.concatenate([known, fresh]), np.concatenate([values, tell(fresh)])
            order = np.argsort(known)
            known, values = known[order], values[order]
            self._known = known, values
            if self._key is not None:
                file_away(self._key, FIGURES, (*known.tolist(), *values.tolist()))
            place = np.searchsorted(known, levels)
        found: Points = values[place]
        return found


def _below(solid: Solid, levels: Points, *, order: int) -> Points:
    """Integral of (L - z) ** order over the plan of all faces below L, for each of rising levels L (k,).

    What is told of a level hangs on no other: faces are summed in an order of their own.
    """
    height = levels - float(solid.bounds[0, 2])
    looking_up, z, (tops, areas, moments) = solid.plan_and_heights
    plan = -looking_up

    # faces wholly below: running sums by rising top; where order is 0, a flat face counts for levels above it
    top = z[:, 2]
    if order:
        cleared = np.searchsorted(tops, height, side="right")
        total = moments[cleared] - areas[cleared] * height
    else:
        top = np.where(z[:, 0] == top, np.nextafter(top, np.inf), top)
        rank = np.argsort(top, kind="stable")
        sums = np.concatenate([[0.0], np.cumsum(plan[rank])])
        total = sums[np.searchsorted(top[rank], height, side="right")]

    # faces cut by a level: one entry for each pair of face and level
    cut = np.flatnonzero((z[:, 0] < height[-1]) & (top > height[0]))
    lowest, top = z[cut, 0], top[cut]
    begins, clears = np.searchsorted(height, lowest, side="right"), np.searchsorted(height, top, side="left")
    between = clears > begins
    begins, clears, cut = begins[between], clears[between], cut[between]
    plan, z = plan[cut], z[cut]
    counts = np.bincount(begins, minlength=len(height) + 1) - np.bincount(clears, minlength=len(height) + 1)
    for first, past in _portions(np.cumsum(counts)[:-1]):
        start, end = np.clip(begins, first, past), np.clip(clears, first, past)
        spans = end - start
        face = np.repeat(np.arange(len(spans)), spans)
        at = np.arange(len(face)) - np.repeat(np.cumsum(spans) - spans - start, spans)
        share = _share(z, height[at], order, face)
        total += np.bincount(at, weights=plan[face] * share, minlength=len(height))

    # rounding leaves crumbs of either sign outside the solid, where the answer is known
    highest = float(np.ptp(solid.bounds[:, 2]))
    total[height <= 0.0] = 0.0
    total[height >= highest if order else height > highest] = solid.volume if order else 0.0
    result: Points = np.maximum(total, 0.0)
    return result


def _share(z: Points, height: Points, order: int, face: NDArray[np.intp] | None = None) -> Points:
    """Integral of (h - z) ** order below h over a face of unit plan area; corners' heights sorted, (m, 3).

    For each height (p,) and ``face`` (p,); for one each, in order, if not given.
    """
    each = slice(None) if face is None else face
    low, middle, high = (np.ascontiguousarray(column) for column in z.T)
    factor = 3.0 if order else 1.0
    to_middle, to_top = (factor * side * (high - low) for side in (middle - low, high - middle))
    lower = height < middle[each]
    # below the middle corner what lies under the level counts, above it all but what lies over it
    reach = np.where(lower, height - low[each], high[each] - height)
    with np.errstate(divide="ignore", invalid="ignore"):
        part = reach * reach * (reach if order else 1.0) / np.where(lower, to_middle[each], to_top[each])
    whole = height - z.mean(axis=1)[each] if order else 1.0
    share: Points = np.where(lower, part, whole + part if order else whole - part)
    return share


def _portions(counts: NDArray[np.intp]) -> list[tuple[int, int]]:
    """Part levels, cut through so many faces each, into rows of at most PAIRS_AT_ONCE pairs or one level."""
    ends = np.cumsum(counts)
    if not len(ends) or ends[-1] == 0:
        return []
    marks = [0]
    while marks[-1] < len(counts):
        past = np.searchsorted(ends, ends[marks[-1]] - counts[marks[-1]] + PAIRS_AT_ONCE, side="right")
        marks.append(max(int(past), marks[-1] + 1))
    return list(itertools.pairwise(marks))
