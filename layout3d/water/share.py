"""Which body takes a place that several bodies share: each place counts once. No water, no levels yet.

Of two bodies that share volume the one with the smaller porosity takes it (a rock in sand), then the
denser one (a pipe in the foam around it), then the one that stands first in the scene. Leaves yield to all.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from layout3d.model.model import Model
from layout3d.parts.base import Body, vector
from layout3d.solid.boolean import RunningUnion, common_part, intersection
from layout3d.solid.distance import meet, near_pairs
from layout3d.solid.level import area_at, volume_below
from layout3d.solid.shape import Points, Solid
from layout3d.water.remembered import kept

__all__ = [
    "GIVES_WAY",
    "TOUCH",
    "Share",
    "box_shares",
    "planes_of",
    "reaches_into",
    "share_out",
    "shares",
    "shares_within",
]

GIVES_WAY = ("foliage",)  # kinds that keep only what no other body takes
FEW = 8  # takers of a leaf, [-]
MUCH_LARGER = 8  # times the faces: such a taker is cut by itself, not joined with others first, [-]
TOUCH = 1e-9  # boxes that overlap by less only touch: a pane and the space beside it, [m]


@dataclass(frozen=True, slots=True, kw_only=True)
class Share:
    """A body's own share of the space.

    ``solid`` is the body, or the part of it that lies in the space asked for; ``yielded`` the part of that
    which other bodies take, None where it keeps all.
    """

    body: Body
    solid: Solid
    yielded: Solid | None

    @property
    def volume(self) -> float:
        """Volume that it takes, pores included, [m³]."""
        return self.solid.volume - (self.yielded.volume if self.yielded else 0.0)

    def below(self, levels: ArrayLike) -> Points:
        """Volume that it takes below each level (k,), pores included, (k,), [m³]."""
        return self._at(levels, volume_below)

    def across(self, levels: ArrayLike) -> Points:
        """Area that it takes of each level (k,), pores included, (k,), [m²]; at a level face, just below."""
        return self._at(levels, area_at)

    def _at(self, levels: ArrayLike, of: Callable[[Solid, ArrayLike], Points]) -> Points:
        taken = of(self.solid, levels)
        return taken if self.yielded is None else np.maximum(taken - of(self.yielded, levels), 0.0)


@kept
def shares(model: Model) -> tuple[Share, ...]:
    """Return the share of every body of the model, in the model's order."""
    return share_out(model.bodies, apart=model.cut_apart)


@kept
def box_shares(model: Model) -> tuple[Share, ...]:
    """Return the shares of those bodies alone that reach into an overflow box of the model."""
    spaces = [built.data.interior for built in model.overflow_boxes]
    bounds = (space.bounds for space in spaces)
    near = {body.name for low, high in bounds for body in model.near(vector(low), vector(high))}
    found = (share for share in shares(model) if share.body.name in near)
    return tuple(share for share in found if any(reaches_into(share.body.solid, space) for space in spaces))


def share_out(
    bodies: Sequence[Body], *, apart: Callable[[Body, Body], bool] = lambda a, b: False
) -> tuple[Share, ...]:
    """Share out the space between bodies.

    Parameters
    ----------
    apart : tells of two bodies that they are known to share nothing (one was cut around the other)

    Returns
    -------
    One share a body, in the order given. The shares' volumes add up to the volume of the bodies' union.
    """
    rank = sorted(
        range(len(bodies)),
        key=lambda i: (_leaf(bodies[i]), bodies[i].porosity, -bodies[i].density, i),
    )
    before = {index: place for place, index in enumerate(rank)}
    takers: list[list[int]] = [[] for _ in bodies]
    solids = [body.solid for body in bodies]
    for i, j in near_pairs(solids, -TOUCH):
        if apart(bodies[i], bodies[j]):
            continue
        # what keeps clear of a bed before that is cut does so after, wherever stones lie in it
        if meet(bodies[i].before(solids[j]), bodies[j].before(solids[i])) and (
            _leaf(bodies[i]) or _leaf(bodies[j]) or meet(solids[i], solids[j])
        ):
            winner, loser = (i, j) if before[i] < before[j] else (j, i)
            takers[loser].append(winner)
    running = RunningUnion()
    yielded: dict[int, Solid | None] = {}
    for index in rank:  # in this order, bodies on one spot have all but the last taker in common
        taking = [bodies[other] for other in sorted(takers[index], key=before.__getitem__)]
        yielded[index] = _taken(bodies[index], taking, running) if taking else None
    return tuple(Share(body=body, solid=body.solid, yielded=yielded[i]) for i, body in enumerate(bodies))


