"""The space that water can fill: a vessel's inside less the bodies in it, by what reaches its top.

Porous bodies count as solid here; the water in their pores is added by itself. Air caught under an
overhang is not considered: space that is open to the water counts as filled.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike

from layout3d.errors import OutOfRange
from layout3d.keep import remembered
from layout3d.model.model import Model
from layout3d.parts.base import LOOSE, Body, Rough, Vector, vector
from layout3d.solid.boolean import components, cropped, difference, intersection, side_by_side, trim, union
from layout3d.solid.distance import gap
from layout3d.solid.level import area_at, surely_one_below, volume_below
from layout3d.solid.shape import Points, Solid
from layout3d.units import show
from layout3d.water.parted import Hollowed, Parted, parted
from layout3d.water.remembered import kept
from layout3d.water.share import GIVES_WAY, TOUCH, Share, reaches_into, shares, shares_within
from layout3d.water.standpipe import drained_bores

__all__ = [
    "LEAST_TOLD",
    "Basin",
    "Cavity",
    "Pocket",
    "around",
    "basins",
    "basins_apart",
    "space_left",
    "tank_cavity",
    "water_apart",
]

LEAST_TOLD = 1e-6  # 1 mL: smaller pockets and basins count, but aren't told by themselves, [m³]
AT_TOP = 1e-7  # how near a space comes to the vessel's top to be open there, [m]
ROUNDING = 1e-12  # of sums over all bodies, as a share of the whole: less than that is nothing, [-]
TOUCHES = 1e-6  # how near a body is to a pocket's skin to be a wall of it, [m]


@dataclass(frozen=True, slots=True, kw_only=True)
class Pocket:
    """A space that no water gets into: ``volume`` [m³], ``at`` its centre [m]."""

    solid: Solid
    volume: float
    at: Vector


@dataclass(frozen=True, slots=True, kw_only=True)
class Basin:
    """Water that hangs together below a level; ``area`` of its surface [m²], ``depth`` from it down [m]."""

    solid: Solid
    volume: float
    area: float
    depth: float
    at: Vector


@dataclass(frozen=True, kw_only=True)
class Cavity:
    """A vessel's inside with what is left of it. Levels are heights in the scene's axes, (k,) or one, [m].

    ``shares`` are the bodies in it, ``bores`` those of pipes in it whose water runs off; ``fixed`` and
    ``loose`` all that is cut out of it; of what is fixed, ``plumbing`` and what is ``hollowed`` for it are
    looked at as what is loose. Leaves part no waters: they are taken off as a sum.

    Volumes and areas are sums over the shares, so that a moved part changes its own terms alone, wherever it
    is sure what the bodies close in (``parted``); elsewhere they are those of the space as it is cut.
    """

    inside: Solid
    shares: tuple[Share, ...]
    bores: tuple[Solid, ...]
    fixed: tuple[Solid, ...]
    loose: tuple[Solid, ...]
    plumbing: tuple[Solid, ...] = ()
    hollowed: tuple[Hollowed, ...] = ()

    @property
    def _whole(self) -> _Whole:
        """Return all that is left: few ask for it, and it is large, so it is held by itself."""
        fixed = (*self.fixed, *self.bores)
        return remembered(
            "left of a vessel",
            (self.inside, fixed, self.loose),
            make=lambda: _cut_out(self.inside, fixed, self.loose),
            size=lambda left: 200 * sum(each.face_count for each in (left.open, *left.closed) if each),
        )

    @cached_property
    def _parted(self) -> Parted | None:
        apart = {*self.plumbing, *(solid for each in self.hollowed for solid in each.left)}
        fixed = [solid for solid in self.fixed if solid not in apart]
        return parted(self.inside, fixed, self.loose, self.hollowed, (*self.plumbing, *self.bores))

    @property
    def open(self) -> Solid | None:
        """The space that reaches the vessel's top, leaves and all; None where bodies fill it all."""
        return self._whole.open

    @property
    def covered(self) -> bool:
        """Tell whether bodies close the top: the largest space then counts as open: a cover doesn't seal."""
        return self._parted is None and self._whole.covered

    @property
    def closed(self) -> tuple[Solid, ...]:
        """All other space, in pieces."""
        return self._whole.closed if self._parted is None else self._parted.shut

    @cached_property
    def sealed(self) -> tuple[Solid, ...]:
        """Those of the closed pieces that are no corner of a drained bore."""
        return tuple(piece for piece in self.closed if not _beside(piece, self.bores))

    @property
    def pockets(self) -> tuple[Pocket, ...]:
        """What is sealed of 1 mL or more, largest first."""
        found = [
            Pocket(solid=part, volume=part.volume, at=vector(part.centroid))
            for part in self.sealed
            if part.volume >= LEAST_TOLD
        ]
        return tuple(sorted(found, key=lambda pocket: -pocket.volume))

    @property
    def floor(self) -> float:
        """Height of the lowest point of the inside, [m]."""
        return float(self.inside.bounds[0, 2])

    @property
    def rim(self) -> float:
        """Height of the vessel's top, [m]."""
        return float(self.inside.bounds[1, 2])

    def gross(self, levels: ArrayLike) -> Points:
        """Inside below each level as if nothing were in it, (k,), [m³]."""
        return volume_below(self.inside, self.checked(levels))

    def free(self, levels: ArrayLike) -> Points:
        """Free water below each level, without that in pores, (k,), [m³]."""
        checked = self.checked(levels)
        leaves = self._taken_by_leaves(checked)
        if self._parted is None:
            return _below(self.open, checked) - leaves
        whole = self.gross(checked)
        left = whole.copy()
        for solid in (self._run_off, *self.closed):
            left -= _below(solid, checked)
        for share in self.shares:
            if share.body.kind not in GIVES_WAY:
                left -= share.below(checked)
        return np.where(left > ROUNDING * whole, left, 0.0) - leaves

    def _taken_by_leaves(self, levels: Points) -> Points:
        """Return what leaves keep below each level, (k,), [m³]: the same wherever a stone off them is."""
        found = tuple((each.solid, each.yielded) for each in self.shares if each.body.kind in GIVES_WAY)

        def make() -> Points:
            # leaf by leaf: a change at one asks for no other again
            total = np.zeros(len(levels))
            for solid, yielded in found:
                total += _below(solid, levels) - _below(yielded, levels)
            total.flags.writeable = False
            return total

        return remembered("taken by leaves", found, levels, make=make, size=lambda total: total.nbytes)

    @cached_property
    def _run_off(self) -> Solid | None:
        """Return of all bores what lies in the vessel and is in no body: they reach into their walls."""
        joined = union(self.bores)
        room = intersection(self.inside, joined) if joined is not None else None
        if room is None:
            return None
        return difference(room, cropped((*self.fixed, *self.loose), room.bounds))

    def shut(self, levels: ArrayLike) -> Points:
        """Sealed pockets below each level, (k,), [m³]."""
        checked = self.checked(levels)
        return sum((volume_below(piece, checked) for piece in self.sealed), np.zeros(len(checked)))

    def pores(self, levels: ArrayLike) -> Points:
        """Water in the pores of porous bodies below each level, (k,), [m³]."""
        checked = self.checked(levels)
        total = np.zeros(len(checked))
        for share in self.shares:
            if share.body.porosity > 0.0:
                total += share.body.porosity * share.below(checked)
        return total

    def net(self, levels: ArrayLike) -> Points:
        """All water below each level, free and in pores, (k,), [m³]."""
        return self.free(levels) + self.pores(levels)

    def surface(self, levels: ArrayLike) -> Points:
        """Area of the free surface at each level, (k,), [m²]; at a level face, just below it."""
        checked = self.checked(levels)
        if self._parted is None:
            return area_at(self.open, checked) if self.open is not None else np.zeros(len(checked))
        whole = area_at(self.inside, checked)
        left = whole.copy()
        for solid in (self._run_off, *self.closed):
            left -= area_at(solid, checked) if solid is not None else 0.0
        for share in self.shares:
            if share.body.kind not in GIVES_WAY:
                left -= share.across(checked)
        return np.where(left > ROUNDING * whole, left, 0.0)

    def apart(self, level: float) -> tuple[Basin, ...]:
        """Tell ``basins`` beside the largest one; the space is cut only where it has to be."""
        top = float(self.checked(level)[0])
        pieces = self._parted.apart_below(top) if self._parted is not None else None
        if pieces is not None:
            rest = float(self.free(top)[0]) - sum(piece.volume for piece in pieces)
            if all(piece.volume < rest for piece in pieces):
                return _basins(pieces, top)
        if self.open is None or surely_one_below(self.open, top):
            return ()
        return self.basins(top)[1:]

    def basins(self, level: float) -> tuple[Basin, ...]:
        """Tell the waters that don't hang together below a level, largest first; empty where there is none.

        The bore of a standpipe or a pot whose rim stands above the level is a basin of its own. All of
        them are counted in ``free``; those below 1 mL are not told.
        """
        top = float(self.checked(level)[0])
        if self.open is None:
            return ()
        below = trim(self.open, normal=(0.0, 0.0, 1.0), offset=top)
        if below is None:
            return ()
        return _basins(components(below), top)

    def checked(self, levels: ArrayLike) -> Points:
        """Return levels as an array (k,), after checking that each lies within the vessel.

        Raises
        ------
        OutOfRange : a level below the floor or above the rim.
        """
        given = np.atleast_1d(np.asarray(levels, dtype=np.float64)).ravel()
        wrong = given[~((given >= self.floor - TOUCHES) & (given <= self.rim + TOUCHES))]
        if len(wrong):
            worst = float(wrong[0])
            over = worst > self.rim
            height = abs(worst - (self.rim if over else self.floor))
            raise OutOfRange(
                f"water {show(height, 'length')} {'above the rim' if over else 'below the floor'}",
                expected=f"a level from 0 to {show(self.rim - self.floor, 'length')} above the floor",
                remedy="lower the waterline" if over else "raise the waterline",
            )
        return given


