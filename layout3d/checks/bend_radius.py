"""A tube bent tighter than it allows: it kinks, and the flow is gone."""

from __future__ import annotations

from collections.abc import Iterator

from layout3d.checks.base import Finding, rule
from layout3d.checks.measure import length, runs
from layout3d.model.model import Model

__all__ = ["bend_radii"]


@rule("bend-radius", asks="Tubes bend no tighter than their kind allows.")
def bend_radii(model: Model) -> Iterator[Finding]:
    """Find tubes whose bends are too tight."""
    for name, run in runs(model):
        if not run.flexible or run.bend >= run.least_bend - 1e-9:
            continue
        bends = [element for element in run.elements if len(element.path) > 2]
        if not bends:
            continue
        middle = bends[0].path[len(bends[0].path) // 2]
        source = model.scene.catalog.tube(run.size).source
        yield Finding(
            rule="bend-radius",
            severity="fault",
            parts=(name,),
            measured=run.bend,
            limit=run.least_bend,
            unit="m",
            at=middle,
            message=(
                f"{name} bends with {length(model, run.bend)} radius; {run.size} allows "
                f"{length(model, run.least_bend)} ({source})"
            ),
            remedy=f"give it {length(model, run.least_bend)} or more, or use elbows",
        )
