"""The gap between pipework and glass: pipe that lies on the glass rubs, and nothing gets behind it."""

from __future__ import annotations

from collections.abc import Iterator

from layout3d.checks.base import Finding, rule
from layout3d.checks.measure import crowding, gaps_below, judged, limit, missing
from layout3d.checks.through_glass import Through
from layout3d.model.model import Model
from layout3d.parts.base import Body
from layout3d.solid.distance import gap

__all__ = ["pipes_to_glass"]

HOLDERS = ("clip", "suction_cup", "bulkhead")


@rule(
    "pipe-to-glass",
    asks="Pipes, tubes and fittings keep a gap to the tank's panes and braces.",
    limits=("pipe_to_glass", "pipe_to_glass_least"),
    follows=("overlap",),
)
def pipes_to_glass(model: Model) -> Iterator[Finding]:
    """Find pipework too near the glass; at its own pane, a pipe is measured beside its hole."""
    wanted = limit(model, "pipe_to_glass")
    through = Through(model)

    def is_pipe(body: Body) -> bool:
        return body.group == "plumbing" and body.kind not in HOLDERS

    def is_glass(body: Body) -> bool:
        return body.part == model.tank_name and body.kind in ("panel", "brace")

    for pipe, glass, _ in gaps_below(model, is_pipe, is_glass, wanted):
        rest = through.rest(pipe, glass)
        between = gap(rest, glass.solid) if rest is not None else None
        if between is None or not missing(between.distance, wanted):
            continue
        near = crowding(pipe, glass, between)
        yield from judged(
            model,
            near.distance,
            "pipe_to_glass",
            "pipe_to_glass_least",
            parts=(pipe.name, glass.name),
            at=near.at,
            says=f"{pipe.name} {near.words} {glass.name}",
            remedy=f"move {pipe.part} {{short}} away from the glass",
        )
