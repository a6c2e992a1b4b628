"""Whether bodies that touch can stand, and what push they bear: a linear programme over friction cones.

Rigid bodies at rest on contacts that press and rub and never pull. A pile for which forces are found *can*
stand; it does not follow that it will, for rubbing hangs on how it was laid. What is found not to stand,
does not, by these contacts and this friction. No glue, no springs, no shaking.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from layout3d.hold.programme import Basis, cheapest
from layout3d.keep import FIGURES, code_of, kept, key_of
from layout3d.solid.placement import Array
from layout3d.solid.shape import Points

__all__ = ["FIXED", "Contact", "Pile", "tip_angle"]

FIXED = -1
"""Stands for what does not move: glass, bed, what is fixed to them."""
NEAR = 8  # bodies of a pile that give way together as one of them is pushed
EDGES = 16  # of a friction cone, all on it: a push is understated by at most 1 - cos(pi / 16), 1.9 %
WAYS = 8  # directions in which a body is pushed
BEYOND = 50.0  # a push of so many times the weight of all counts as one that nothing tells, [-]
RESTS = 1e-6  # what may be left of forces that balance, as a share of the weight of all, [-]
LIGHT = 1e-3  # of a column that bears nothing, beside those that do, where some are chosen to begin with, [-]
THRIFT = 1e-5  # how little the sum of all presses counts beside what is left over, [-]
BEARS = 0.1  # a contact bears from below where its normal rises by at least this, [-]


@dataclass(frozen=True, slots=True, kw_only=True)
class Contact:
    """Places at which one body touches another: ``normals`` (n, 3) point into ``upper``.

    ``upper`` and ``lower`` count the bodies of the pile; ``lower`` may be FIXED. ``friction`` is the
    coefficient, [-].
    """

    upper: int
    lower: int
    points: Points
    normals: Points
    friction: float


class Pile:
    """Bodies that stand on each other and on what is fixed.

    Parameters
    ----------
    centres : (b, 3), centre of mass of each body, [m]
    contacts : where they touch

    Notes
    -----
    At every point an unknown force within the friction cone, taken as a pyramid of EDGES edges inscribed in
    it; forces and moments about each body's centre balance. Livesley 1978, Int. J. Num. Meth. Eng. 12,
    1853-1871, limit analysis of structures of rigid blocks (from memory). A fixed face so steep that a body
    could be held by being squeezed against it alone (its normal rises by less than the sine of the friction
    angle) bears without friction: rigid bodies can be squeezed as hard as one likes, stones can't.
    """

    def __init__(self, centres: Points, contacts: Sequence[Contact]) -> None:
        self._centres = centres
        self._contacts = contacts
        ends = [end for c in contacts for p in (c.points,) if len(p) for end in (p.min(0), p.max(0))]
        self._length = float(np.ptp(np.array([*centres, *ends]), axis=0).max()) or 1.0

    @cached_property
    def _matrix(self) -> Any:
        """Forces and moments (6 b, EDGES n) of a force of 1 N along each edge of each cone, sparse.

        Moments are over the pile's length, so that they count as forces do.
        """
        from scipy.sparse import csc_array, hstack

        blocks = [csc_array(self._weighted(self._columns(contact))) for contact in self._contacts]
        return hstack(blocks, format="csc") if blocks else csc_array((6 * len(self._centres), 0))

    @cached_property
    def _programme(self) -> tuple[Array, Any]:
        """Costs and columns (6 b, EDGES n + 12 b), sparse: those of forces, and slack either way on each row.

        The sum of what slack there is, is what is left over.
        """
        from scipy.sparse import eye_array, hstack

        rows, count = self._matrix.shape
        whole = hstack([self._matrix, eye_array(rows), -eye_array(rows)], format="csc")
        return np.concatenate([np.full(count, THRIFT), np.ones(2 * rows)]), whole

    def unrest(self, loads: Array) -> tuple[Array, list[Array]]:
        """Return what no contact can balance of each body's load, and how hard each point presses.

        Parameters
        ----------
        loads : (b, 6), force [N] and moment about the body's centre [N·m]

        Returns
        -------
        (b,), as a share of all loads together, [-]: 0.0 where the body stands; and the presses (n,), [N], of
        each contact, those whose sum is least.
        """
        row = kept(self._key("unrest", loads), FIGURES, lambda: self._unrest(loads), worth=0.0)
        ends = len(self._centres) + np.cumsum([0, *(len(contact.points) for contact in self._contacts)])
        left = np.array(row[: len(self._centres)])
        return left, [np.array(row[start:end]) for start, end in pairwise(ends.tolist())]

    def _unrest(self, loads: Array) -> tuple[float, ...]:
        rows, count = self._matrix.shape
        found = self._balance(loads)
        left = (found[count : count + rows] + found[count + rows :]).reshape(-1, 6).sum(axis=1)
        presses = self._scale(loads) * found[:count].reshape(-1, EDGES).sum(axis=1)
        return (*np.where(left > RESTS, left, 0.0).tolist(), *presses.tolist())

    def _balance(self, loads: Array) -> Array:
        """Return the force along each edge of each cone, and what is left over either way of each row.

        As shares of all loads, [-]; those of which the least is left over.
        """

        def solve() -> tuple[float, ...]:
            from scipy.optimize import linprog

            costs, whole = self._programme
            found = linprog(costs, A_eq=whole, b_eq=self._shares(loads))
            if found.status != 0:
                raise RuntimeError(f"fault of the program: {found.message} (Pile.unrest)")
            return tuple(found.x.tolist())

        return np.array(kept(self._key("balance", loads), FIGURES, solve, worth=math.inf))

    def left(self, loads: Array, like: Array) -> Array:
        """Return what no contact can balance of each body's load, as ``unrest`` does.

        Quicker where they differ little from some that ``unrest`` was asked for.
        """
        rows, count = self._matrix.shape
        basis = np.flatnonzero(self._balance(like))
        if len(basis) == rows and len(self._centres) <= NEAR:
            costs, whole = self._programme
            found = cheapest(costs, whole.toarray(), self._shares(loads), basis)
            if found is not None and (found[2][count:] > RESTS).all():  # to leave any over would cost more
                return np.zeros(len(self._centres))
        return self.unrest(loads)[0]

    def pushes(self, body: int, loads: Sequence[Array]) -> list[float]:
        """Return the least sideways push at a body's centre that tips or slides it or what it leans on, [N].

        For each of some loads: 0.0 where the pile does not stand anyhow; infinity where none of BEYOND times
        all loads does it. Of WAYS directions that it is found for, the polygon between them is taken, which
        lies inside the true one. In a pile of more than NEAR bodies, those farther off are taken to press as
        they do unpushed: what is found so does hold, and more may.
        """
        inside = self._near(body)
        rows = (6 * inside[:, None] + np.arange(6)).ravel()
        free = np.flatnonzero(np.repeat(self._between(inside), EDGES))
        push, at = len(free), 6 * int(np.flatnonzero(inside == body)[0])
        matrix = np.zeros((len(rows) + 1, push + 2))
        matrix[:-1, :push] = self._matrix.tocsr()[rows][:, free].toarray()
        matrix[-1, push:] = 1.0  # what the push is short of BEYOND
        costs = np.zeros(push + 2)
        costs[push] = -1.0
        turns = np.arange(WAYS) * 2 * math.pi / WAYS
        ways = np.column_stack([np.cos(turns), np.sin(turns)])
        start: Basis | None = None
        bases: list[Basis | None] = [None] * WAYS  # of the loads before
        least: list[float] = []
        for each in loads:
            right = self._shares(each)
            if start is None or len(inside) < len(self._centres):
                forces = self._balance(each)[free]
                start = np.append(_independent(matrix[:-1, :push], forces), push)
                if len(inside) < len(self._centres):
                    right = matrix[:-1, :push] @ forces  # what they bear of each other as the pile stands
            most = np.zeros(WAYS)
            last: Basis | None = None  # of the direction before
            for way, toward in enumerate(ways):
                matrix[at : at + 2, push] = toward
                bases[way], most[way] = _most(
                    costs, matrix, np.append(right, BEYOND), bases[way], last, start
                )
                last = bases[way]
            ends = most[:, None] * ways
            nearest = min(_from_origin(a, b) for a, b in zip(ends, np.roll(ends, -1, axis=0), strict=True))
            beyond = most.min() > BEYOND * (1.0 - RESTS)
            least.append(math.inf if beyond else float(nearest * self._scale(each)))
        return least

    def _near(self, body: int) -> NDArray[np.intp]:
        """Return a body and those that come next by contacts, NEAR of them at most, in order."""
        found = [body]
        for one in found:  # grows as it is gone through
            for contact in self._contacts:
                ends = {contact.upper, contact.lower} - {FIXED}
                if one in ends:
                    found += sorted(ends.difference(found))
            if len(found) >= NEAR:
                break
        return np.array(sorted(found[:NEAR]), dtype=np.intp)

    def _between(self, inside: NDArray[np.intp]) -> NDArray[np.bool_]:
        """Tell the points of contacts between some bodies, and of them with what is fixed."""
        ours = {FIXED, *inside.tolist()}
        counts = [len(contact.points) for contact in self._contacts]
        return np.repeat([{contact.upper, contact.lower} <= ours for contact in self._contacts], counts)

    def _key(self, what: str, loads: Array) -> bytes:
        return key_of(f"pile's {what}", code_of("hold"), self._centres, tuple(self._contacts), loads)

    def _scale(self, loads: Array) -> float:
        return float(np.abs(loads[:, :3]).sum()) or 1.0

    def _shares(self, loads: Array) -> Array:
        """Return what contacts have to bear, row by row, as shares of all loads, [-]."""
        shares: Array = -self._weighted(loads.reshape(-1, 1))[:, 0] / self._scale(loads)
        return shares

    def _weighted(self, matrix: Array) -> Array:
        """Return rows of forces and moments made alike: moments over the pile's length."""
        weights = np.tile([1.0, 1.0, 1.0, *[1.0 / self._length] * 3], len(self._centres))
        weighed: Array = matrix * weights[:, None]
        return weighed

    def _columns(self, contact: Contact) -> Array:
        """Return forces and moments (6 b, EDGES n) of a force of 1 N along each edge of each cone."""
        friction = np.full(len(contact.points), contact.friction)
        if contact.lower == FIXED:
            steep = np.abs(contact.normals[:, 2]) < math.sin(math.atan(contact.friction))
            friction[steep] = 0.0
        across, other = _tangents(contact.normals)
        turns = np.arange(EDGES) * 2 * math.pi / EDGES
        rubs = across[:, None] * np.cos(turns)[:, None] + other[:, None] * np.sin(turns)[:, None]
        forces = (contact.normals[:, None] + friction[:, None, None] * rubs).reshape(-1, 3)
        points = np.repeat(contact.points, EDGES, axis=0)
        columns = np.zeros((6 * len(self._centres), len(forces)))
        for body, sign in ((contact.upper, 1.0), (contact.lower, -1.0)):
            if body != FIXED:
                moments = np.cross(points - self._centres[body], forces)
                columns[6 * body : 6 * body + 6] = sign * np.concatenate([forces, moments], axis=1).T
        return columns


