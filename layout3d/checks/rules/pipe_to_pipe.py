"""The gap between pipes that are not joined: where they touch they rub, and no foam gets between."""

from __future__ import annotations

from layout3d.checks.base import Findings, rule
from layout3d.checks.measure import Joins, gaps_below, is_pipe, limit, too_near
from layout3d.model.model import Model

NEXT = 3
"""So many joins along the pipework two bodies belong together: the pipes on either side of a fitting, and a
run that starts at a tee beside the pipes of that tee."""


@rule(
    "pipe-to-pipe",
    asks="Pipes, tubes and fittings that are not joined keep a gap to each other.",
    limits=("pipe_to_pipe", "pipe_to_pipe_least"),
    follows=("overlap",),
)
def pipes_to_pipes(model: Model) -> Findings:
    """Find pipework too near other pipework; what lies next to a body along its own way is let off."""
    wanted = limit(model, "pipe_to_pipe")
    joins = Joins(model)
    bodies = model.such(is_pipe)
    pipes = {body.name for body in bodies}
    remedy = "move one of them {short} away from the other"
    for a, b, between in gaps_below(model, bodies, bodies, wanted):
        if {a.kind, b.kind} != {"bulkhead"} and b.name not in _next_to(joins, pipes, a.name):
            yield from too_near(model, a, b, between, "pipe_to_pipe", "pipe_to_pipe_least", remedy=remedy)


def _next_to(joins: Joins, pipes: set[str], name: str) -> set[str]:
    """Return the bodies that are reached from one by a few joins along the pipework."""
    seen, edge = {name}, {name}
    for _ in range(NEXT):
        edge = joins.of(*edge, how=("socket", "barb")) & pipes - seen
        seen |= edge
    return seen
