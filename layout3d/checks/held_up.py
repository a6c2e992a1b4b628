"""Parts that hang in thin air: nothing under them, nothing they are fixed to."""

from __future__ import annotations

from collections.abc import Iterator

from layout3d.checks.base import Finding, rule
from layout3d.checks.measure import at, length, limit
from layout3d.model.model import Model
from layout3d.parts.base import Body
from layout3d.solid.distance import gap, near_pairs

__all__ = ["held_up"]

GROUPS = ("wood", "rock", "equipment", "plant", "sump", "background")
"""Groups that need something to stand on; runs have their own rule (support-spacing)."""
FALLING = "A rock or log that falls can break the glass. This rule asks for contact only, not for balance."


@rule("held-up", asks="Each part stands on something, or is fixed to something.", caution=FALLING)
def held_up(model: Model) -> Iterator[Finding]:
    """Find parts with no contact below and no join that carries them, directly or through others."""
    most = limit(model, "rest_gap")
    bodies = list(model.bodies)
    carried = _carried(model, bodies, most)
    for built in model.built.values():
        part = built.part
        own = [index for index, body in enumerate(bodies) if body.part == part.name]
        if part.group not in GROUPS or not own or any(index in carried for index in own):
            continue
        lowest = min(own, key=lambda index: float(bodies[index].solid.bounds[0, 2]))
        distance, below = _nearest_below(bodies, lowest, part.name)
        yield Finding(
            rule="held-up",
            severity="fault",
            parts=(part.name,),
            measured=distance,
            limit=most,
            unit="m",
            at=at(bodies[lowest].solid.centroid),
            message=(
                f"nothing holds {part.name} up"
                + (f": {below} is {length(model, distance)} away" if distance is not None else "")
            ),
            remedy=(f"stand {part.name} on something (`ground:`), or say what carries it under `fixed_to:`"),
        )


def _carried(model: Model, bodies: list[Body], most: float) -> set[int]:
    """Return the bodies that glass, stand or room carry, directly or through contacts and joins."""
    base = [i for i, b in enumerate(bodies) if b.group in ("glass", "stand", "substrate")]
    links: dict[int, set[int]] = {index: set() for index in range(len(bodies))}
    for i, j in near_pairs([body.solid for body in bodies], most):
        a, b = bodies[i], bodies[j]
        if a.kind == "foliage" or b.kind == "foliage":
            continue
        if model.joined(a, b) or gap(a.solid, b.solid).distance <= most:
            low, high = (i, j) if _bottom(a) <= _bottom(b) else (j, i)
            links[low].add(high)
            if model.joined(a, b):
                links[high].add(low)
    index_of = {body.name: k for k, body in enumerate(bodies)}
    of_part: dict[str, list[int]] = {}
    for k, body in enumerate(bodies):
        of_part.setdefault(body.part, []).append(k)
    for join in model.joins:
        firsts = [index_of[join.a]] if join.a in index_of else of_part.get(join.a, [])
        seconds = [index_of[join.b]] if join.b in index_of else of_part.get(join.b, [])
        if join.b == "room":
            base += firsts
        for first in firsts:
            for second in seconds:
                if first != second:
                    links[first].add(second)
                    links[second].add(first)
    seen, todo = set(base), list(base)
    while todo:
        for onward in links[todo.pop()]:
            if onward not in seen:
                seen.add(onward)
                todo.append(onward)
    return seen


def _bottom(body: Body) -> float:
    return float(body.solid.bounds[0, 2])


def _nearest_below(bodies: list[Body], index: int, part: str) -> tuple[float | None, str]:
    """Return the nearest body that starts lower, and how far it is; (None, '') if there is none."""
    own = bodies[index]
    found = [
        (gap(own.solid, other.solid).distance, other.name)
        for other in bodies
        if other.part != part and other.kind != "foliage" and _bottom(other) < _bottom(own)
    ]
    return min(found) if found else (None, "")