def _basins(parts: Sequence[Solid], top: float) -> tuple[Basin, ...]:
    found = [
        Basin(
            solid=part,
            volume=part.volume,
            area=_top_area(part),
            depth=top - float(part.bounds[0, 2]),
            at=vector(part.centroid),
        )
        for part in parts
        if part.volume >= LEAST_TOLD
    ]
    return tuple(sorted(found, key=lambda basin: -basin.volume))


@kept
def tank_cavity(model: Model) -> Cavity:
    """Return the space in the tank outside of overflow boxes and drained bores, up to the top edge."""
    boxes = [built.data.outer for built in model.overflow_boxes]
    inside = difference(model.tank.interior, boxes)
    assert inside is not None, "an overflow box is smaller than its tank (tank_cavity)"
    return space_left(inside, shares(model), drained_bores(model).solids)


@kept
def basins(model: Model) -> tuple[Basin, ...]:
    """Return the tank's waters at the waterline that don't hang together, largest first."""
    return tank_cavity(model).basins(model.waterline)


@kept
def basins_apart(model: Model) -> tuple[Basin, ...]:
    """Return the basins at the waterline beside the largest one."""
    return tank_cavity(model).apart(model.waterline)


@kept
def water_apart(model: Model) -> float:
    """Return the water at the waterline that doesn't hang together with the largest basin, [m³]."""
    return sum((basin.volume for basin in basins_apart(model)), 0.0)


