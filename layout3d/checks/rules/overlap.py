"""Two parts in one place. Contacts that are meant (a pipe in its socket, a foamed-in pipe) are no faults."""

from __future__ import annotations

import math

import numpy as np

from layout3d.checks.base import Finding, Findings, rule
from layout3d.checks.freeing import GIVES_WAY, freeing
from layout3d.checks.measure import Joins, length, limit, runs, shared_by
from layout3d.model.model import Model
from layout3d.parts.base import Body, vector
from layout3d.parts.run_data import Element
from layout3d.solid.distance import near_pairs
from layout3d.units import show

SHARES = {"socket", "barb", "hole", "seal", "embedded"}
"""Joins whose two sides share space on purpose, or are cut around each other; the others only touch."""
STAYS = ("glass", "stand", "background", "substrate", "sump")
"""Groups that are not what a remedy moves; of two of them the one named later moves."""


@rule(
    "overlap",
    asks="No two parts share space, but for joins that are meant.",
    limits=("overlap_volume", "rest_gap"),
)
def overlaps(model: Model) -> Findings:
    """Find bodies that share space, and tubes that run through themselves.

    What rests on, hangs on or is glued to something may be placed into it by as much as it may stand off it
    (limit rest_gap): natural shapes can't be placed nearer.
    """
    joins = Joins(model)
    slack, least = limit(model, "rest_gap"), limit(model, "overlap_volume")
    bodies = sorted((b for b in model.bodies if b.kind not in GIVES_WAY), key=lambda body: body.name)
    found: list[tuple[Body, Body, Finding]] = []
    for i, j in near_pairs([body.solid for body in bodies], 0.0):
        a, b = bodies[i], bodies[j]
        how = joins.how(a, b)
        own = bool(how) and a.part == b.part  # pieces that one part made of itself
        if (own or how & SHARES) and not _in_two_panes(model, a, b):
            continue
        shared = shared_by(a, b)
        if shared is None or shared.volume <= least or (how and shared.depth <= slack):
            continue
        volume = show(shared.volume, "volume")
        told = Finding(
            parts=(a.name, b.name),
            measured=shared.depth,
            limit=0.0,
            at=vector(shared.at),
            message=f"{a.name} and {b.name} share {volume}, {length(shared.depth)} deep",
            remedy=_remedy(model, a, b),
        )
        found.append((a, b, told))
    in_panes = {(x.name, y.part) for a, b, _ in found for x, y in ((a, b), (b, a)) if y.kind == "panel"}
    for a, b, told in found:
        seamed = ((x.name, y.part) for x, y in ((a, b), (b, a)) if y.kind == "silicone")
        if not any(pair in in_panes for pair in seamed):  # a seam goes with its pane: one cause, one finding
            yield told
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
    moving, still = (b, a) if _stays(a) < _stays(b) else (a, b)
    mat = next((body for body in (b, a) if body.kind == "mat" and body.where == "tank"), None)
    if mat is not None:  # it lies on the floor, and is cut
        return f"end {mat.part} before {(b if mat is a else a).name} (`region:`), or cut it out around that"
    name = moving.name.rpartition(".")[2] if moving.kind == "bulkhead" else moving.part
    way = freeing(model, moving, still)
    text = (
        f"move {name} at least {way}, to free it of {still.name}" if way else f"move {name} off {still.name}"
    )
    if still.group == "background":
        text += f", or let {still.part} be made around it (`embeds:`, `channels:` or `cut_outs:`)"
    return text


def _stays(body: Body) -> int:
    """Return the place of a body's group among those that stay; what is none of them comes after."""
    return STAYS.index(body.group) if body.group in STAYS else len(STAYS)


def _tubes(model: Model) -> Findings:
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
