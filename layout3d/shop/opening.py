"""In which positions a rigid piece passes an opening of a tank, and what is too thick for any.

A piece is led through straight, upright or leaning along its own length; its convex hull passes where the
hull's shadow along that way fits the opening. What doesn't pass so may still be worked through bent ways.
"""

from __future__ import annotations

import functools
import heapq
import itertools
import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from layout3d.keep import remembered
from layout3d.model.model import Model
from layout3d.parts.base import Vector, vector
from layout3d.solid.contain import inside
from layout3d.solid.distance import ball_passes
from layout3d.solid.placement import Array, Placement
from layout3d.solid.shape import Shape, Solid
from layout3d.water.remembered import kept

__all__ = [
    "UP",
    "Fit",
    "angle_of",
    "directions",
    "filled",
    "fits",
    "openings",
    "passes",
    "passes_upright",
    "roomiest",
    "slides",
    "thickest",
    "unlike",
]


UP: Vector = (0.0, 0.0, 1.0)
TURNS = 36  # a piece is turned by steps of 5 degrees over the opening
WAYS_UP = 60  # directions of a piece that are turned upwards, besides those of its own box
LEANS = tuple(math.radians(angle) for angle in (75.0, 60.0, 45.0, 35.0, 25.0))
"""How steeply a long piece is led in along its length, over the level."""
MOST_FITS = 16  # that are tried of those that differ
EASY = 0.01  # what a piece is led through with ease leaves so much all round, [m]
HAIR = 2e-6  # to which the widest disc in an opening is found, [m]
GRID = 9  # places along each side of a piece's box from which the widest ball in it is looked for


@dataclass(frozen=True, slots=True, kw_only=True)
class Fit:
    """A position in which a piece's hull passes an opening, led along ``way`` (3,), of length 1, upwards.

    ``turn`` (3, 3) turns it there from how it lies; ``over`` is where its centroid crosses the opening's
    plane, (2,); ``spare`` the least distance to the opening's edge, all round, and ``slide`` how far back and
    on it may cross it along the level part of its way, [m].
    """

    turn: Array
    way: Array
    over: Array
    spare: float
    slide: tuple[float, float] = (0.0, 0.0)


@kept
def openings(model: Model) -> list[Array]:
    """Return the outlines of the open areas at the tank's top, between braces and rim, each (k, 2), [m]."""
    from shapely import MultiPolygon, Polygon
    from shapely.ops import unary_union

    tank = model.built[model.tank_name]
    covers = []
    for body in tank.bodies:
        if body.kind in ("brace", "rim"):
            flat = map(Polygon, body.solid.vertices[body.solid.faces][:, :, :2])
            covers += [cover for cover in flat if cover.area > 5e-11]
    left = Polygon(model.tank.plan)
    if covers:
        left = left.difference(unary_union(covers).buffer(1e-6))
    parts = list(left.geoms) if isinstance(left, MultiPolygon) else [left]
    return [np.array(part.exterior.coords)[:-1] for part in parts if part.area > 1e-4]


def directions(count: int) -> Array:
    """Return directions spread over the sphere, the six axes first, (k, 3)."""
    k = np.arange(count) + 0.5
    z, turn = 1.0 - 2.0 * k / count, math.pi * (1.0 + math.sqrt(5.0)) * k
    flat = np.sqrt(1.0 - z**2)
    spread = np.column_stack([flat * np.cos(turn), flat * np.sin(turn), z])
    ways: Array = np.vstack([np.eye(3)[::-1], -np.eye(3), spread])
    return ways


def roomiest(opening: Array) -> tuple[Array, float]:
    """Return the middle (2,) and the radius of the widest disc in an outline (k, 2), to a hair, [m]."""
    from shapely import Polygon, maximum_inscribed_circle

    centre, edge = np.array(maximum_inscribed_circle(Polygon(opening), tolerance=HAIR).coords)
    return centre, float(np.linalg.norm(edge - centre)) + HAIR


def filled(solid: Solid) -> Solid:
    """Return a part's convex hull: what is hollow or thin-walled doesn't slip over what gets into it."""

    def make() -> Solid:
        hull = Shape.from_manifold(solid.shape.manifold.hull())
        return solid if hull is None else hull.solid(solid.placement)

    return remembered("filled", solid, make=make, size=lambda filled: 100 * filled.face_count)