def space_left(inside: Solid, found: Sequence[Share], bores: Sequence[Solid] = ()) -> Cavity:
    """Return what bodies leave of a vessel's inside.

    Parameters
    ----------
    inside : the vessel's inside, open at its highest face
    found : shares of all bodies that may reach into it (``shares`` of a model)
    bores : of pipes in it whose water runs off, and doesn't stand there
    """
    reaching = tuple(share for share in found if reaches_into(share.body.solid, inside))
    # its solids are those of the model
    return remembered("cavity", inside, reaching, *bores, make=lambda: _space_left(inside, reaching, bores))


def _space_left(inside: Solid, found: Sequence[Share], bores: Sequence[Solid]) -> Cavity:
    bodies = [share.body for share in found if share.body.kind not in GIVES_WAY]
    cutters: dict[bool, list[Solid]] = {False: [], True: []}
    rough: dict[Solid, tuple[Rough, list[Solid]]] = {}
    for body in bodies:
        solid = body.uncut or body.solid
        cutters[body.group in LOOSE].append(solid)
        if body.rough is not None:
            rough.setdefault(body.rough.solid, (body.rough, []))[1].append(solid)
    return Cavity(
        inside=inside,
        shares=shares_within(found, inside),
        bores=tuple(bores),
        fixed=tuple(cutters[False]),
        loose=tuple(cutters[True]),
        plumbing=tuple(body.solid for body in bodies if body.group == "plumbing"),
        hollowed=tuple(Hollowed(rough=of, left=tuple(left)) for of, left in rough.values()),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Whole:
    """All that is left of an inside: what is open, and what is not, largest first."""

    open: Solid | None
    closed: tuple[Solid, ...]
    covered: bool


def _cut_out(inside: Solid, fixed: Sequence[Solid], loose: Sequence[Solid]) -> _Whole:
    left = difference(inside, fixed, loose=loose)
    parts = components(left) if left is not None else ()
    top = float(inside.bounds[1, 2]) - AT_TOP
    open_parts = [part for part in parts if part.bounds[1, 2] >= top]
    covered = bool(parts) and parts[0].bounds[1, 2] < top
    if covered:
        open_parts.append(parts[0])
    closed = tuple(part for part in parts if not any(part is other for other in open_parts))
    return _Whole(open=_together(open_parts), closed=closed, covered=covered)


def _beside(part: Solid, bores: Sequence[Solid]) -> bool:
    """Tell whether a space is a corner of a drained bore: bends and sockets are wider than their pipe."""
    return any(gap(part, bore).distance <= TOUCHES for bore in bores)


def around(solid: Solid, bodies: Sequence[Body]) -> tuple[str, ...]:
    """Return the names of the bodies that wall a pocket or a basin in, in the order given."""
    low, high = solid.bounds[0] - TOUCHES, solid.bounds[1] + TOUCHES
    return tuple(
        body.name
        for body in bodies
        if (body.solid.bounds[0] <= high).all()
        and (body.solid.bounds[1] >= low).all()
        and gap(solid, body.solid).distance <= TOUCHES
    )


def _below(solid: Solid | None, levels: Points) -> Points:
    return np.zeros(len(levels)) if solid is None else volume_below(solid, levels)


def _top_area(part: Solid) -> float:
    """Return the area of the faces at the top of water that was cut at a level, [m²]."""
    # a cut is level to rounding only, so the area of the outline at its very top would miss some of it
    corners = part.vertices[part.faces]
    at_top = corners[(corners[:, :, 2] >= part.bounds[1, 2] - TOUCH).all(axis=1)]
    edges = at_top[:, 1:, :2] - at_top[:, :1, :2]
    plan = edges[:, 0, 0] * edges[:, 1, 1] - edges[:, 0, 1] * edges[:, 1, 0]
    return float(plan.sum()) / 2.0


def _together(parts: Sequence[Solid]) -> Solid | None:
    """Return solids that are apart from each other as one."""
    if not parts:
        return None
    return remembered(
        "together", *parts, make=lambda: side_by_side(parts), size=lambda solid: 72 * solid.face_count
    )
