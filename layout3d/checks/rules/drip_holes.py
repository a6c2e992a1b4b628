"""Drip holes: too near each other, too small, with no way out, dry, or giving unevenly."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator

import numpy as np

from layout3d.checks.base import Finding, Severity, rule
from layout3d.checks.flow_at import behind_top, hole_of
from layout3d.checks.measure import judged, length, limit, missing, runs, worded
from layout3d.flow.orifice import hold_head
from layout3d.flow.result import BarRun, HoleRun
from layout3d.flow.running import running
from layout3d.flow.water import water_of
from layout3d.model.model import Model
from layout3d.parts.base import Body, Vector, vector
from layout3d.parts.run_data import DripHole, Element
from layout3d.solid.contain import inside

__all__ = [
    "clogging_holes",
    "drip_hole_spacing",
    "drip_holes_blocked",
    "dry_holes",
    "free_way",
    "uneven_bars",
]

FACETS = 2e-4
"""What a round channel drawn with flat sides may take of the way, [m]."""


@rule(
    "drip-hole-spacing",
    asks="Drip holes keep apart, so that the pipe between them holds.",
    limits=("drip_hole_spacing_diameters", "drip_hole_spacing_least"),
)
def drip_hole_spacing(model: Model) -> Iterator[Finding]:
    """Find the two nearest holes of each pipe, middle to middle, if they are too near."""
    diameters = limit(model, "drip_hole_spacing_diameters")
    least_diameters = limit(model, "drip_hole_spacing_least")
    for name, run in runs(model):
        for element in run.elements:
            if len(element.holes) < 2:
                continue
            apart, first, second = _nearest(element)
            diameter = max(element.holes[first].diameter, element.holes[second].diameter)
            yield from judged(
                model,
                apart,
                diameters * diameter,
                least_diameters * diameter,
                parts=(element.body,),
                at=vector((np.array(element.holes[first].at) + element.holes[second].at) / 2),
                says=f"two drip holes of {element.body} are {length(apart)} apart",
                told=" (limit drip_hole_spacing_diameters)",
                remedy=f"drill {name} with a larger `pitch:`, `angles:` further apart, or smaller holes",
            )


def _nearest(element: Element) -> tuple[float, int, int]:
    """Return the least distance of two holes, straight, [m], and their indices."""
    points = np.array([hole.at for hole in element.holes])
    apart = np.linalg.norm(points[:, None] - points[None], axis=2)
    np.fill_diagonal(apart, np.inf)
    first, second = np.unravel_index(int(apart.argmin()), apart.shape)
    return float(apart[first, second]), int(first), int(second)


@rule("drip-hole-blocked", asks="Each drip hole has a free way straight out.", limits=("drip_hole_way",))
def drip_holes_blocked(model: Model) -> Iterator[Finding]:
    """Find drip holes that face something too near, told together for each pipe and what blocks it."""
    wanted = limit(model, "drip_hole_way")
    for name, run in runs(model):
        for element in run.elements:
            blocked: dict[str, list[tuple[float, Vector]]] = defaultdict(list)
            for hole, way, body in _ways(model, element, wanted):
                if missing(way, wanted - FACETS):
                    blocked[body].append((way, hole.at))
            for body, found in sorted(blocked.items()):
                yield from _facing(model, name, element, body, found)


def _facing(
    model: Model, run: str, element: Element, body: str, found: list[tuple[float, Vector]]
) -> Iterator[Finding]:
    way, where = min(found)
    holes = f"{len(found)} of {len(element.holes)} drip holes" if len(element.holes) > 1 else "the drip hole"
    verb = "face" if len(found) > 1 else "faces"
    free = worded(way, "{} from the pipe", "that lies right on the pipe")
    yield from judged(
        model,
        way,
        "drip_hole_way",
        parts=(element.body, body),
        at=where,
        says=f"{holes} of {element.body} {verb} {body}, {free}",
        remedy=f"turn the holes of {run} (`angles:`), or cut {body} away in front of them",
    )


def _ways(model: Model, element: Element, reach: float) -> Iterator[tuple[DripHole, float, str]]:
    """Return each hole whose way is blocked within ``reach``, its free way, [m], and what blocks it."""
    if not element.holes:
        return
    ends = np.array([np.add(hole.at, np.multiply(reach, hole.direction)) for hole in element.holes])
    starts = np.array([hole.at for hole in element.holes])
    low = np.minimum(starts, ends).min(axis=0)
    high = np.maximum(starts, ends).max(axis=0)
    near = [
        body
        for body in model.bodies
        if body.name != element.body
        and body.kind != "foliage"
        and bool((body.solid.bounds[0] <= high).all() and (body.solid.bounds[1] >= low).all())
    ]
    for hole in element.holes:
        found = [(free_way(body, hole, reach), body.name) for body in near]
        way, name = min(found, default=(reach, ""))
        if way < reach:
            yield hole, way, name


def free_way(body: Body, hole: DripHole, reach: float) -> float:
    """Return how far a straight way out of a hole is free of a body, at most ``reach``, [m].

    The way begins a hair off the pipe: what is cut around the pipe touches it.
    """
    start = np.array(hole.at) + 1e-5 * np.array(hole.direction)
    if inside(body.solid, start[None])[0]:
        return 0.0
    end = np.array(hole.at) + reach * np.array(hole.direction)
    hits = body.solid.manifold.ray_cast(vector(start), vector(end))
    return float(np.linalg.norm(np.array(hits[0].position) - hole.at)) if hits else reach


@rule(
    "drip-clog",
    asks="Drip holes are wide enough to stay open.",
    limits=("drip_hole_diameter", "drip_hole_diameter_least"),
)
def clogging_holes(model: Model) -> Iterator[Finding]:
    """Find the smallest hole of each pipe, if it is too small."""
    wanted, least = limit(model, "drip_hole_diameter"), limit(model, "drip_hole_diameter_least")
    for name, run in runs(model):
        for element in run.elements:
            if not element.holes:
                continue
            smallest = min(element.holes, key=lambda hole: hole.diameter)
            closes = missing(smallest.diameter, least)
            count = sum(bool(missing(hole.diameter, wanted)) for hole in element.holes)
            yield from judged(
                model,
                smallest.diameter,
                "drip_hole_diameter_least" if closes else "drip_hole_diameter",
                least,
                parts=(element.body,),
                at=smallest.at,
                says=f"{count} of {len(element.holes)} drip holes of {element.body} clog: the smallest is "
                f"{length(smallest.diameter)}, {{miss}}",
                remedy=f"drill {name} with {length(wanted)} or more, fewer holes for the same flow, and put "
                "a strainer before the pump",
            )


@rule("drip-dry", asks="Every drip hole that hangs on a running pump gives water.")
def dry_holes(model: Model) -> Iterator[Finding]:
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


@rule(
    "drip-even",
    asks="The holes of a drip bar give alike, and their area is small beside the bore's.",
    limits=("drip_hole_area_ratio", "drip_variation", "drip_variation_most"),
)
def uneven_bars(model: Model) -> Iterator[Finding]:
    """Find uneven bars; one with dry holes is told by drip-dry alone."""
    usual, most = limit(model, "drip_variation"), limit(model, "drip_variation_most")
    wide = limit(model, "drip_hole_area_ratio")
    for bar in running(model).bars:
        if bar.count("dry", "holds"):
            continue
        spread, ratio = bar.variation, bar.bar.area_ratio
        strongest = max(bar.holes, key=lambda hole: hole.flow.likely)
        weakest = min(bar.holes, key=lambda hole: hole.flow.likely)
        severe = spread.likely > most
        name, bound = ("drip_variation_most", most) if severe else ("drip_variation", usual)
        if spread.likely > usual:
            yield Finding(
                severity="fault" if severe else "warning",
                parts=(bar.run, bar.body),
                measured=spread.likely,
                limit=bound,
                unit="",
                at=hole_of(model, bar, weakest.number).at,
                message=f"the holes of {bar.body} vary by {spread.likely:.0%} ({spread.low:.0%} to "
                f"{spread.high:.0%}), over {bound:.0%} (limit {name}, common practice): hole "
                f"{strongest.number} gives {strongest.flow.likely / weakest.flow.likely:.1f} times hole "
                f"{weakest.number}; their area is {ratio:.2f} of the bore's",
                remedy="use a wider pipe, fewer or smaller holes, feed the bar in its middle, or set it "
                "level",
            )
        elif ratio > wide:
            yield Finding(
                severity="warning",
                parts=(bar.run, bar.body),
                measured=ratio,
                limit=wide,
                unit="",
                at=hole_of(model, bar, 1).at,
                message=f"the holes of {bar.body} have {ratio:.2f} of the bore's area, over {wide:.2f} "
                f"(limit drip_hole_area_ratio, common practice): they vary by {spread.likely:.0%} as drawn, "
                "and by more as slime builds up",
                remedy=f"drill holes of {(wide / ratio) ** 0.5:.0%} of their diameter or {wide / ratio:.0%} "
                "of their count, or use a wider pipe",
            )
