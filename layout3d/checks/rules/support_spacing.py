"""Pipe that runs too far without anything that holds it."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from layout3d.checks.base import Finding, Findings, rule
from layout3d.checks.measure import judged, length, limit, port_named, runs
from layout3d.errors import LayoutError
from layout3d.model.beds import bed_height
from layout3d.model.model import Model
from layout3d.parts.base import Vector, vector
from layout3d.parts.run_data import RunData

STEP = 0.005
"""A run is looked at every so far, [m]."""
UPRIGHT = 0.98
"""A leg counts as upright if it rises by this share of its length: within 11 degrees of plumb."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """The longest stretch of a run that nothing holds.

    ``measured`` counts its level part in full, or past the last support by the share that may hang over, and
    its upright part by the share that the table allows, [m]; ``upright`` is that part's own length. ``begin``
    and ``end`` are distances along the run, [m]; ``free`` is where it hangs over: 'before', 'past' or ''.
    """

    measured: float
    upright: float
    begin: float
    end: float
    middle: Vector
    body: str
    free: str = ""


@rule(
    "support-spacing",
    asks="Rigid pipe is held often enough: by ports, clips, cups, or the slab it lies in.",
    limits=("support_spacing_share", "support_spacing_upright", "support_overhang", "rest_gap"),
)
def support_spacing(model: Model) -> Findings:
    """Find the longest stretch of each run that nothing holds."""
    share = limit(model, "support_spacing_share")
    for name, run in runs(model):
        if run.flexible:
            continue
        try:
            allowed, source = model.scene.catalog.support_spacing(run.size)
        except LayoutError as unknown:
            yield Finding(
                severity="warning",
                parts=(name,),
                message=f"how often {run.size} of {name} has to be held is not known: {unknown.found}",
                remedy="ask the pipe's maker",
            )
            continue
        span = longest_span(model, name, run)
        if span is None:
            yield Finding(
                parts=(name,),
                at=run.start,
                message=f"nothing holds {name}: it joins no port, has no support, and lies in or on nothing",
                remedy=f"give {name} `supports:`, or start it at a port",
            )
            continue
        upright = f", {length(span.upright)} of it upright" if span.upright > STEP else ""
        how, counted = "without a support", ""
        if span.free:
            how = f"free {'before its first' if span.free == 'before' else 'past its last'} support"
            counted = f" (counted as {length(span.measured)}, limit support_overhang)"
        yield from judged(
            model,
            span.measured,
            allowed,
            share * allowed,
            most=True,
            parts=(span.body,),
            at=span.middle,
            says=f"{name} runs {length(span.end - span.begin)} {how}{upright}{counted}",
            told=f" for {run.size} ({source})",
            remedy=f"hold it about {length((span.begin + span.end) / 2)} along the run",
        )


def longest_span(model: Model, name: str, run: RunData) -> Span | None:
    """Return the longest stretch that nothing holds; None where nothing holds the run at all.

    A run is held at ports it starts or ends at, at its supports, where it lies on or in the ground, and
    wherever a background is foamed around it or has a channel for it.
    """
    points = np.array([point for element in run.elements for point in element.path])
    steps = np.linalg.norm(np.diff(points, axis=0), axis=1)
    along = np.concatenate([[0.0], np.cumsum(steps)])
    upright = np.abs(np.diff(points[:, 2])) > UPRIGHT * steps
    counted = 1.0 / limit(model, "support_spacing_upright")
    total = float(along[-1])
    held = [support.along for support in run.supports]
    if run.start_port:
        held.append(0.0)
    if run.end_port or port_named(model, getattr(model.built[name].part, "end_at", "") or "-"):
        held.append(total)
    marks = np.concatenate([np.clip(held, 0.0, total), _lying(model, name, run, points, along)])
    if not len(marks):
        return None
    marks = np.unique(marks)
    first, last = float(marks[0]), float(marks[-1])
    marks = np.unique(np.concatenate([[0.0, total], marks]))
    hang = limit(model, "support_overhang")

    def weighed(low: float, high: float) -> tuple[float, float]:
        """Return a stretch as it counts, and its upright part as it is, [m]."""
        shares = np.clip(np.minimum(along[1:], high) - np.maximum(along[:-1], low), 0.0, None)
        standing = float(shares[upright].sum())
        level = float(shares.sum()) - standing
        return (level / hang if high <= first or low >= last else level) + counted * standing, standing

    spans = [(*weighed(low, high), low, high) for low, high in itertools.pairwise(marks.tolist())]
    measured, standing, low, high = max(spans)
    middle = (low + high) / 2
    at = vector([float(np.interp(middle, along, points[:, axis])) for axis in range(3)])
    ends = np.cumsum([len(element.path) for element in run.elements])
    index = int(np.searchsorted(ends, np.searchsorted(along, middle), side="right"))
    body = run.elements[min(index, len(run.elements) - 1)].body
    free = "before" if high <= first else "past" if low >= last else ""
    return Span(
        measured=measured,
        upright=standing,
        begin=low,
        end=high,
        middle=at,
        body=body,
        free=free,
    )


def _lying(
    model: Model, name: str, run: RunData, points: NDArray[np.float64], along: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return marks along the run where its middle lies in a slab that hides it, or it lies on the ground."""
    count = max(2, int(along[-1] / STEP) + 1)
    marks = np.linspace(0.0, along[-1], count)
    places = np.column_stack([np.interp(marks, along, points[:, axis]) for axis in range(3)])
    held = np.zeros(count, dtype=bool)
    for built in model.backgrounds:
        if name not in built.data.hides:
            continue
        for slab in built.data.slabs:
            held |= slab.holds(places)
    radius = max(element.outside for element in run.elements if element.kind == "pipe") / 2
    low = places[:, 2] - radius
    inside = (model.tank.room(places) > 0) & (places[:, 2] > 0)
    ground = bed_height(model)(places[:, 0], places[:, 1])
    held |= inside & (low <= ground + limit(model, "rest_gap"))
    found: NDArray[np.float64] = marks[held]
    return found
