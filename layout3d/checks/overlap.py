"""Two parts in one place. Contacts that are meant (a pipe in its socket, a foamed-in pipe) are no faults."""

from __future__ import annotations

from collections.abc import Iterator

from layout3d.checks.base import Finding, rule
from layout3d.checks.measure import at, length
from layout3d.model.model import Model
from layout3d.solid.distance import near_pairs, overlap
from layout3d.units import show

__all__ = ["overlaps"]

GIVES_WAY = ("foliage",)
"""Kinds that bend aside: leaves may touch anything."""


@rule("overlap", asks="No two parts share space, but for joins that are meant.")
def overlaps(model: Model) -> Iterator[Finding]:
    """Find bodies that share space."""
    bodies = [body for body in model.bodies if body.kind not in GIVES_WAY]
    for i, j in near_pairs([body.solid for body in bodies], 0.0):
        a, b = bodies[i], bodies[j]
        if model.joined(a, b):
            continue
        shared = overlap(a.solid, b.solid)
        if shared is None:
            continue
        volume = show(shared.volume, "volume", system=model.scene.style)
        yield Finding(
            rule="overlap",
            severity="fault",
            parts=(a.name, b.name),
            measured=shared.depth,
            limit=0.0,
            unit="m",
            at=at(shared.at),
            message=f"{a.name} and {b.name} share {volume}, {length(model, shared.depth)} deep",
            remedy=f"move one of them by {length(model, shared.depth)} or more, or cut one around the other",
        )
