"""Which body stands in the way of which, for straight pulls: bodies as maps of heights along each axis.

Seen along an axis each body covers pixels, and over each it reaches from a least to a greatest height. Moved
along the axis it meets another one where that has anything higher than the body's least height, within the
way that it goes. A way is one straight pull, or a short one aside and then one out of the scene.

Maps have a pitch of ``PITCH``. What overlaps a way by less than two pixels, sideways, or by one, along it, is
not seen: parts that touch are thought to be worked past each other by hand. What is hollow (pipes, fittings,
equipment) moves as its convex hull. A way that is found proves that the body passes as far as that; that none
is found proves nothing for a body that may be turned.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np

from layout3d.parts.base import Body
from layout3d.solid.placement import Array

__all__ = ["PITCH", "WORDS", "Pull", "Pulls", "pulls_of"]


PITCH = 0.006  # of the maps, [m]
_HOLLOW = ("plumbing", "equipment", "sump")
"""Groups whose bodies are hollow, or thin-walled."""

ASIDE = (0.03, 0.06, 0.12, 0.2, 0.3, 0.35, 0.4, 0.45, 0.5, 0.6)
"""How far a first pull aside goes, [m]."""

WORDS = {
    (0, 1): "to the right",
    (0, -1): "to the left",
    (1, 1): "to the back",
    (1, -1): "to the front",
    (2, 1): "up",
    (2, -1): "down",
}
"""The six ways, as axis and sign."""


@dataclass(frozen=True, slots=True)
class Pull:
    """How a body comes out: aside first by ``distance`` where ``aside`` is given, then ``out``, [m].

    It goes out to the end, or for ``reach`` where it is to be turned from there on. ``told`` says how it goes
    in where more is known than that.
    """

    out: tuple[int, int]
    aside: tuple[int, int] | None = None
    distance: float = 0.0
    reach: float = np.inf
    told: str = ""

    @property
    def words(self) -> str:
        """Return how the body goes in: the other way round."""
        if self.told:
            return self.told
        if self.reach < np.inf:
            return f"turned in by hand, the last stretch {WORDS[self.out[0], -self.out[1]]}"
        last = WORDS[self.out[0], -self.out[1]]
        return last if self.aside is None else f"{last}, then {WORDS[self.aside[0], -self.aside[1]]}"


@dataclass(slots=True)
class _Map:
    """Heights of a body over the pixels from ``corner`` on: ``low`` inf and ``high`` -inf beside it, [m]."""

    corner: tuple[int, int]
    low: Array
    high: Array
    slim_low: Array = field(init=False)
    slim_high: Array = field(init=False)

    def __post_init__(self) -> None:
        """Blur heights by a pixel towards the inside: over a pixel a steep side has many of them."""
        there = np.isfinite(self.low)
        self.slim_low = np.where(there, _most_around(np.where(there, self.low, -np.inf)), np.inf)
        self.slim_high = np.where(there, -_most_around(np.where(there, -self.high, -np.inf)), -np.inf)


class Pulls:
    """Ways out for the bodies of a scene, worked out as they are asked for."""

    def __init__(self, bodies: Iterable[Body]) -> None:
        self.bodies = {body.name: body for body in bodies}
        self._points: dict[tuple[str, bool], Array] = {}
        self._maps: dict[tuple[str, int, bool], _Map] = {}
        self._met: dict[tuple[str, str, Pull], bool] = {}

    def in_the_way(self, body: str, pull: Pull, others: Iterable[str]) -> list[str]:
        """Return those of the others that a body meets on its way out."""
        return [other for other in others if self._meets(body, other, pull)]

    def free(self, body: str, pull: Pull, others: Iterable[str]) -> bool:
        """Tell whether none of the others is in a body's way."""
        return not any(self._meets(body, other, pull) for other in others)

    def way_out(self, body: str, others: Sequence[str], pulls: Iterable[Pull]) -> Pull | None:
        """Return the first of these ways that nothing is in; None where each is barred."""
        return next((pull for pull in pulls if self.free(body, pull, others)), None)

    def _meets(self, body: str, other: str, pull: Pull) -> bool:
        key = (body, other, pull)
        found = self._met.get(key)
        if found is None:
            found = self._met[key] = self._met_on_the_way(body, other, pull)
        return found

    def _met_on_the_way(self, body: str, other: str, pull: Pull) -> bool:
        if pull.aside is None:
            return self._bars(body, other, pull.out, pull.reach, np.zeros(3))
        moved = np.zeros(3)
        moved[pull.aside[0]] = pull.aside[1] * pull.distance
        return self._bars(body, other, pull.aside, pull.distance, np.zeros(3)) or self._bars(
            body, other, pull.out, pull.reach, moved
        )

    def _bars(self, body: str, other: str, way: tuple[int, int], reach: float, moved: Array) -> bool:
        """Tell whether another body bars one straight pull of a body that has been moved already."""
        axis, sign = way
        mine, theirs = self.bodies[body].solid.bounds + moved, self.bodies[other].solid.bounds
        low, high = mine.copy()
        if sign > 0:
            high[axis] += reach
        else:
            low[axis] -= reach
        if (low >= theirs[1] - PITCH).any() or (high <= theirs[0] + PITCH).any():
            return False
        a, b = self._map(body, axis, moving=True), self._map(other, axis)
        across = [k for k in range(3) if k != axis]
        shift = [round(float(moved[k]) / PITCH) for k in across]
        corner = (a.corner[0] + shift[0], a.corner[1] + shift[1])
        first = [max(corner[k], b.corner[k]) for k in (0, 1)]
        last = [min(corner[k] + a.low.shape[k], b.corner[k] + b.low.shape[k]) for k in (0, 1)]
        if first[0] >= last[0] or first[1] >= last[1]:
            return False
        mine_at = tuple(slice(first[k] - corner[k], last[k] - corner[k]) for k in (0, 1))
        theirs_at = tuple(slice(first[k] - b.corner[k], last[k] - b.corner[k]) for k in (0, 1))
        along = float(moved[axis])
        b_low, b_high = b.low[theirs_at], b.high[theirs_at]
        if sign > 0:
            barred = b_high > a.slim_low[mine_at] + along + PITCH
            far = a.slim_high[mine_at] + along
            barred &= b_low < far + reach if np.isfinite(reach) else np.isfinite(far)
        else:
            barred = b_low < a.slim_high[mine_at] + along - PITCH
            far = a.slim_low[mine_at] + along
            barred &= b_high > far - reach if np.isfinite(reach) else np.isfinite(far)
        return bool((barred[1:, 1:] & barred[:-1, 1:] & barred[1:, :-1] & barred[:-1, :-1]).any())

    def _map(self, body: str, axis: int, *, moving: bool = False) -> _Map:
        filled = moving and self.bodies[body].group in _HOLLOW
        key = (body, axis, filled)
        found = self._maps.get(key)
        if found is None:
            points = self._sampled(body, filled=filled)
            across = [k for k in range(3) if k != axis]
            pixels = np.floor(points[:, across] / PITCH).astype(np.int64)
            corner = pixels.min(axis=0) - 1
            shape = tuple(int(n) for n in pixels.max(axis=0) - corner + 2)
            flat = np.ravel_multi_index(tuple((pixels - corner).T), shape)
            low, high = np.full(shape, np.inf), np.full(shape, -np.inf)
            np.minimum.at(low.reshape(-1), flat, points[:, axis])
            np.maximum.at(high.reshape(-1), flat, points[:, axis])
            found = self._maps[key] = _Map((int(corner[0]), int(corner[1])), low, high)
        return found

    def _sampled(self, body: str, *, filled: bool) -> Array:
        """Return points on a body's skin, or its hull's, so close that no pixel within it is missed."""
        found = self._points.get((body, filled))
        if found is None:
            solid = self.bodies[body].solid
            mesh = solid.shape.manifold.hull() if filled else solid.shape.manifold
            points = np.asarray(mesh.refine_to_length(PITCH).to_mesh64().vert_properties)[:, :3]
            found = self._points[body, filled] = solid.placement.apply(points)
        return found


def _most_around(heights: Array) -> Array:
    """Return the most of each pixel and the eight around it: by numpy, which is loaded anyhow."""
    for axis in (0, 1):
        most, one = heights.copy(), np.moveaxis(heights, axis, 0)
        to = np.moveaxis(most, axis, 0)
        np.maximum(to[1:], one[:-1], out=to[1:])
        np.maximum(to[:-1], one[1:], out=to[:-1])
        heights = most
    return heights


def pulls_of(first: Sequence[tuple[int, int]], out: Sequence[tuple[int, int]]) -> list[Pull]:
    """Return single pulls, then those with one aside before; the shorter ones first."""
    single = [Pull(way) for way in out]
    double = [
        Pull(last, aside, distance)
        for distance, aside, last in itertools.product(ASIDE, first, out)
        if aside[0] != last[0]
    ]
    return single + double