def thickest(solid: Solid) -> tuple[float, Array]:
    """Return the radius of about the widest ball within a solid, [m], and its middle (3,): it lies within.

    Looked for from the roomiest place of a coarse grid, by smaller and smaller steps, past the exact mesh.
    """

    def fitting(at: Array, least: float) -> float:
        """Return the radius of the ball at a place if above the least one, to 0.01 mm."""
        hair = np.array([0.0, 0.0, 1e-6])
        low, high = least, float(np.ptp(solid.bounds, axis=0).min()) / 2.0 + 1e-5
        if not ball_passes(at, at + hair, low, [solid]):
            return least
        while high - low > 1e-5:
            middle = (low + high) / 2.0
            low, high = (middle, high) if ball_passes(at, at + hair, middle, [solid]) else (low, middle)
        return low

    low, high = solid.bounds
    grid = np.stack(np.meshgrid(*(np.linspace(a, b, GRID)[1:-1] for a, b in zip(low, high, strict=True))), -1)
    places = grid.reshape(-1, 3)
    places = np.vstack([solid.centroid, places])[inside(solid, np.vstack([solid.centroid, places]))]
    radius, best = 0.0, solid.centroid
    for place in places:
        wider = fitting(place, radius + 1e-5)
        if wider > radius + 1e-5:
            radius, best = wider, place
    step = float(np.ptp(solid.bounds, axis=0).max()) / GRID
    while step > 1e-4:
        for way in itertools.product((1.0, 0.0, -1.0), repeat=3):
            wider = fitting(best + step * np.array(way), radius + 1e-5)
            if wider > radius + 1e-5:
                radius, best = wider, best + step * np.array(way)
                break
        else:
            step /= 2.0
    return radius, best


# ---- positions


def fits(solid: Solid, openings: Sequence[Array]) -> Iterator[Fit]:
    """Yield positions in which a piece's convex hull passes one of some openings, with least turn first.

    Those with less than ``EASY`` to spare come last; of a like turn those with most to spare come first.

    Tried are, upright: each axis of its least box and ``WAYS_UP`` other directions turned up, by steps of 5
    degrees about it; leaning: its box's long axis at the ``LEANS`` to all sides, its box turned about that by
    quarters. An opening with inward corners counts as the widest disc in it.
    """
    hull, outlines = _hull(solid), [*map(_half_planes, openings)]
    positions = list(_positions(_least_box(hull)))
    begins = np.cumsum([0, *(len(turns) for turns, _ in positions[:-1])])
    turned = angles_of(np.concatenate([turns for turns, _ in positions])).round(6)
    least = np.minimum.reduceat(turned, begins)
    order = np.argsort(least, kind="stable").tolist()
    found: list[tuple[bool, float, float, int, int, int, Fit]] = []
    ends = [*((False, least[number]) for number in order[1:]), (True, math.inf)]
    for number, beyond in zip(order, ends, strict=True):
        turns, way = positions[number]
        for which, outline in enumerate(outlines):
            for k, fit in _shadows(hull, turns, way, *outline):
                angle = turned[begins[number] + k]
                heapq.heappush(found, (fit.spare < EASY, angle, -fit.spare, which, number, k, fit))
        while found and found[0] < beyond:  # those of the other positions are turned more
            yield heapq.heappop(found)[-1]


def passes(solid: Solid, opening: Array) -> bool:
    """Tell whether a piece's convex hull passes an opening in one of the positions of ``fits``."""
    return next(fits(solid, [opening]), None) is not None


def passes_upright(solid: Solid, opening: Array) -> bool:
    """Tell whether a piece's convex hull passes an opening as it stands, turned about the upright only."""
    return next(_shadows(_hull(solid), _upright(), UP, *_half_planes(opening)), None) is not None


def _hull(solid: Solid) -> Array:
    """Return the corners of a piece's convex hull around its centroid, (n, 3), [m]."""
    hull = np.asarray(solid.shape.manifold.hull().to_mesh64().vert_properties)[:, :3]
    return solid.placement.direction(hull - solid.shape.centroid)


def unlike(found: Iterable[Fit]) -> list[Fit]:
    """Return fits that differ from each other by 20 degrees or 100 mm, in their order."""
    kept: list[Fit] = []
    for fit in found:
        if len(kept) == MOST_FITS:
            break
        alike = (
            math.dist(fit.over, other.over) < 0.1
            and np.allclose(fit.way, other.way)
            and angle_of(fit.turn.T @ other.turn) < math.radians(20.0)
            for other in kept
        )
        if not any(alike):
            kept.append(fit)
    return kept


def slides(fit: Fit) -> list[float]:
    """Return where it crosses the opening's plane, as shares of the way's level part for each metre up."""
    level = math.hypot(fit.way[0], fit.way[1]) / float(fit.way[2])
    return [0.0, *(0.9 * slide / level for slide in fit.slide if level and slide)]


