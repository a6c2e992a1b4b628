"""A run that ends open where it would spray or drain the tank, and is not told to end so."""

from __future__ import annotations

from collections.abc import Iterator

from layout3d.checks.base import Finding, Severity, rule
from layout3d.checks.leads import Opening, openings_of
from layout3d.checks.measure import ROUNDING, length, runs
from layout3d.checks.rules.plugged import FLOOD
from layout3d.flow.waters import ABOVE, sump_at
from layout3d.model.model import Model
from layout3d.parts.base import Vector

__all__ = ["open_ends", "within"]


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
    found = None if model.tank.holds(point) else sump_at(model, point)
    return 0.0 if found is None else point[2] - found[1].rim


def within(model: Model, point: Vector) -> bool:
    """Tell whether a point lies over or in the tank's or a sump's plan, not below its floor."""
    if model.tank.holds(point) and point[2] <= model.tank.height + ABOVE + ROUNDING:
        return True
    found = sump_at(model, point)
    return found is not None and point[2] <= found[1].rim + ABOVE + ROUNDING
