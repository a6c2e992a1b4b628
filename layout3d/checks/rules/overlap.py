"""Parts in one place, or in the space that another needs, and the least move that frees them."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from layout3d.checks.base import Finding, rule
from layout3d.checks.measure import Joins, length, limit, runs
from layout3d.model.model import Model
from layout3d.parts.base import Body, KeepClear, vector
from layout3d.parts.run_data import Element
from layout3d.parts.tank_data import Wall
from layout3d.solid.distance import near_pairs, overlap, way_out
from layout3d.solid.shape import Shape, Solid
from layout3d.units import show

__all__ = ["freeing", "keep_clear", "overlaps"]

WAYS = {
    "up": (0.0, 0.0, 1.0),
    "to the left": (-1.0, 0.0, 0.0),
    "to the right": (1.0, 0.0, 0.0),
    "to the front": (0.0, -1.0, 0.0),
    "to the back": (0.0, 1.0, 0.0),
    "down": (0.0, 0.0, -1.0),
}
UP_TO = 1e-4
"""A figure is told rounded up to this, [m]."""
SLACK = 1e-4
"""What may stick out past a pane and still counts as within the tank, [m]."""

GIVES_WAY = ("foliage",)
"""Kinds that bend aside: leaves may touch anything."""
SHARES = {"socket", "barb", "hole", "seal", "embedded"}
"""Joins whose two sides share space on purpose, or are cut around each other; the others only touch."""
STAYS = ("glass", "stand", "background", "substrate", "sump")
"""Groups that are not what a remedy moves."""
DOWN = -0.5
"""A hose pours down where its flow's direction has at most this upright part: 30 degrees below level."""


def freeing(model: Model, body: Body, still: Body | Solid) -> str:
    """Return the least move along the tank's axes that frees a body, such as '120 mm up'; '' for none.

    Off a pane it goes square to that, to the side where most of it is. What is in the tank stays there.
    """
    panel = None if isinstance(still, Solid) else _panel(model, still)
    moving = _whole(body)
    if panel is not None:
        depth = panel.local(moving.vertices)[:, 2]
        inside = float(depth.mean()) > -panel.thickness / 2
        way = -float(depth.min()) if inside else float(depth.max()) + panel.thickness
        side = "into the tank" if inside else "out of the tank"
        return f"{_told(way)} {side}, off {panel.name}"
    other = still if isinstance(still, Solid) else _whole(still)
    ways = way_out(moving, other, np.array(list(WAYS.values())))
    found = [
        (way, words)
        for way, (words, direction) in zip(ways.tolist(), WAYS.items(), strict=True)
        if body.where != "tank" or _stays(model, moving, way, np.array(direction))
    ]
    if not found:
        return ""
    way, words = min(found, key=lambda item: item[0])
    return f"{_told(way)} {words}"


def _panel(model: Model, body: Body) -> Wall | None:
    return next((panel for panel in model.tank.panels.values() if panel.body == body.name), None)


def _whole(body: Body) -> Solid:
    """Return a body as it can't be passed through: a pipe with its bore, for no pipe gets out through it."""
    if body.group != "plumbing" or body.kind in ("tube", "bulkhead"):
        return body.solid
    hull = Shape.from_manifold(body.solid.shape.manifold.hull())
    return body.solid if hull is None else hull.solid(body.solid.placement)


def _stays(model: Model, moving: Solid, way: float, direction: np.ndarray) -> bool:
    """Tell whether a move takes nothing out of the tank that is not out of it now."""
    for panel in model.tank.panels.values():
        here, there = (
            float(panel.local(points)[:, 2].min())
            for points in (moving.vertices, moving.vertices + way * direction)
        )
        if there < min(here, 0.0) - SLACK:
            return False
    return True


def _told(way: float) -> str:
    return length(math.ceil(way / UP_TO - 1e-6) * UP_TO)


@rule(
    "overlap",
    asks="No two parts share space, but for joins that are meant.",
    limits=("overlap_volume", "rest_gap"),
)
def overlaps(model: Model) -> Iterator[Finding]:
    """Find bodies that share space, and tubes that run through themselves.

    What rests on, hangs on or is glued to something may be placed into it by as much as it may stand off it
    (limit rest_gap): natural shapes can't be placed nearer.
    """
    joins = Joins(model)
    slack, least = limit(model, "rest_gap"), limit(model, "overlap_volume")
    bodies = sorted((b for b in model.bodies if b.kind not in GIVES_WAY), key=lambda body: body.name)
    for i, j in near_pairs([body.solid for body in bodies], 0.0):
        a, b = bodies[i], bodies[j]
        how = joins.how(a, b)
        own = bool(how) and a.part == b.part  # pieces that one part made of itself
        if (own or how & SHARES) and not _in_two_panes(model, a, b):
            continue
        shared = overlap(a.solid, b.solid)
        if shared is None or shared.volume <= least or (how and shared.depth <= slack):
            continue
        volume = show(shared.volume, "volume")
        yield Finding(
            parts=(a.name, b.name),
            measured=shared.depth,
            limit=0.0,
            at=vector(shared.at),
            message=f"{a.name} and {b.name} share {volume}, {length(shared.depth)} deep",
            remedy=_remedy(model, a, b),
        )
    yield from _tubes(model)