def tip_angle(points: Points, centre: Points, pull: Points | None = None) -> float:
    """Return the least angle by which a body has to be tipped over an edge of its support to fall, [rad].

    Parameters
    ----------
    points : (n, 3), [m]; the places that bear it
    centre : (3,), [m]; where the weight acts, its centre of mass or, with ``pull``, any point of its line
    pull : (2,) [m]; in plan, where the line of the weight runs; through ``centre`` if not given

    Returns
    -------
    0.0 where it falls as it stands: on a point, on a line, or with its weight beside what bears it.

    Notes
    -----
    The support polygon is the convex outline of the places in plan; over the edge between two of them it
    falls once the centre stands upright over the line through both: arctan(b / h) for a block of width 2b
    whose centre is h high.
    """
    from shapely import MultiPoint

    acts = centre[:2] if pull is None else pull
    hull = MultiPoint(points[:, :2]).convex_hull
    if hull.geom_type != "Polygon":
        return 0.0
    heights = {
        tuple(place): height for place, height in zip(points[:, :2].tolist(), points[:, 2], strict=True)
    }
    corners = np.array([(x, y, heights[x, y]) for x, y in hull.exterior.coords])
    if not hull.exterior.is_ccw:
        corners = corners[::-1]
    edges = np.diff(corners, axis=0)
    edges /= np.linalg.norm(edges, axis=1, keepdims=True)
    inward = np.column_stack([-edges[:, 1], edges[:, 0], np.zeros(len(edges))])
    inward /= np.linalg.norm(inward, axis=1, keepdims=True)
    off = np.array([*acts, centre[2]]) - corners[:-1]
    over = np.einsum("ij,ij->i", off, inward)
    up = np.einsum("ij,ij->i", off, np.cross(edges, inward))
    return max(float(np.arctan2(over, np.maximum(up, 0.0)).min()), 0.0)


