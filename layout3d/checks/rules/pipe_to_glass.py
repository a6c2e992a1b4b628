"""The gap between pipework and glass: pipe that lies on the glass rubs, and nothing gets behind it."""

from __future__ import annotations

from layout3d.checks.base import Findings, rule
from layout3d.checks.measure import Through, gaps_below, is_pipe, limit, missing, too_near
from layout3d.model.model import Model
from layout3d.solid.distance import gap


@rule(
    "pipe-to-glass",
    asks="Pipes, tubes and fittings keep a gap to the tank's panes and braces.",
    limits=("pipe_to_glass", "pipe_to_glass_least"),
    follows=("overlap",),
)
def pipes_to_glass(model: Model) -> Findings:
    """Find pipework too near the glass; at its own pane, a pipe is measured beside its hole."""
    wanted = limit(model, "pipe_to_glass")
    through = Through(model)
    pipes = [body for body in model.such(is_pipe) if body.kind != "bulkhead"]
    glasses = [body for body in model.bodies_of(model.tank_name) if body.kind in ("panel", "brace")]
    for pipe, glass, _ in gaps_below(model, pipes, glasses, wanted):
        rest = through.rest(pipe, glass)
        between = gap(rest, glass.solid) if rest is not None else None
        if between is None or not missing(between.distance, wanted):
            continue
        remedy = f"move {pipe.part} {{short}} away from the glass"
        limits = "pipe_to_glass", "pipe_to_glass_least"
        yield from too_near(model, pipe, glass, between, *limits, remedy=remedy)