def _in_two_panes(model: Model, a: Body, b: Body) -> bool:
    """Tell whether two bodies are bulkheads that may meet though they stand apart along one flat pane.

    In two panes, or in a wall bent towards its inside.
    """
    if a.kind != "bulkhead" or b.kind != "bulkhead":
        return False
    first, second = (model.tank.holes[body.name.rpartition(".")[2]].panel for body in (a, b))
    return first != second or math.isfinite(model.tank.panels[first].radius)


def _remedy(model: Model, a: Body, b: Body) -> str:
    moving, still = (b, a) if a.group in STAYS and b.group not in STAYS else (a, b)
    name = moving.name.rpartition(".")[2] if moving.kind == "bulkhead" else moving.part
    way = freeing(model, moving, still)
    text = (
        f"move {name} at least {way}, to free it of {still.name}" if way else f"move {name} off {still.name}"
    )
    if still.group == "background":
        text += f", or let {still.part} be made around it (`embeds:`, `channels:` or `cut_outs:`)"
    return text


def _tubes(model: Model) -> Iterator[Finding]:
    for name, run in runs(model):
        for element in run.elements if run.flexible else ():
            found = _crosses_itself(element)
            if found is None:
                continue
            into, where = found
            yield Finding(
                parts=(element.body,),
                measured=into,
                limit=0.0,
                at=vector(where),
                message=f"{element.body} runs {length(into)} into itself",
                remedy=f"lead {name} past itself with {length(into)} more between",
            )


def _crosses_itself(element: Element) -> tuple[float, np.ndarray] | None:
    """Return how deep a tube runs into itself, [m], and where; None where it does not.

    Two places of a tube are held against each other if more than a half turn of the tightest bend that a tube
    of this width can make lies between them along the tube.
    """
    points = np.array(element.path)
    steps = np.linalg.norm(np.diff(points, axis=0), axis=1)
    along = np.concatenate([[0.0], np.cumsum(steps)])
    first, second = np.triu_indices(len(steps), k=2)
    far = along[second] - along[first + 1] > math.pi / 2 * element.outside
    first, second = first[far], second[far]
    if not len(first):
        return None
    distance, middle = _between_segments(points[first], points[first + 1], points[second], points[second + 1])
    nearest = int(distance.argmin())
    into = element.outside - float(distance[nearest])
    return (into, middle[nearest]) if into > 1e-5 else None


def _between_segments(
    a: np.ndarray, b: np.ndarray, c: np.ndarray, d: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Return distances of pairs of segments ab and cd, (n,), and the middles of the shortest ways, (n, 3).

    Source: Ericson, Real-Time Collision Detection, 2005, sec. 5.1.9 (from memory).
    """
    p, q, r = b - a, d - c, a - c
    pp, qq, pq = (np.einsum("ij,ij->i", x, y) for x, y in ((p, p), (q, q), (p, q)))
    pr, qr = np.einsum("ij,ij->i", p, r), np.einsum("ij,ij->i", q, r)
    square = pp * qq - pq * pq
    s = np.clip(np.where(square > 1e-18, (pq * qr - pr * qq) / np.maximum(square, 1e-18), 0.0), 0.0, 1.0)
    t = np.clip((pq * s + qr) / qq, 0.0, 1.0)
    s = np.clip((pq * t - pr) / pp, 0.0, 1.0)
    one, other = a + s[:, None] * p, c + t[:, None] * q
    return np.linalg.norm(one - other, axis=1), (one + other) / 2


@rule(
    "keep-clear",
    asks="The space that equipment needs for cable, hose and hand stays free.",
    follows=("overlap",),
)
def keep_clear(model: Model) -> Iterator[Finding]:
    """Find bodies in keep-clear spaces.

    Let off are leaves, the runs that lead to the equipment, a hose that pours down into it (a hand bends
    it aside), and the very body that it is fixed to.
    """
    joins = Joins(model)
    bodies = sorted(model.bodies, key=lambda body: body.name)
    for space in model.keep_clear:
        let_off = _let_off(model, joins, space)
        for i, j in near_pairs([space.solid, *(body.solid for body in bodies)], 0.0):
            body = bodies[j - 1]
            if i != 0 or body.kind in GIVES_WAY or {body.name, body.part} & let_off:
                continue
            shared = overlap(space.solid, body.solid)
            if shared is None:
                continue
            way = freeing(model, body, space.solid)
            yield Finding(
                parts=(body.name, space.part),
                measured=shared.depth,
                limit=0.0,
                at=vector(shared.at),
                message=f"{body.name} is {length(shared.depth)} deep in the space that {space.part} needs "
                f"for {space.why}",
                remedy=f"move {body.part} at least {way}" if way else f"move {body.part} or {space.part}",
            )


def _let_off(model: Model, joins: Joins, space: KeepClear) -> set[str]:
    """Return the names of bodies that belong in the space, and of runs that lead there."""
    own = {space.part, *(body.name for body in model.built[space.part].bodies)}
    led = {
        body.part
        for body in model.bodies
        if body.group == "plumbing"
        and {body.name, body.part} & joins.of(*own, how=("socket", "barb"))
        and body.part != model.tank_name
    }
    low, high = space.solid.bounds[:, :2]
    for name, run in runs(model):
        over = bool((low <= run.end_at[:2]).all() and (run.end_at[:2] <= high).all())
        if run.flexible and not run.end_port and over and run.end_direction[2] < DOWN:
            led.add(name)
    bodies = {body.name for body in model.bodies}
    return {space.part} | led | (joins.of(*own, how=("held",)) & bodies)