def _half_planes(opening: Array) -> tuple[Array, Array]:
    """Return outward normals (e, 2) and offsets (e,) of a convex outline that lies within the opening."""
    from shapely import Polygon

    whole = Polygon(opening)
    if whole.area < 0.999 * whole.convex_hull.area:
        centre, radius = roomiest(opening)
        angles = np.arange(48) * 2.0 * math.pi / 48
        normals = np.column_stack([np.cos(angles), np.sin(angles)])
        return normals, normals @ centre + (radius - HAIR) * math.cos(math.pi / 48)
    corners = np.array(whole.convex_hull.simplify(1e-9).exterior.coords)
    sides = np.diff(corners, axis=0)
    if not whole.convex_hull.exterior.is_ccw:
        sides = -sides
    normals = np.column_stack([sides[:, 1], -sides[:, 0]]) / np.linalg.norm(sides, axis=1)[:, None]
    return normals, (normals * corners[:-1]).sum(axis=1)


def _least_box(hull: Array) -> Array:
    """Return the axes of about the least box around points (n, 3), as rows (3, 3), the longest first.

    Of boxes with an axis along one of many directions, or along those of the points' spread.
    """
    _, _, spread = np.linalg.svd(hull - hull.mean(axis=0), full_matrices=False)
    best, least = np.eye(3), np.inf
    for up in np.vstack([spread, directions(WAYS_UP)]):
        side = _across(up)
        flat = hull @ np.column_stack([side, np.cross(up, side)])
        angles = np.arange(TURNS) * math.pi / (2 * TURNS)
        c, s = np.cos(angles), np.sin(angles)
        x, y = flat[:, :1] * c + flat[:, 1:] * s, flat[:, 1:] * c - flat[:, :1] * s
        areas = np.ptp(x, axis=0) * np.ptp(y, axis=0)
        k = int(areas.argmin())
        volume = float(areas[k] * np.ptp(hull @ up))
        if volume < least * (1.0 - 1e-9):
            across = c[k] * side + s[k] * np.cross(up, side)
            best, least = np.array([up, across, np.cross(up, across)]), volume
    order = np.argsort(-np.ptp(hull @ best.T, axis=0), kind="stable")
    best = best[order]
    best[2] = np.cross(best[0], best[1])
    return best


def _positions(box: Array) -> Iterator[tuple[Array, Vector]]:
    """Yield turns (k, 3, 3) of a piece that are led along one way each."""
    yield np.eye(3)[None], UP
    for axis in np.vstack([box, -box]):
        yield _upright() @ _carry(axis, np.array(UP)), UP
    yield from ((turns, UP) for turns in _spread_up())
    for way, rolls in _leaning():
        for axis in (box[0], -box[0]):
            upright_box = _carry(axis, np.array(way))
            # rolled so that a side of the box is level
            level = _roll_level(upright_box @ box[1], np.array(way))
            yield np.stack([roll @ level @ upright_box for roll in rolls]), way


@functools.cache
def _spread_up() -> list[Array]:
    """Return turns (2 TURNS, 3, 3) of a piece with each of directions spread over the sphere turned up."""
    return [_upright() @ _carry(axis, np.array(UP)) for axis in directions(WAYS_UP)]


@functools.cache
def _leaning() -> list[tuple[Vector, list[Array]]]:
    """Return the ways that a long piece is led in along, with turns by quarters about each."""
    sides = itertools.product(LEANS, np.arange(8) * math.pi / 4.0)
    ways = [vector((math.cos(a) * math.cos(b), math.cos(a) * math.sin(b), math.sin(a))) for a, b in sides]
    return [(way, [Placement.turned(way, k * math.pi / 2.0).rotation for k in range(4)]) for way in ways]


@functools.cache
def _upright() -> Array:
    """Return turns about the upright, (2 TURNS, 3, 3)."""
    about = np.arange(2 * TURNS) * math.pi / TURNS
    return np.stack([Placement.turned((0.0, 0.0, 1.0), angle).rotation for angle in about])


def _carry(start: Array, end: Array) -> Array:
    """Return the least turn that carries one direction to another, (3, 3)."""
    axis = np.cross(start, end)
    if np.linalg.norm(axis) < 1e-9:
        return np.eye(3) if start @ end > 0 else Placement.turned(_across(start), math.pi).rotation
    return Placement.turned(axis, math.atan2(float(np.linalg.norm(axis)), float(start @ end))).rotation