def shares_within(found: Sequence[Share], space: Solid) -> tuple[Share, ...]:
    """Return the shares that reach into a space, cut to it; those that don't are left out."""
    planes = planes_of(space)
    inside = []
    for share in found:
        if not reaches_into(share.solid, space):
            continue
        solid, yielded = share.solid, share.yielded
        if not _held(solid, space, planes):
            cut = intersection(solid, space)
            if cut is None:
                continue
            solid, yielded = cut, intersection(yielded, space) if yielded else None
        inside.append(Share(body=share.body, solid=solid, yielded=yielded))
    return tuple(inside)


def reaches_into(solid: Solid, space: Solid) -> bool:
    """Tell whether a solid's bounding box reaches into that of a space; touching it is not enough."""
    (a_low, a_high), (b_low, b_high) = solid.bounds, space.bounds
    return bool((a_low < b_high - TOUCH).all() and (b_low < a_high - TOUCH).all())


def _taken(body: Body, takers: Sequence[Body], running: RunningUnion) -> Solid | None:
    """Return what takers, in the order of their rank, take of a body: it hangs on these solids alone."""
    # with all that a bed is cut around it takes of leaves what it takes uncut: that stays the same
    taking = (taker.before(body.solid) if _leaf(body) else taker.solid for taker in takers)
    solids = tuple(dict.fromkeys(taking))  # what stands twice takes once
    if body.solid in solids:
        return body.solid
    # few are cut out of a leaf one by one: what each takes is known then where others move. Leaves cross in
    # crumbs, which are soon joined; a union with what is much larger would be dear
    few = _leaf(body) and len(solids) <= FEW
    leaves = solids if few else {taker.solid for taker in takers if _leaf(taker)}
    most = MUCH_LARGER * body.solid.face_count
    together = [solid for solid in solids if solid not in leaves and solid.face_count <= most]
    return common_part(body.solid, together, [s for s in solids if s not in together], running)


def _leaf(body: Body) -> bool:
    return body.kind in GIVES_WAY


def planes_of(space: Solid) -> tuple[Points, Points] | None:
    """Return normals (m, 3) and offsets (m,) of a convex space's faces; None where it isn't convex."""
    a, b, c = space.vertices[space.faces].transpose(1, 0, 2)
    normals = np.cross(b - a, c - a)
    normals /= np.linalg.norm(normals, axis=1)[:, None]
    offsets = np.einsum("ij,ij->i", normals, a)
    if (space.vertices @ normals.T - offsets).max() > TOUCH:
        return None
    return normals, offsets


def _held(solid: Solid, space: Solid, planes: tuple[Points, Points] | None) -> bool:
    """Tell whether a solid lies wholly in a space, as far as that is quick to tell."""
    low, high = space.bounds
    if planes is None or (solid.bounds[0] < low - TOUCH).any() or (solid.bounds[1] > high + TOUCH).any():
        return False
    normals, offsets = planes

    def within(points: Points) -> bool:
        return bool((points @ normals.T - offsets).max() <= TOUCH)

    # its box has few corners; where one lies outside, the solid itself may still not
    return within(np.array(list(itertools.product(*solid.bounds.T)))) or within(solid.uncarved.vertices)
