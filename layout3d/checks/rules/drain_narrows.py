"""Drains that get narrower on their way down: what came in by the wide end sticks where that ends."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import accumulate

from layout3d.checks.base import FLOOD_TEST, Finding, Findings, rule
from layout3d.checks.measure import length
from layout3d.model.model import Model
from layout3d.parts.base import vector
from layout3d.pipework.graph import Edge, Mouth
from layout3d.pipework.read import pipework

ALIKE = 0.95
"""Bores of one size with thin and thick walls count as one from this ratio, [-]."""


@rule(
    "drain-narrows",
    asks="A drain gets no narrower on the way down, nor ends in a nozzle or a strainer.",
    caution=FLOOD_TEST,
)
def drain_narrows(model: Model) -> Findings:
    """Find pipe in drains that is narrower than pipe before it, and ends that hold back what comes down.

    Plumbing codes forbid it for drainage (International Plumbing Code, 704.2, from memory, check before
    relying on it): leaves and snails that passed the wider pipe stop at its end. Behind a strainer, which
    lets none of them in, it is a warning.
    """
    told: set[str] = set()
    for part in pipework(model).parts:
        for mouth, (end, *_), way in part.ways_down(model.tank_name):
            if end.kind in ("nozzle", "strainer") and end.body not in told:
                told.add(end.body)
                yield Finding(
                    severity="warning" if mouth.kind == "strainer" else "fault",
                    parts=(end.body,),
                    at=end.at,
                    message=f"the drain out of {model.tank_name} by {mouth.words} ends in a {end.kind}: what "
                    "passes its pipe sticks there",
                    remedy=f"let {end.part} end open, and keep leaves out by a strainer in the tank",
                )
            pipes = [edge for edge in way.edges if edge.kind == "pipe"]
            widest: Iterator[Edge] = accumulate(
                pipes, lambda wide, pipe: pipe if pipe.bore >= wide.bore else wide
            )
            for wide, pipe in zip(widest, pipes, strict=True):
                if pipe.bore < ALIKE * wide.bore and pipe.body not in told:
                    told.add(pipe.body)
                    yield _narrows(model, mouth, wide, pipe)
                    break


def _narrows(model: Model, mouth: Mouth, wide: Edge, narrow: Edge) -> Finding:
    return Finding(
        severity="warning" if mouth.kind == "strainer" else "fault",
        parts=(wide.body, narrow.body),
        measured=narrow.bore,
        limit=wide.bore,
        at=vector(model.body(narrow.body).solid.centroid),
        message=f"the drain out of {model.tank_name} by {mouth.words} narrows from {length(wide.bore)} of "
        f"bore in {wide.body} to {length(narrow.bore)} in {narrow.body}, by "
        f"{length(wide.bore - narrow.bore)}: what passes the one sticks before the other",
        remedy=f"go on with pipe as wide as {wide.body} to the end, or begin narrower, behind a strainer",
    )
