"""Drip holes that give nothing: no head reaches them, or surface tension holds the drop."""

from __future__ import annotations

from layout3d.checks.base import Finding, Findings, Severity, rule
from layout3d.checks.flow_words import behind_top, hole_of
from layout3d.checks.measure import length
from layout3d.flow.orifice import hold_head
from layout3d.flow.result import BarRun, HoleRun
from layout3d.flow.running import running
from layout3d.flow.water import water_of
from layout3d.model.model import Model


@rule("drip-dry", asks="Every drip hole that hangs on a running pump gives water.")
def dry_holes(model: Model) -> Findings:
    """Find bars with holes that are dry: a fault at likely losses, a warning where only that may be."""
    for bar in running(model).bars:
        dry = [hole for hole in bar.holes if hole.state in ("dry", "holds")]
        doubtful = [hole for hole in bar.holes if hole.flow.low <= 0.0]
        if bar.crest is not None:
            yield behind_top(
                bar.crest,
                f"{bar.bar.count} drip holes of {bar.body}",
                parts=(bar.run, bar.body),
                at=hole_of(model, bar, 1).at,
                others="other branches",
            )
        elif dry:
            yield _finding(model, bar, dry, "fault", "")
        elif doubtful:
            yield _finding(model, bar, doubtful, "warning", "may ")


def _finding(model: Model, bar: BarRun, dry: list[HoleRun], severity: Severity, may: str) -> Finding:
    water = water_of(model)
    # the one that lacks least would run first
    first = max(dry, key=lambda hole: hole.head - hold_head(hole.diameter, water=water))
    needs = hold_head(first.diameter, water=water)
    lacks = needs - first.head
    head = f"{length(first.head)} of head{' at likely losses' if may else ''}"
    short = f": {length(lacks)} of head short" if lacks > 0.0 else ""
    return Finding(
        severity=severity,
        parts=(bar.run, bar.body),
        measured=first.head,
        limit=needs,
        at=hole_of(model, bar, first.number).at,
        message=f"{len(dry)} of {bar.bar.count} drip holes of {bar.body} {may}give nothing; hole "
        f"{first.number} has {head} and a drop breaks off at {length(needs)}{short}",
        remedy="set the bar level, feed it with more head (pump speed, other branches throttled), or drill "
        "fewer holes, so that each has more head",
    )
