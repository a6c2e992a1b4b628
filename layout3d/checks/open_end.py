"""A run that ends open where it would spray or drain the tank, and is not told to end so."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from layout3d.checks.base import Finding, Severity, rule
from layout3d.checks.leads import Opening, openings_of
from layout3d.checks.measure import ROUNDING, length, runs
from layout3d.checks.plugged import FLOOD
from layout3d.model.model import Model
from layout3d.parts.base import Vector
from layout3d.parts.sump_data import SumpData

__all__ = ["open_ends", "within"]

ABOVE = 1.0
"""An end this far over the rim of tank or sump still runs into it, [m]; more is no pipe's end but a fall."""


@rule(
    "open-end", asks="A run ends in a fitting, in a port, or open over the tank or the sump.", caution=FLOOD
)
def open_ends(model: Model) -> Iterator[Finding]:
    """Find ends of runs, branches of tees and drip holes that are open outside tank and sump.

    An end behind a closed valve is a note. A branch that is open over the tank or the sump is a warning: it
    may be a vent, or forgotten.
    """
    for name, _ in runs(model):
        told: set[str] = set()
        for opening in openings_of(model, name):
            branch = opening.words.startswith("the branch")
            outside = not within(model, opening.at)
            high = _over_rim(model, opening.at)
            if not branch and high > 0 and opening.words not in told:
                told.add(opening.words)
                yield _splashes(model, name, opening, high)
            if opening.words in told or not (outside or branch):
                continue
            told.add(opening.words)
            yield _finding(name, opening, branch=branch, outside=outside)


def _finding(name: str, opening: Opening, *, branch: bool, outside: bool) -> Finding:
    where = "outside the tank and the sump" if outside else "and nothing joins it"
    closed = f"; {opening.valve} holds it closed" if opening.valve else ""
    severity: Severity = "note" if opening.valve else "fault" if outside else "warning"
    if branch:
        remedy = f"start a run at {opening.words.removeprefix('the branch ')}, or take the tee out"
    elif opening.words.startswith("a drip hole"):
        remedy = "lead the drip holes over the tank, or take them out"
    else:
        remedy = "end it in a port (`join:`), in a cap, or over the tank or sump"
    return Finding(
        rule="open-end",
        severity=severity,
        parts=(name, opening.body) if opening.body != name else (name,),
        at=opening.at,
        message=f"{opening.words} is open {where}{closed}",
        remedy=remedy,
    )


def _splashes(model: Model, name: str, opening: Opening, high: float) -> Finding:
    return Finding(
        rule="open-end",
        severity="warning",
        parts=(name, opening.body) if opening.body != name else (name,),
        measured=high,
        limit=0.0,
        unit="m",
        at=opening.at,
        message=f"{opening.words} is open {length(model, high)} above the sump's rim: it splashes over it",
        remedy=f"bring it {length(model, high)} lower, or more",
    )


def _over_rim(model: Model, point: Vector) -> float:
    """Return how far a point lies above the rim of a sump it is over, [m]; 0 in the tank, or over none."""
    if point[2] > 0.0 and _in_tank(model, point):
        return 0.0
    sumps = [built.data for built in model.of_kind("sump") if isinstance(built.data, SumpData)]
    return max((point[2] - sump.rim for sump in sumps if _over_sump(sump, point)), default=0.0)


def within(model: Model, point: Vector) -> bool:
    """Tell whether a point lies over or in the tank's or a sump's plan, not below its floor."""
    if _in_tank(model, point) and point[2] <= model.tank.height + ABOVE + ROUNDING:
        return True
    return any(
        _over_sump(built.data, point) for built in model.of_kind("sump") if isinstance(built.data, SumpData)
    )


def _in_tank(model: Model, point: Vector) -> bool:
    """Tell whether a point lies inside the tank's walls and over its floor, however high."""
    return all(
        float(np.dot(np.subtract(point, panel.origin), panel.inward)) >= -ROUNDING
        for panel in model.tank.panels.values()
    )


def _over_sump(sump: SumpData, point: Vector) -> bool:
    """Tell whether a point lies over a sump's inside, in the sump's own axes: it may be turned."""
    local = sump.interior.placement.inverse().apply(np.array([point]))[0]
    low, high = sump.interior.shape.bounds
    most = high + np.array([0.0, 0.0, ABOVE]) + ROUNDING
    return bool(np.all(local >= low - ROUNDING)) and bool(np.all(local <= most))