def _independent(matrix: Array, weights: Array) -> Basis:
    """Return as many columns as there are rows, independent if it can be, first of those with weights."""
    used = np.flatnonzero(weights)
    if len(used) == len(matrix):
        return used
    from scipy.linalg import qr

    _, order = qr(matrix * np.where(weights > 0.0, 1.0, LIGHT), mode="r", pivoting=True)
    return np.asarray(order[: len(matrix)], dtype=np.intp)


def _most(costs: Array, matrix: Array, right: Array, *bases: Basis | None) -> tuple[Basis | None, float]:
    """Return the greatest push of a programme and its basis, from the first of some to start from."""
    push = matrix.shape[1] - 2
    for start in bases:
        found = cheapest(costs, matrix, right, start) if start is not None else None
        if found is not None:
            return found[0], float(found[1][found[0] == push].sum())
    from scipy.optimize import linprog

    solved = linprog(costs, A_eq=matrix, b_eq=right)
    if solved.status == 2:  # no forces at all
        return None, 0.0
    if solved.status != 0:
        raise RuntimeError(f"fault of the program: {solved.message} (Pile.pushes)")
    return None, float(solved.x[push])


def _tangents(normals: Points) -> tuple[Points, Points]:
    """Return two directions square to each normal and to each other, one of them level."""
    level = np.cross((0.0, 0.0, 1.0), normals)
    size = np.linalg.norm(level, axis=1, keepdims=True)
    level = np.where(size > 1e-9, level / np.maximum(size, 1e-300), (1.0, 0.0, 0.0))
    return level, np.cross(normals, level)


def _from_origin(a: Array, b: Array) -> float:
    """Return the distance of a line through two points of the plane from its origin; nearer end if alike."""
    along: Any = b - a
    size = float(np.hypot(*along))
    if size < 1e-12:
        return float(np.hypot(*a))
    return abs(float(a[0] * along[1] - a[1] * along[0])) / size
