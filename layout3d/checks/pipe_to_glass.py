"""The gap between pipework and glass: pipe that lies on the glass rubs, and nothing gets behind it."""

from __future__ import annotations

from collections.abc import Iterator

from layout3d.checks.base import Finding, Severity, rule
from layout3d.checks.measure import at, gaps_below, length, limit, neighbours
from layout3d.model.model import Model
from layout3d.parts.base import Body

__all__ = ["pipes_to_glass"]

HOLDERS = ("clip", "suction_cup", "bulkhead")


@rule("pipe-to-glass", asks="Pipes, tubes and fittings keep a gap to the tank's glass.")
def pipes_to_glass(model: Model) -> Iterator[Finding]:
    """Find pipework too near the glass; the pipe that goes through a hole is let off at its own pane."""
    wanted, least = limit(model, "pipe_to_glass"), limit(model, "pipe_to_glass_least")
    through = _through(model)

    def is_pipe(body: Body) -> bool:
        return body.group == "plumbing" and body.kind not in HOLDERS

    def is_glass(body: Body) -> bool:
        return body.part == model.tank_name and body.kind == "panel"

    for pipe, glass, between in gaps_below(model, is_pipe, is_glass, wanted):
        if (pipe.name, glass.name) in through:
            continue
        severity: Severity = "fault" if between.distance < least else "warning"
        short = wanted - between.distance
        yield Finding(
            rule="pipe-to-glass",
            severity=severity,
            parts=(pipe.name, glass.name),
            measured=between.distance,
            limit=wanted,
            unit="m",
            at=at(between.at_a),
            message=(
                f"{pipe.name} is {length(model, between.distance)} from {glass.name}: {length(model, short)} short "
                f"of {length(model, wanted)} (limit pipe_to_glass)"
            ),
            remedy=f"move {pipe.part} {length(model, short)} away from the glass",
        )


def _through(model: Model) -> set[tuple[str, str]]:
    """Return the pipes that sit in a bulkhead, each with the pane of that bulkhead."""
    pairs = set()
    for body in model.bodies_of(model.tank_name):
        if body.kind != "bulkhead":
            continue
        joined = neighbours(model, body.name)
        panes = [name for name in joined if name.startswith(f"{model.tank_name}.")]
        pairs |= {(name, pane) for name in joined for pane in panes}
    return pairs
