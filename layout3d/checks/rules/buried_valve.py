"""Valves and unions where nobody can reach them: foamed into a background, or behind it."""

from __future__ import annotations

from collections.abc import Iterator

from layout3d.checks.base import Finding, rule
from layout3d.checks.measure import Joins, runs
from layout3d.fittings.registry import fittings
from layout3d.model.model import Model
from layout3d.parts.base import vector

__all__ = ["buried_valves"]


@rule("buried-valve", asks="Valves and unions stay where a hand can reach them.")
def buried_valves(model: Model) -> Iterator[Finding]:
    """Find valves and unions that a background is foamed around, or a bed lies around.

    One that is hidden in a channel can be reached by taking the slab off: only a warning.
    """
    joins = Joins(model)
    for name, run in runs(model):
        for element in run.elements:
            made = fittings().get(element.kind)
            if made is None or not made.hand:
                continue
            body = model.body(element.body)
            foamed = joins.of(body.name, how=("embedded",))
            around = sorted(n for n in foamed if n in model.built)
            hidden = [] if around else _channels(model, name)
            for holder in (*around, *hidden):
                buried = holder in around
                yield Finding(
                    rule="buried-valve",
                    severity="fault" if buried else "warning",
                    parts=(body.name, holder),
                    at=vector(body.solid.centroid),
                    message=(
                        f"{body.name} is {'buried in' if buried else 'hidden behind'} {holder}: "
                        f"no hand gets to it to {made.hand} it"
                    ),
                    remedy=f"move it to where {name} is open, or leave an opening for a hand over it",
                )


def _channels(model: Model, run: str) -> list[str]:
    """Return the backgrounds that have a channel for a run."""
    return [
        built.part.name
        for built in model.backgrounds
        if any(channel.follow == run for channel in built.part.channels)
    ]
