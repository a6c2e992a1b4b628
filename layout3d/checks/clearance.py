"""Distances that the scene itself asks for between two parts or groups."""

from __future__ import annotations

from collections.abc import Iterator

from layout3d.checks.base import Finding, rule
from layout3d.checks.measure import at, length
from layout3d.model.model import Model
from layout3d.solid.distance import Gap, gap

__all__ = ["clearances"]


@rule("clearance", asks="Parts keep the distance that the scene states under `clearances:`.")
def clearances(model: Model) -> Iterator[Finding]:
    """Find pairs of the scene's own list that are too near."""
    for entry in model.scene.clearances:
        nearest: tuple[Gap, str, str] | None = None
        for a in model.bodies_of(entry.between[0]):
            for b in model.bodies_of(entry.between[1]):
                if a.name == b.name:
                    continue
                between = gap(a.solid, b.solid)
                if nearest is None or between.distance < nearest[0].distance:
                    nearest = (between, a.name, b.name)
        if nearest is None or nearest[0].distance >= entry.at_least:
            continue
        between, first, second = nearest
        short = entry.at_least - between.distance
        yield Finding(
            rule="clearance",
            severity="fault",
            parts=(first, second),
            measured=between.distance,
            limit=entry.at_least,
            unit="m",
            at=at((between.at_a + between.at_b) / 2),
            message=(
                f"{first} is {length(model, between.distance)} from {second}: {length(model, short)} short of "
                f"{length(model, entry.at_least)}" + (f" ({entry.why})" if entry.why else "")
            ),
            remedy=f"move {first} away from {second} by {length(model, short)}",
        )