def _roll_level(side: Array, way: Array) -> Array:
    """Return the turn about a way that makes a direction square to it level, (3, 3)."""
    level = np.cross(way, (0.0, 0.0, 1.0))
    level /= np.linalg.norm(level)
    return Placement.turned(way, math.atan2(float(np.cross(side, level) @ way), float(side @ level))).rotation


def _across(way: Array) -> Array:
    side = np.cross(way, np.eye(3)[int(np.abs(way).argmin())])
    return np.asarray(side / np.linalg.norm(side), dtype=np.float64)


def _shadows(
    hull: Array, turns: Array, way: Sequence[float], normals: Array, bounds: Array
) -> Iterator[tuple[int, Fit]]:
    """Yield the fits among turns (k, 3, 3), by number, of hull points around their centroid, led one way."""
    onto = np.array([[1.0, 0.0, -way[0] / way[2]], [0.0, 1.0, -way[1] / way[2]]])
    seen = np.einsum("ei,ij,kjl->kel", normals, onto, turns)  # along which each bound is reached, (k, e, 3)
    reach = (seen.reshape(-1, 3) @ hull.T).max(axis=1).reshape(len(turns), -1)
    room = bounds - reach
    over, spare = _middles(normals, room)
    for k in np.flatnonzero(spare > 0.0).tolist():
        slide = _slide(normals, room[k], over[k], np.asarray(way))
        yield k, Fit(turn=turns[k], way=np.asarray(way), over=over[k], spare=float(spare[k]), slide=slide)


def _slide(normals: Array, room: Array, over: Array, way: Array) -> tuple[float, float]:
    """Return how far back and on from a place along the level part of a way the bounds let a shadow go."""
    level = math.hypot(way[0], way[1])
    if level < 1e-9:
        return 0.0, 0.0
    rate, left = normals @ (way[:2] / level), room - normals @ over
    on = min((float(r / v) for r, v in zip(left, rate, strict=True) if v > 1e-9), default=0.0)
    back = min((float(r / -v) for r, v in zip(left, rate, strict=True) if v < -1e-9), default=0.0)
    return -back, on


def _middles(normals: Array, room: Array) -> tuple[Array, Array]:
    """Return places (k, 2) with room to all bounds, normals @ place <= room (k, e), about the most; and that.

    The room between two opposite bounds tells at once of most shadows that they are too wide.
    """
    places, spare = np.zeros((len(room), 2)), np.full(len(room), -1.0)
    opposite = normals @ normals.T < -1.0 + 1e-9
    one, other = np.nonzero(opposite)
    between = (room[:, one] + room[:, other]).min(axis=1, initial=np.inf)
    wide = np.flatnonzero(between > 0.0)
    if len(normals) == 4 and opposite.any(axis=1).all():
        pair = opposite.argmax(axis=1)
        both = [0, next(k for k in range(1, 4) if k != pair[0])]
        at = (room[wide][:, both] - room[wide][:, pair[both]]) / 2.0
        places[wide], spare[wide] = np.linalg.solve(normals[both], at.T).T, between[wide] / 2.0
    else:
        for k in wide.tolist():
            places[k], spare[k] = _middle(normals, room[k])
    return places, spare


def _middle(normals: Array, room: Array) -> tuple[Array, float]:
    # room along x and y, halved between the bounds that look most that way: good enough for most
    most, least = normals.argmax(axis=0), normals.argmin(axis=0)
    about = (room[most] - room[least]) / 2.0
    spare = float((room - normals @ about).min())
    if spare > 0.0:
        return about, spare
    from scipy.optimize import linprog

    found = linprog(
        [0.0, 0.0, -1.0],
        A_ub=np.column_stack([normals, np.ones(len(normals))]),
        b_ub=room,
        bounds=[(None, None)] * 3,
        method="highs",
    )
    return (np.asarray(found.x[:2]), float(found.x[2])) if found.status == 0 else (np.zeros(2), -1.0)


def angle_of(turn: Array) -> float:
    """Return the angle of a turn (3, 3), [rad], 0 to pi."""
    return float(angles_of(turn))


def angles_of(turns: Array) -> Array:
    """Return the angles of turns (..., 3, 3), [rad], 0 to pi."""
    xx, xy, xz, yx, yy, yz, zx, zy, zz = np.moveaxis(turns.reshape(*turns.shape[:-2], 9), -1, 0)
    angle = np.arctan2(np.sqrt((zy - yz) ** 2 + (xz - zx) ** 2 + (yx - xy) ** 2), xx + yy + zz - 1.0)
    return np.where(angle > 1e-9, angle, 0.0)
